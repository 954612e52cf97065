"""Ten workbooks of other people's making are looked at once, then loaded: what is right goes in.

The workbooks and the truth of each of their rows are written by tests/programs/messy/making.py,
through LibreOffice; three invented councils in three languages. A row with a fault must not be
taken in; of the others at least 95 in a hundred must be, with the values that are true.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import polars as pl
import pytest

from planner.intake.problems import faults
from planner.intake.questions import Answers
from planner.loading import load_files
from planner.looking import look_at_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.store.opening import open_store
from planner.tables import TABLES

pytestmark = pytest.mark.thorough

MESSY = Path(__file__).parent / "messy"
COUNCILS = {"fr": ("fr_FR", "EUR"), "es": ("es_ES", "EUR"), "en": ("en_AU", "AUD")}
LEAST_TAKEN = 0.95
TRUTH = pl.read_csv(MESSY / "truth.csv", infer_schema=False)


@pytest.fixture(scope="module", params=COUNCILS)
def loaded(request, tmp_path_factory):
    """Look at a council's workbooks, accept likely guesses and readings, and load them once."""
    folder = tmp_path_factory.mktemp(request.param)
    locale, currency = COUNCILS[request.param]
    text = (TEMPLATES / PROGRAM_FILE).read_text("utf-8").replace('"en_GB"', f'"{locale}"')
    (folder / PROGRAM_FILE).write_text(text.replace('"GBP"', f'"{currency}"', 1), "utf-8")
    files = sorted(MESSY.glob(f"{request.param}_*.*"))
    look_at_files(folder, files, Answers(), likely, keep=True)
    result = load_files(folder, files, confirm=lambda _: True)
    problems = pl.concat(file.problems for file in result.files)
    notes = (note for one in result.files for note in one.notes)
    said = [*faults(problems).lines["sentence"], *notes]
    truth = TRUTH.filter(pl.col("council") == request.param)
    with open_store(folder, read_only=True) as store:
        records = {
            " | ".join(
                (table, *map(str, (record[name] for name in TABLES[table].primary_key())))
            ): record
            for table in TABLES
            for record in store.records(table).iter_rows(named=True)
        }
    return said, truth, records


def likely(question):
    """Answer as one who presses Enter where a guess is offered."""
    return question.guess if question.likeness >= 0.4 else None


def test_rows_without_fault_are_taken_with_their_true_values(loaded):
    _, truth, records = loaded
    right = truth.filter(pl.col("values").is_not_null())
    lost = [
        (book, key)
        for book, table, key, values in right.select(
            "book", "table_name", "record_key", "values"
        ).iter_rows()
        if not is_true(records.get(f"{table} | {key}"), json.loads(values))
    ]
    assert len(lost) <= (1 - LEAST_TAKEN) * right.height, lost[:20]


def is_true(record, values):
    """Compare the values that the truth names."""
    if record is None:
        return False
    for name, value in values.items():
        found = record[name]
        if isinstance(value, float):
            if found != pytest.approx(value, rel=1e-6):
                return False
        elif (str(found) if isinstance(value, str) else found) != value:
            return False
    return True


def test_no_row_with_a_fault_is_taken(loaded):
    _, truth, records = loaded
    wrong = truth.filter(pl.col("values").is_null())
    assert wrong.height > 0
    keys = wrong.select(pl.concat_str("table_name", "record_key", separator=" | ")).to_series()
    assert [key for key in keys if key in records] == []


def test_refusals_and_notes_are_in_the_language_of_the_council(request, loaded):
    said, _, _ = loaded
    council = request.node.callspec.params["loaded"]
    # what stands between quotes is the council's own, what is with an underscore is ours
    plain = [re.sub(r'«[^»]*»|"[^"]*"|\S*[_.]\S*', "", sentence) for sentence in said]
    tongues = {
        "en": re.compile(r"\b(?:row|found|expected|not read|cells?)\b"),
        "fr": re.compile(r"\b(?:ligne|trouvé|attendu|non lue?|cellules?)\b"),
        "es": re.compile(r"\b(?:fila|encontró|espera|leíd[ao]|celdas?)\b"),
    }
    heard = {name for one in plain for name, words in tongues.items() if words.search(one)}
    assert len(plain) > 3
    assert heard == {council}


def test_there_are_ten_workbooks_and_none_is_written_by_a_library_alone():
    books = [path for path in MESSY.iterdir() if path.suffix in (".xlsx", ".ods")]
    assert len(books) == TRUTH["book"].n_unique() == 10
