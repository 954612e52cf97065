"""Sizing: how many bins, to whom, for what, how sure."""
