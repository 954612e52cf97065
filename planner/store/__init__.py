"""The store: one DuckDB file of records, and one of personal details beside it."""

from planner.store.opening import Store, open_store
from planner.store.queries import Query, all_queries, read_query
from planner.store.writing import Writer, writing

__all__ = ["Query", "Store", "Writer", "all_queries", "open_store", "read_query", "writing"]
