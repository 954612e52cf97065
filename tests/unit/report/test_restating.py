"""What a restatement says of each figure, and in which order it lets the causes in."""

from __future__ import annotations

import datetime as dt
import itertools
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace

import pytest

from planner.figures import FigureRegister
from planner.report import restatement
from planner.report.issues import Issue
from planner.report.restatement import CAUSES, _compared, _split, restate

NOON = dt.datetime(2026, 7, 1, 12)
DAY = dt.timedelta(days=1)


def register(**values):
    made = FigureRegister("Town", "2025-26", "1")
    for name, value in values.items():
        made.put(name, name, value, "t", "By hand.")
    return made


@pytest.mark.parametrize("values", list(itertools.permutations((100.0, 90.0, 140.0, 130.0))))
def test_shares_of_the_causes_add_up_to_the_change(values):
    causes = ["corrected rows", "version", "corrected rows"]
    found = _split(list(values), causes, 0.05)
    assert sum(found[cause] for cause in CAUSES) == pytest.approx(found["change"])
    assert found["version"] == values[2] - values[1]
    assert found["change"] == values[-1] - values[0]


@pytest.mark.parametrize(
    ("issued", "today", "is_material"),
    [(100.0, 106.0, True), (100.0, 94.0, True), (100.0, 104.9, False), (-100.0, -94.0, True),
     (100.0, 105.2, True), (100.0, None, True), (None, 3.0, True)],
)  # fmt: skip
def test_a_change_is_material_from_its_share_of_what_was_issued_up_or_down(
    issued, today, is_material
):
    assert _split([issued, today], ["new rows"], 0.05)["is_material"] == is_material


def test_a_figure_that_differs_has_a_row_and_one_of_the_same_digits_has_none():
    then = register(same=40.0, last_bits=40.0, more=40.0, gone=3.0)
    now = register(same=40.0, last_bits=40.0 * (1.0 + 1e-12), more=40.0001, new=5.0)
    rows = _compared([then, now], ["new rows"], 0.05)
    assert rows["figure_id"].to_list() == ["more", "gone", "new"]
    assert rows["change"].to_list() == [pytest.approx(0.0001), None, None]


def issue_of(**what):
    given = {
        "number": 1,
        "issued_on": "2026-07-01",
        "reporting_year": "2025-26",
        "through_date": "",
        "version": "older",
        "draws_count": 1,
        "seed": 1,
        "program_file": "then",
        "factors": "then",
        "loads": {},
        "records": {"answers": "then"},
    }
    return Issue(**{**given, **what})  # fmt: skip


def test_causes_come_one_after_the_other_and_each_leaves_those_before_as_they_are_now(monkeypatch):
    """Version, published factors, program file, corrected rows, new rows."""
    seen, folder = [], Path("town")
    copies = iter([Path("rewound"), Path("corrected")])

    @contextmanager
    def copied(_):
        yield next(copies)

    def estimated(place, program, table, _):
        seen.append((place.name, program.words, table))
        return register(fed_t=float(len(seen)))

    settings = SimpleNamespace(materiality_share=0.05)
    for name, found in {
        "open_program": lambda _: SimpleNamespace(words="now", reporting=settings),
        "read_program": lambda _: SimpleNamespace(words="then"),
        "read_factors": lambda *place: "then" if place else "now",
        "issued_register": lambda *_: register(fed_t=0.0),
        "_records": lambda place: {"answers": "now" if place == folder else "then"},
        "copied": copied,
        "rewind": lambda *_: None,
        "keep_keys": lambda *_: None,
        "keys_of": lambda _: {},
        "digest": lambda _: "now",
        "factors_digest": lambda: "now",
        "estimated": estimated,
    }.items():
        monkeypatch.setattr(restatement, name, found)
    rows = restate(folder, issue_of(), register(fed_t=9.0), NOON, lambda _: None)
    assert seen == [
        ("rewound", "then", "then"),
        ("rewound", "then", "now"),
        ("rewound", "now", "now"),
        ("corrected", "now", "now"),
    ]
    assert rows.select(CAUSES).row(0) == (1.0, 1.0, 1.0, 1.0, 5.0)


@pytest.mark.parametrize(("through", "as_of"), [("2026-03-31", dt.date(2026, 3, 31)), ("", None)])
def test_an_issue_is_estimated_again_up_to_its_own_last_day(monkeypatch, through, as_of):
    class AskedError(Exception):
        """Carries what was asked."""

    @contextmanager
    def opened(*_, **__):
        yield None

    def count_year(_store, _program, label, day):
        raise AskedError(label, day)

    end = dt.date(2026, 7, 1)
    program = SimpleNamespace(months=lambda _: (dt.date(2025, 7, 1), end))
    monkeypatch.setattr(restatement, "open_store", opened)
    monkeypatch.setattr(restatement, "count_year", count_year)
    with pytest.raises(AskedError) as asked:
        restatement.estimated(Path("town"), program, None, issue_of(through_date=through))
    assert asked.value.args == ("2025-26", as_of or end)
