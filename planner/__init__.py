"""Plan, run and account for a council's worm-bin giveaway."""

__version__ = "0.1.0"
