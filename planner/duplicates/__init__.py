"""Registrations likely to be one household: proposed, decided by the officer, merged."""
