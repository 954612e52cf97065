"""The household sheet: what is said by planner.field, set as Word, page and letter."""
