"""What is due: days ahead and what is late, a calendar of them, and a pack for a successor."""
