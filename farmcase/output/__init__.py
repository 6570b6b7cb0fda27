"""Comes in: a case and an outcome.
Goes out: tables, charts and papers; they show results and compute none.
May import: every floor above it, and its own modules.
"""
