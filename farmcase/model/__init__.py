"""Comes in: a case, and scenarios as a table of paths and values.
Goes out: an `Outcome` of each build by month, its measures, or a table of measures by scenario.
May import: every floor above it; it alone knows them all.
"""
