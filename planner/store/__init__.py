"""The store: one DuckDB file of records, and one of personal details beside it."""

from planner.store.backup_list import newest_backup
from planner.store.erasing import Erased
from planner.store.keeping import (
    Restored,
    back_up,
    erase_households,
    restore_backup,
    retain_contacts,
)
from planner.store.keys import key_warning, make_key, protect_key, read_key, recovery_sheet
from planner.store.migrations import utc_now
from planner.store.opening import Store, open_store
from planner.store.queries import Query, read_query, record_key
from planner.store.undoing import Undone, list_loads, undo_load, withdraw_record
from planner.store.writing import Writer, writing

__all__ = [
    "Erased",
    "Query",
    "Restored",
    "Store",
    "Undone",
    "Writer",
    "back_up",
    "erase_households",
    "key_warning",
    "list_loads",
    "make_key",
    "newest_backup",
    "open_store",
    "protect_key",
    "read_key",
    "read_query",
    "record_key",
    "recovery_sheet",
    "restore_backup",
    "retain_contacts",
    "undo_load",
    "utc_now",
    "withdraw_record",
    "writing",
]
