"""The project's queries: one SQL file each, with a header that says what it is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from planner.paths import QUERIES
from planner.tables import TABLES

if TYPE_CHECKING:
    from pathlib import Path

# A long list goes on in further lines, set in by four places or more.
_FIELD = re.compile(r"^-- (grain|params|reads|feeds):[ \t]*(.*(?:\n--[ \t]{4,}.*)*)$", re.MULTILINE)
_TITLE = re.compile(r"^-- (\w+): (.+)$", re.MULTILINE)
_PLACEHOLDER = re.compile(r"\{(\w+)\}")
_FIELDS = ("grain", "params", "reads", "feeds")


@dataclass(frozen=True)
class Query:
    """One statement and what its header says of it.

    Attributes
    ----------
    name, folder
        Name of the file without its ending; folder of queries/ in which it lies.
    title
        What one run gives, in a line.
    grain, params, reads, feeds
        What a row is; names of values; tables or views read; who uses it.
    text
        The whole file.
    """

    name: str
    folder: str
    title: str
    grain: tuple[str, ...]
    params: tuple[str, ...]
    reads: tuple[str, ...]
    feeds: tuple[str, ...]
    text: str

    @property
    def unordered(self) -> str:
        """The text without its last ordering, which costs time where another query reads it."""
        return self.text.rpartition("\norder by ")[0] or self.text

    def fill(self, **parts: str) -> str:
        """Put names of tables and columns in the places that the text leaves open.

        Parts come from planner.tables alone, never from an officer's file.

        Raises
        ------
        KeyError
            The text has a place for which no part is given.
        """
        return _PLACEHOLDER.sub(lambda place: parts[place[1]], self.text)


def tables_of(name: str) -> frozenset[str]:
    """Name the record tables that a query reads, through the views that it reads.

    Examples
    --------
    >>> sorted(tables_of("costs_by_category"))
    ['costs']
    """
    found: set[str] = set()
    for read in read_query(name).reads:
        found |= tables_of(read) if read in _paths() else {read}
    return frozenset(found & set(TABLES))


@cache
def _paths() -> dict[str, Path]:
    return {path.stem: path for path in sorted(QUERIES.glob("*/*.sql"))}


@cache
def read_query(name: str) -> Query:
    """Read one query by its name.

    Raises
    ------
    KeyError
        No file of queries/ has that name.
    ValueError
        The header lacks a line.

    Examples
    --------
    >>> read_query("load_ids").reads
    ('loads', 'undone_loads')
    """
    path = _paths()[name]
    text = path.read_text(encoding="utf-8")
    title = _TITLE.search(text)
    fields = dict(_FIELD.findall(text))
    lacking = [field for field in _FIELDS if field not in fields]
    if title is None or title[1] != name or lacking:
        message = f"{path}: the header lacks {', '.join(lacking) or 'its own name'}"
        raise ValueError(message)
    grain, params, reads, feeds = (_names(fields[field]) for field in _FIELDS)
    return Query(name, path.parent.name, title[2], grain, params, reads, feeds, text)


def folder_queries(folder: str) -> tuple[Query, ...]:
    """Read the queries of one folder, in the order of their names."""
    return tuple(read_query(name) for name, path in _paths().items() if path.parent.name == folder)


def _names(listed: str) -> tuple[str, ...]:
    names = listed.replace("\n--", " ").split(",")
    return tuple(name.strip() for name in names if name.strip())
