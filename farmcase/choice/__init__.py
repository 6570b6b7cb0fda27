"""Comes in: a case and its outcome, all builds and carrying on as now.
Goes out: the builds as steps from one to the next, and what would change the choice.
May import: every floor above it, and its own modules.
"""
