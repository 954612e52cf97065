"""Ordering: quantities, dates and the cheapest purchase plan."""
