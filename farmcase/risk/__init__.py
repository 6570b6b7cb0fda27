"""Comes in: a case and its one table of inputs with low, likely and high.
Goes out: how a measure moves when inputs move: tornado, and a grid of price and yield.
May import: every floor above it, and its own modules.
"""
