"""Comes in: the sizes of containers, rooms and racks as plain numbers.
Goes out: floor areas, volumes, places, how full a room is, and the floor plan.
May import: errors, compiled, words, inputs, and its own modules.
"""
