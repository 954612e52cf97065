"""Intake: the officer's spreadsheets become checked rows, and refusals with their place."""
