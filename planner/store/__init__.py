"""The store: one DuckDB file of records, and one of personal details beside it."""
