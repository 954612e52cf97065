"""The officer's spreadsheet of pairs: written for a decision, read back with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter

from planner.cells import put_record
from planner.errors import IntakeError
from planner.intake.sheets import read_sheets
from planner.messages import in_each_language, say, some_of
from planner.store.files import write_owned
from planner.store.queries import read_query, record_key
from planner.tables import TABLES
from planner.workbooks import file_bytes, offer, set_landscape

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.store.opening import Store
    from planner.store.writing import Writer


DECISIONS = ("same", "different")
MOST_PAIRS = 5000
"""More than an officer decides; the likeliest come first, the rest after them."""

HEADINGS = {
    "decision": ("duplicates.column.decision", 12),
    "score": ("duplicates.column.score", 11),
    "reasons": ("duplicates.column.reasons", 46),
    "household_id_kept": ("duplicates.column.household_id_kept", 18),
    "name_kept": ("duplicates.column.name", 24),
    "address_kept": ("duplicates.column.address", 32),
    "registered_kept": ("duplicates.column.registered", 12),
    "bins_kept": ("duplicates.column.bins", 6),
    "household_id_other": ("duplicates.column.household_id_other", 18),
    "name_other": ("duplicates.column.name", 24),
    "address_other": ("duplicates.column.address", 32),
    "registered_other": ("duplicates.column.registered", 12),
    "bins_other": ("duplicates.column.bins", 6),
}
HEADING_ROW = 2
READ = ("household_id_kept", "household_id_other", "decision")
"""Columns that are read back, under their headings in any language."""

TWO_LINES = 29.0
"""Height of a row, in points."""

SCORE_PLACE = list(HEADINGS).index("score") + 1
OTHER_PLACE = list(HEADINGS).index("household_id_other") + 1
HEADING_COLOUR, OTHER_COLOUR = "DDE5D3", "F1E4D6"


def write_pairs(path: Path, pairs: pl.DataFrame) -> None:
    """Write pairs for a decision, readable by their owner alone."""
    book = Workbook()
    sheet = book.active
    sheet.title = say("duplicates.sheet")
    _write_headings(sheet)
    shown = pairs.head(MOST_PAIRS).with_columns(decision=pl.lit(None, pl.String))
    for number, row in enumerate(shown.select(*HEADINGS).iter_rows(), HEADING_ROW + 1):
        for place, content in enumerate(row, 1):
            _put(sheet.cell(number, place), content)
        sheet.cell(number, SCORE_PLACE).number_format = "0%"
        sheet.row_dimensions[number].height = TWO_LINES
    below = range(HEADING_ROW + 1, HEADING_ROW + shown.height + 1)
    offer(sheet, 1, below, DECISIONS, say("duplicates.offered"))
    write_owned(path, file_bytes(book))


def _write_headings(sheet: Worksheet) -> None:
    """Write the note and the headings, and set the page for print: one page wide."""
    _put(sheet.cell(1, 1), say("duplicates.note"))
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(HEADINGS))
    sheet.row_dimensions[1].height = sheet.row_dimensions[HEADING_ROW].height = TWO_LINES
    for place, (heading, width) in enumerate(HEADINGS.values(), 1):
        _put(sheet.cell(HEADING_ROW, place), say(heading))
        sheet.cell(HEADING_ROW, place).font = Font(bold=True)
        colour = OTHER_COLOUR if place >= OTHER_PLACE else HEADING_COLOUR
        sheet.cell(HEADING_ROW, place).fill = PatternFill("solid", fgColor=colour)
        sheet.column_dimensions[get_column_letter(place)].width = width
    set_landscape(sheet, HEADING_ROW)
    sheet.freeze_panes = sheet.cell(HEADING_ROW + 1, 2)


def read_decisions(path: Path) -> pl.DataFrame:
    """Read the pairs that the officer has decided.

    Returns
    -------
    DataFrame
        household_id_kept, household_id_other, decision.

    Raises
    ------
    IntakeError
        The file is not there, is no such spreadsheet, or a decision is neither of the two.
    """
    if not path.is_file():
        raise IntakeError(say("duplicates.fail.no_file", file=str(path)), path=str(path))
    sheets, _ = read_sheets(path)
    rows = sheets[0].cells.drop("row_number").rows() if sheets else []
    wanted = [in_each_language(HEADINGS[name][0]) for name in READ]
    heads = [[str(cell or "").strip().lower() for cell in row] for row in rows]
    start = next((n for n, row in enumerate(heads) if all(set(row) & set(w) for w in wanted)), None)
    if start is None:
        names = ", ".join(say(HEADINGS[name][0]) for name in READ)
        message = say("duplicates.fail.no_heading", file=str(path), names=names)
        raise IntakeError(message, path=str(path))
    places = [next(n for n, head in enumerate(heads[start]) if head in words) for words in wanted]
    cells = [[_text(row, place) for place in places] for row in rows[start + 1 :]]
    decided = pl.DataFrame(
        cells,
        schema=dict.fromkeys(READ, pl.String),
        orient="row",
    ).with_columns(pl.col("decision").str.to_lowercase(), row=pl.int_range(pl.len()) + start + 2)
    _check(path, decided)
    return decided.filter(pl.col("decision") != "").drop("row")


def _check(path: Path, decided: pl.DataFrame) -> None:
    is_known = pl.col("decision").is_in(["", *DECISIONS])
    has_ids = (pl.col("household_id_kept") != "") & (pl.col("household_id_other") != "")
    wrong = decided.filter(~is_known | ((pl.col("decision") != "") & ~has_ids))
    if wrong.is_empty():
        return
    lines = [say("duplicates.fail.decisions", wrong.height, file=str(path))]
    for row, found in wrong.select("row", "decision").head(20).iter_rows():
        lines.append("  " + say("duplicates.fail.decision", row=str(row), found=found))
    raise IntakeError("\n".join(lines), path=str(path))


def _put(cell: Cell, content: object) -> None:
    put_record(cell, content)
    beside = "left" if isinstance(content, str) else "center"
    cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal=beside)


def _text(row: tuple[object, ...], place: int) -> str:
    return str(row[place]).strip() if place < len(row) and row[place] is not None else ""


_NAMED = 10


@dataclass(frozen=True)
class Merged:
    """What became of the officer's decisions."""

    load_id: str | None  # load that stands for them; None where nothing was new
    households_count: int = 0  # households that went into another
    different_count: int = 0  # pairs that stay apart
    # records that moved, by table; those of which the household kept had one already, as an answer
    # in the same round
    moved: tuple[tuple[str, int], ...] = ()
    kept_in_history: tuple[tuple[str, int], ...] = ()


def merge_decided(
    store: Store, writer: Writer, decided: pl.DataFrame, file: str, sha256: str
) -> Merged:
    """Merge the pairs decided "same" and note those decided "different".

    Records of the second household move to the first, which keeps its own where both have
    one; the household that registered first stays of several. What is replaced goes to
    the history.

    Raises
    ------
    IntakeError
        A household is not in the register, or decisions contradict each other.
    """
    if decided.is_empty() or not store.query("loads_of_content", sha256=sha256).is_empty():
        return Merged(None)
    households = store.records("households")
    _check_registered(decided, households)
    into = _into(decided.filter(decision="same"), households)
    different = decided.filter(decision="different")
    _check_consistent(different, into)
    load_id = writer.begin_load(file, sha256)
    writer.note(load_id, read_query("record_decisions"), different)
    if into.is_empty():
        return Merged(load_id, 0, different.height)
    writer.note(load_id, read_query("record_merges"), into)
    moves = [
        (table, *_move(store, writer, load_id, table, into))
        for table in TABLES
        if "household_id" in TABLES[table].column_names()
        and table not in ("households", "contacts")
    ]
    _merge_registrations(store, writer, load_id, into)
    return Merged(
        load_id,
        into.height,
        different.height,
        tuple((table, moved) for table, moved, _ in moves if moved),
        tuple((table, kept) for table, _, kept in moves if kept),
    )


def _check_registered(decided: pl.DataFrame, households: pl.DataFrame) -> None:
    named = pl.concat([decided["household_id_kept"], decided["household_id_other"]]).unique()
    unknown = named.filter(~named.is_in(households["household_id"].implode())).sort()
    if unknown.is_empty():
        return
    names = some_of(unknown.to_list(), _NAMED)
    raise IntakeError(say("duplicates.fail.unknown", len(unknown), names=names))


def _into(same: pl.DataFrame, households: pl.DataFrame) -> pl.DataFrame:
    """For each household that goes, the one it goes into: the first registered of its group.

    Pairs that share a household make one group, however long the chain.
    """
    order = households.sort("registered_date", "household_id")["household_id"]
    index = pl.DataFrame({"household_id": order}).with_row_index("place")
    ends = [
        same.join(index, left_on=side, right_on="household_id", maintain_order="left")["place"]
        for side in ("household_id_kept", "household_id_other")
    ]
    links = scipy.sparse.coo_array(
        (np.ones(same.height), (ends[0].to_numpy(), ends[1].to_numpy())),
        shape=(len(order), len(order)),
    )
    _, group = scipy.sparse.csgraph.connected_components(links, directed=False)
    grouped = index.with_columns(group=pl.Series(group)).with_columns(
        household_id_kept=pl.col("household_id").first().over("group")
    )
    return grouped.filter(pl.col("household_id") != pl.col("household_id_kept")).select(
        "household_id", "household_id_kept"
    )


def _check_consistent(different: pl.DataFrame, into: pl.DataFrame) -> None:
    """Refuse a pair that is to stay apart while others make it one."""
    ends = different
    for side in ("household_id_kept", "household_id_other"):
        goes = into.rename({"household_id": side, "household_id_kept": f"{side}_into"})
        ends = ends.join(goes, on=side, how="left").with_columns(
            pl.col(f"{side}_into").fill_null(pl.col(side))
        )
    against = ends.filter(pl.col("household_id_kept_into") == pl.col("household_id_other_into"))
    if against.is_empty():
        return
    first, second = against.select("household_id_kept", "household_id_other").row(0)
    pair = {"first": first, "second": second}
    raise IntakeError(say("duplicates.fail.against", count=against.height, **pair))


def _move(
    store: Store, writer: Writer, load_id: str, table: str, into: pl.DataFrame
) -> tuple[int, int]:
    """Move the records of a table; count those that moved and those that could not."""
    records, key = store.records(table), TABLES[table].primary_key()
    going = records.join(into, on="household_id", maintain_order="left")
    moved = going.with_columns(household_id="household_id_kept").select(records.columns)
    if "household_id" not in key:
        writer.write(load_id, table, moved)
        return moved.height, 0
    free = moved.join(records, on=key, how="anti", maintain_order="left").unique(
        key, keep="first", maintain_order=True
    )
    writer.write(load_id, table, free)
    _withdraw(writer, load_id, table, going.select(key))
    return free.height, moved.height - free.height


def _merge_registrations(store: Store, writer: Writer, load_id: str, into: pl.DataFrame) -> None:
    """Bring what only the second registration tells to the first, and withdraw the second."""
    households = store.records("households")
    group = pl.coalesce("household_id_kept", "household_id")
    members = households.join(into, on="household_id", how="left").with_columns(group=group)
    kept = members.filter(pl.col("household_id_kept").is_null()).drop("household_id_kept")
    # one that asked not to be contacted is not contacted under its other number
    consent = members.group_by("group").agg(pl.col("may_contact").all())
    changed = kept.drop("may_contact").join(consent, on="group")
    changed = changed.join(into, left_on="household_id", right_on="household_id_kept", how="semi")
    writer.write(load_id, "households", changed.select(households.columns))
    _merge_contacts(store, writer, load_id, into)
    _withdraw(writer, load_id, "households", into.select("household_id"))


def _merge_contacts(store: Store, writer: Writer, load_id: str, into: pl.DataFrame) -> None:
    contacts = store.records("contacts")
    going = contacts.join(into, on="household_id", maintain_order="left")
    if going.is_empty():
        return
    found = ("email", "phone")
    others = going.group_by("household_id_kept").agg(
        pl.col(name).drop_nulls().first().alias(f"{name}_other") for name in found
    )
    kept = contacts.join(others, left_on="household_id", right_on="household_id_kept")
    filled = kept.with_columns(pl.coalesce(name, f"{name}_other").alias(name) for name in found)
    writer.write(load_id, "contacts", filled.select(contacts.columns))
    _withdraw(writer, load_id, "contacts", going.select("household_id"))


def _withdraw(writer: Writer, load_id: str, table: str, keys: pl.DataFrame) -> None:
    for parts in keys.select(pl.all().cast(pl.String)).iter_rows():
        writer.withdraw(load_id, table, record_key(parts))
