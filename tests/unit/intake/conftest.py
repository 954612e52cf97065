"""A program, an empty store and files to read, for the tests of intake."""

from __future__ import annotations

import openpyxl
import polars as pl
import pytest

from planner.intake.reading import read_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.tables import TABLES


@pytest.fixture(scope="session")
def program():
    return read_program(TEMPLATES / PROGRAM_FILE)


def nothing_known(table):
    return pl.DataFrame(schema=dict.fromkeys(TABLES[table].primary_key(), pl.String))


@pytest.fixture
def read(tmp_path, program):
    """Read files given as {name: text} or {name.xlsx: {sheet: rows}}, with program parts."""

    def read_contents(contents, known=nothing_known, **parts):
        paths = []
        for name, content in contents.items():
            path = tmp_path / name
            paths.append(path)
            if isinstance(content, dict):
                write_book(path, content)
            elif isinstance(content, bytes):
                path.write_bytes(content)
            else:
                path.write_text(content, encoding="utf-8")
        return read_files(paths, program.model_copy(update=parts), known)

    return read_contents


def write_book(path, sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
