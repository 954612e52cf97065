"""Diversion: bins in use × feed × landfill share, by month and area."""
