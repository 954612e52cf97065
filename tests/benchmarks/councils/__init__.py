"""A study of many simulated councils: designs, one council, results kept, their table."""
