"""Fuzz intake for long: random bytes, damaged workbooks and random cells, by the thousand.

Run: python -m tests.benchmarks.fuzz_intake --cases 3000 --seed 1

Prints how many files were read, how many refused, and every case that broke a law, with
its bytes kept for a test.
"""

from __future__ import annotations

import argparse
import collections
import csv
import datetime as dt
import io
import os
import re
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

import openpyxl
import polars as pl
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from planner.errors import IntakeError
from planner.intake.cells import plain_words
from planner.intake.layout import FILLED_IN_LATER
from planner.intake.problems import faults
from planner.intake.reading import read_files
from planner.intake.rows import Rows
from planner.intake.sheets import _layout
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import Program, read_program
from planner.tables import TABLES, codes
from tests.unit.intake.told import sentences

LOCALES = ("en_GB", "en_US", "de_DE", "fr_FR", "es_ES", "sv_SE", "de_CH", "hu_HU")
CASE_SECONDS = 20
LOADED_ON = dt.date(2026, 7, 1)

_WORDS = st.sampled_from(
    [
        "", " ", "1", "2.5", "2,5", "1.234", "1,234.5", "0", "-3", "1e999", "NaN", "inf", "H1",
        "A1", "a1", "W1", "E1", "B1", "yes", "no", "ja", "x", "1/3/2025", "31/2/2025", "2025-03-04",
        "45750", "3.4.25", "99/99/9999", "0000-00-00", "total", "Total:", "example", "bins", "flat",
        "none", "two_tray", "=1+1", "@SUM(A1)", "#N/A", "#MOVED 1", "#TWICE H1", "Note: see below",
        "12 Mill Lane, J. Smith", "50 g", "2-3", "85%", "£1,200.00", "\u2212", "\u00a0", "\ufeff",
        '"', "'", "\t", "a\nb", "L0001, row 2", "ﬁ", "١٢", "💧", "\ud7ff", "x" * 300,
    ]
)  # fmt: skip
_CELLS = st.one_of(_WORDS, st.text(max_size=6))
_HEADINGS = st.sampled_from(["", "notes", "refused as", "fed (g)", "food lb", "kg", "total", "=x"])


@st.composite
def _rows(draw: st.DrawFn) -> tuple[str, list[list[str]]]:
    """Draw a table's headings, some lost, moved or added, over rows of any cells."""
    table = draw(st.sampled_from(sorted(TABLES)))
    names = TABLES[table].column_names()
    kept = draw(st.permutations(names)) if draw(st.booleans()) else list(names)
    if draw(st.integers(0, 9)) == 0:
        kept = kept[:-1]
    headings = [*kept, *draw(st.lists(_HEADINGS, max_size=2))]
    good = {name: codes(table, name) for name in names}
    above = draw(st.lists(st.lists(_CELLS, max_size=3), max_size=2))
    rows = [
        [
            draw(st.sampled_from(good[name])) if good.get(name) and draw(st.booleans()) else cell
            for name, cell in zip(headings, cells, strict=False)
        ]
        for cells in draw(st.lists(st.lists(_CELLS, max_size=len(headings) + 2), max_size=6))
    ]
    return table, [*above, headings, *rows]


@st.composite
def sheets_of_cells(draw: st.DrawFn) -> tuple[str, bytes]:
    """Draw a workbook or text file of a table with any cells."""
    table, rows = draw(_rows())
    kind = draw(st.sampled_from(["xlsx", "ods", "csv"]))
    if kind == "xlsx":
        return f"{table}.xlsx", _workbook({table: rows})
    if kind == "ods":
        return f"{table}.ods", _ods(table, rows, draw)
    separator = draw(st.sampled_from([",", ";", "\t"]))
    ends = draw(st.sampled_from([["\n"], ["\r\n"], ["\r"], ["\n", "\r\n", "\r"]]))
    lines = [
        separator.join(_quoted(cell, separator, draw) for cell in row) + draw(st.sampled_from(ends))
        for row in rows
    ]
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16"]))
    return f"{table}.csv", "".join(lines).encode(encoding, errors="replace")


_ODS_SPACES = " ".join(
    f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
    for name in ("office", "table", "text", "manifest")
)
_REPEATS = st.sampled_from(["", "", "", "1", "2", "0", "-1", "70", "1000000", "99999999999"])


def _ods(table: str, rows: list[list[str]], draw: st.DrawFn) -> bytes:
    """Write an .ods file, some of its rows and cells repeated."""
    written = []
    for row in rows:
        cells = "".join(_ods_cell(cell, draw) for cell in row)
        times = draw(_REPEATS)
        repeat = f' table:number-rows-repeated="{times}"' if times else ""
        written.append(f"<table:table-row{repeat}>{cells}</table:table-row>")
    content = (
        f"<office:document-content {_ODS_SPACES}><office:body><office:spreadsheet>"
        f'<table:table table:name="{table}">{"".join(written)}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", f"<manifest:manifest {_ODS_SPACES}/>")
        archive.writestr("content.xml", content.encode("utf-8", errors="replace"))
    return packed.getvalue()


def _ods_cell(cell: str, draw: st.DrawFn) -> str:
    times = draw(_REPEATS)
    repeat = f' table:number-columns-repeated="{times}"' if times else ""
    if not cell:
        return f"<table:table-cell{repeat}/>"
    kind = draw(st.sampled_from(["string", "float", "date", "boolean", "percentage"]))
    value = {"float": "value", "percentage": "value", "date": "date-value"}.get(kind, "")
    text = escape(openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.sub("", cell))
    held = f" office:{value}={quoteattr(text)}" if value else ""
    return (
        f'<table:table-cell{repeat} office:value-type="{kind}"{held}>'
        f"<text:p>{text}</text:p></table:table-cell>"
    )


def _quoted(cell: str, separator: str, draw: st.DrawFn) -> str:
    risky = separator in cell or '"' in cell or "\n" in cell
    if risky and draw(st.integers(0, 4)):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def _workbook(sheets: dict[str, list[list[str]]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for number, row in enumerate(rows, start=1):
            for place, cell in enumerate(row, start=1):
                _write(sheet, number, place, cell)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def _write(sheet: object, row: int, column: int, cell: str) -> None:
    text = openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.sub("", cell)
    try:
        sheet.cell(row, column, float(text) if text.replace(".", "", 1).isascii() else text)
    except ValueError:
        sheet.cell(row, column, text)


@st.composite
def broken_files(draw: st.DrawFn) -> tuple[str, bytes]:
    """Draw any bytes under any name, or a good file with bytes or parts of it changed."""
    way = draw(st.sampled_from(["any", "bytes", "parts", "parts", "cut"]))
    if way == "any":
        name = draw(st.sampled_from(["a.csv", "costs.csv", "a.xlsx", "a.ods", "a.tsv", "a.xlsm"]))
        return name, draw(st.binary(max_size=400))
    name, content = draw(sheets_of_cells())
    if way == "cut":
        return name, content[: _place(content, draw)]
    if way == "parts" and not name.endswith(".csv"):
        return name, _with_changed_part(content, draw)
    changed = bytearray(content)
    for _ in range(draw(st.integers(1, 8)) if content else 0):
        changed[min(_place(content, draw), len(content) - 1)] = draw(st.integers(0, 255))
    return name, bytes(changed)


def _place(content: bytes, draw: st.DrawFn) -> int:
    """Draw a place as a share of the length: a workbook's own length varies with the clock."""
    return len(content) * draw(st.integers(0, 10_000)) // 10_000


_SNIPPETS = st.sampled_from(
    [
        b"<c r='ZZZ1'><v>1</v></c>", b"</row>", b"<row r='0'>", b'<c r="A0"><v>1</v></c>', b"<",
        b'<c r="A-1" t="s"><v>99999</v></c>', b'<c t="b"><v>maybe</v></c>', b"]]>", b"&#0;",
        b"\xff",
        b'<c r="B2" t="d"><v>2025-99-99</v></c>', b'<c r="A2" s="999"><v>1e400</v></c>', b"",
        b'<c r="A2" t="e"><v>#BAD</v></c>', b'<c r="C3"><f>1/</f></c>', b"<mergeCell ref='A1:'/>",
        b"<text:s text:c='9'/>", b"<table:table-cell office:value-type='float'/>", b"<text:p/>",
        b"<table:table-row table:number-rows-repeated='3'>", b"<table:table table:name='x'>",
    ]
)  # fmt: skip


def _with_changed_part(content: bytes, draw: st.DrawFn) -> bytes:
    """Write something into one part of a workbook and pack it again."""
    changed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(changed, "w") as new:
        hit = draw(st.sampled_from(sorted(old.namelist())))
        for name in old.namelist():
            part = old.read(name)
            if name == hit:
                place = max(part.find(b"<", _place(part, draw)), 0)
                part = part[:place] + draw(_SNIPPETS) + part[place + draw(st.integers(0, 9)) :]
            new.writestr(name, part)
    return changed.getvalue()


def check_reading(program: Program, name: str, content: bytes) -> str:
    """Read one file and hold it to the laws; tell whether it was read or refused."""
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / name
        path.write_bytes(content)
        try:
            (file,) = read_files([path], program, _some_known, loaded_on=LOADED_ON)
        except IntakeError as error:
            return "refused" if str(error).startswith((name, str(path))) else "unnamed"
    if path.suffix == ".csv":
        assert lines_of_text(content) == file.sheets[0].source.cells.height
    for rows in file.sheets:
        check_fates(rows)
        TABLES[rows.table].validate(rows.good().drop("row_number"))
    told = file.problems()
    assert told.is_empty() == (not sentences(told))
    assert faults(told).lines["count"].sum() <= told.height
    return "read"


def lines_of_text(content: bytes) -> int:
    """Count the rows of a text file, blank ones at its end left out, by the standard library.

    Its reader is another than the planner's; only the separator is taken from it.
    """
    mark = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}.get(content[:2], "utf-8-sig")
    try:
        text = content.decode(mark, errors="replace" if mark == "utf-16" else "strict")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    head = re.split(r"\r\n?|\n", text[: 256 * 1024])[:30]
    usual = csv.field_size_limit(len(text) + 1)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=_layout(head, "")[0]))
    finally:
        csv.field_size_limit(usual)
    last = [n for n, row in enumerate(rows, 1) if any(map(str.strip, row))]
    return max(last, default=0)


def check_fates(rows: Rows) -> None:
    """Follow every row of the sheet by hand: taken, refused, or passed over for a reason."""
    good, refused = (set(of["row_number"]) for of in (rows.good(), rows.problems))
    assert not good & refused
    ends: collections.Counter[str] = collections.Counter()
    known = list(rows.headings.cells.values())
    several = [row[0] for row in rows.source.cells.iter_rows() if _is_several(row[1:])]
    last_of_several = max(several, default=0)
    for number, *cells in rows.source.cells.iter_rows():
        if number > rows.headings.row_number:
            named = dict(zip(rows.source.cells.columns[1:], cells, strict=True))
            later = rows.headings.cells.get(FILLED_IN_LATER.get(rows.table, ""))
            is_to_do = later is not None and not named[later]
            is_known = any(named[cell] for cell in known)
            taken = "good" if number in good else "refused" if number in refused else ""
            ends[taken or _passed(cells, is_known, is_to_do, number > last_of_several)] += 1
    assert ends["good"] == len(good)
    assert ends["refused"] == len(refused)
    assert ends["repeated"] == rows.repeated_count
    assert ends["skipped"] == rows.skipped_count
    assert ends.total() - ends["example"] == rows.rows_read


def _is_several(cells: tuple[str | None, ...]) -> bool:
    """Whether a row has more than one cell and adds up no others: none of it is a note."""
    filled = [cell for cell in cells if cell]
    is_total = bool(filled) and filled[0].lower().strip(" :*").startswith(plain_words("total"))
    return len(filled) > 1 and not is_total


def _passed(cells: list[str | None], is_known: bool, is_to_do: bool, is_under: bool) -> str:
    """Say why a row may be passed over; what has no such reason must repeat another."""
    filled = [cell for cell in cells if cell]
    if not filled or not is_known:
        return "skipped"
    first = filled[0].lower().strip(" :*")
    if first == "example":
        return "example"
    if is_to_do:
        return "skipped"
    is_note = is_under and len(filled) == 1 and re.search(r"\s|^\*|:$", filled[0])
    is_total = any(first.startswith(word) for word in plain_words("total"))
    return "skipped" if is_note or is_total else "repeated"


def _some_known(table: str) -> pl.DataFrame:
    keys = TABLES[table].primary_key()
    return pl.DataFrame({key: [f"{key[0].upper()}1"] for key in keys})


def main() -> None:
    """Run the cases in processes of a few hundred, so that a crash of a reader is seen."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=3000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--chunk", type=int, default=250)
    asked.add_argument("--one-chunk", action="store_true")
    given_options = asked.parse_args()
    if given_options.one_chunk:
        _run_chunk(given_options.cases, given_options.seed)
        return
    began = time.monotonic()
    ends: collections.Counter[str] = collections.Counter()
    for number in range(0, given_options.cases, given_options.chunk):
        words = ["--one-chunk", "--cases", str(given_options.chunk)]
        words += ["--seed", str(given_options.seed + number)]
        ended = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.fuzz_intake", *words],
            capture_output=True,
            text=True,
            check=False,
        )
        told = dict(line.split("=") for line in ended.stdout.split() if "=" in line)
        ends.update({name: int(count) for name, count in told.items()})
        if ended.returncode:
            ends["broke"] += 1
            sys.stdout.write(f"seed {given_options.seed + number}: {ended.stderr[-3000:]}\n")
    took = time.monotonic() - began
    sys.stdout.write(f"{dict(ends)} in {took:.0f} s\n")


def _run_chunk(cases: int, seed_of_chunk: int) -> None:
    program = read_program(TEMPLATES / PROGRAM_FILE)
    ends: collections.Counter[str] = collections.Counter()
    kept = Path(tempfile.gettempdir()) / f"fuzz-{seed_of_chunk}-{os.getpid()}"

    @seed(seed_of_chunk)
    @settings(
        max_examples=cases,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=list(HealthCheck),
    )
    @given(st.one_of(broken_files(), sheets_of_cells()))
    def one(file: tuple[str, bytes]) -> None:
        kept.write_bytes(f"{file[0]}\n".encode() + file[1])
        began = time.monotonic()
        ends[check_reading(program, *file)] += 1
        assert time.monotonic() - began < CASE_SECONDS

    one()
    kept.unlink(missing_ok=True)
    sys.stdout.write(" ".join(f"{name}={count}" for name, count in ends.items()) + "\n")


if __name__ == "__main__":
    main()
