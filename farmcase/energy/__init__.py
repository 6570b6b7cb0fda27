"""Comes in: rooms, walls, plant, weather, crops, machines, vessels and tariffs as plain numbers.
Goes out: every hour of every room with its cohorts, kilowatt-hours, peaks, water, and the bill.
May import: errors, compiled, words, moist_air, inputs, climate, crop, and its own modules.
"""
