"""Comes in: kilograms, hours and costs by month, prices, rates, loans and grants, as arrays.
Goes out: sales by outlet, cash month by month, and the measures of return and break-even.
May import: errors, compiled, words, moist_air, inputs, climate, crop, energy, costs, own modules.
"""
