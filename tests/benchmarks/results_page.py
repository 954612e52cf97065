"""Where a study keeps its table: between the two marks of its name in README.md beside it."""

from __future__ import annotations

from pathlib import Path

RESULTS = Path(__file__).with_name("README.md")


def write_table(name: str, table: str) -> None:
    """Put the table of a study in the place of its last.

    Raises
    ------
        SystemExit: the page has no place for a study of that name.
    """
    begin, end = f"<!-- {name}: begin -->", f"<!-- {name}: end -->"
    before, _, rest = RESULTS.read_text("utf-8").partition(begin)
    if end not in rest:
        raise SystemExit(f"{RESULTS}: expected {begin} and {end}")
    after = rest.partition(end)[2]
    RESULTS.write_text(f"{before}{begin}\n\n{table.strip()}\n\n{end}{after}", "utf-8")


def table_of(name: str) -> str:
    """Give the table of a study as it stands."""
    text = RESULTS.read_text("utf-8")
    return text.partition(f"<!-- {name}: begin -->")[2].partition(f"<!-- {name}: end -->")[0]
