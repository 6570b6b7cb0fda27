"""Comes in: a case folder (case.toml and tables) and the reference tables.
Goes out: a frozen `Case`, its one table of all inputs, or a `CaseError` that lists every fault.
May import: errors, words, moist_air, and its own modules.
"""
