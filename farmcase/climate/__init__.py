"""Comes in: sizes of containers, rooms and racks, layers, sun and air as plain numbers and arrays.
Goes out: areas, places, U-values, faces and neighbours, sun on faces, fresh air, the floor plan.
May import: errors, compiled, words, moist_air, inputs, and its own modules.
"""
