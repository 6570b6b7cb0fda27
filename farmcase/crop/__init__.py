"""Comes in: places, days, limits, recipes and yields as plain numbers and arrays.
Goes out: units started, placed, lost and cleared, dry substrate by flush, and kilograms picked.
May import: errors, compiled, words, inputs, climate, and its own modules.
"""
