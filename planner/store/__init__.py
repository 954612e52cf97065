"""The store: one DuckDB file of records, and one of personal details beside it."""

from planner.store.keys import key_warning, make_key
from planner.store.migrations import utc_now
from planner.store.naming import record_key
from planner.store.opening import Store, open_store
from planner.store.queries import Query, all_queries, read_query
from planner.store.undoing import Undone, undo_load, withdraw_record
from planner.store.writing import Writer, writing

__all__ = [
    "Query",
    "Store",
    "Undone",
    "Writer",
    "all_queries",
    "key_warning",
    "make_key",
    "open_store",
    "read_query",
    "record_key",
    "undo_load",
    "utc_now",
    "withdraw_record",
    "writing",
]
