"""Comes in: machines and vessels by rated power, hours and duty, and the tariffs of carriers.
Goes out: kilowatt-hours by end use, carrier and month, peak power, water, and the bill.
May import: errors, compiled, words, inputs, climate, crop, and its own modules.
"""
