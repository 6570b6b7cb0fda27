"""Comes in: rows of capital, work and running costs, as arrays, and what drives them.
Goes out: spending, replacements, book values, hours and costs by month.
May import: errors, compiled, words, moist_air, inputs, climate, crop, energy, and its own modules.
"""
