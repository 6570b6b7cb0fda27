"""Comes in: temperatures, places, days, limits, recipes and yields as plain numbers and arrays.
Goes out: units started, placed, lost and cleared, flushes by how full they were, kilograms picked.
May import: errors, compiled, words, moist_air, inputs, climate, and its own modules.
"""
