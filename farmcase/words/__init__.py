"""Comes in: names of inputs, measures, money lines, and numbers.
Goes out: labels and sentences for readers, in one place, so that they can be read and translated.
May import: errors and its own modules.
"""
