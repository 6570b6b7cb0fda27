"""Comes in: the sizes of containers, rooms and racks as plain numbers.
Goes out: floor areas, volumes, places and how full a room is.
May import: errors, compiled, words, inputs, and its own modules.
"""
