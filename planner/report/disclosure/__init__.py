"""Disclosure control: what is too small to show, and what is hidden to protect it."""
