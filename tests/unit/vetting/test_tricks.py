"""Spreadsheets that somebody made to mislead end in a sentence, or are read as people see them."""

from __future__ import annotations

import io
import json
import os
import pickle
import sys
import types

import polars as pl
import pytest

from planner.errors import IntakeError
from planner.vetting import guard
from planner.vetting.workbook import read_workbook
from tests.benchmarks.outsider import TRUTH
from tests.benchmarks.outsider_files import tricks

HEAVY = ("filled rows", "a thousand sheets", "a bomb", "entries of the same bytes")
CASES = {
    f"{kind}: {name}": trick
    for kind in ("xlsx", "ods")
    for name, trick in tricks(kind)
    if not any(word in name for word in HEAVY)
}
REFUSED = {
    "xlsx: merged over its rows": "merged cells hide a value in cell B2",
    "xlsx: merged down a column": "merged cells hide a value in cell C4",
    "ods: covered cells": "merged cells hide a value in cell B5",
    "xlsx: archive: another sum": "sheet1.xml is damaged",
    "xlsx: archive: 'XL/WORKSHEETS/SHEET1.XML' as well": "two of its parts have one name",
    "xlsx: archive: 'xl\\\\worksheets\\\\sheet1.xml' as well": "two of its parts have one name",
    "xlsx: archive: a part twice": "two of its parts have one name",
    "xlsx: archive: a size of 4 GiB": "it unpacks to 4,096 MiB",
    "xlsx: archive: no size": "holds more than it claims",
    "xlsx: archive: a rare method": "packed in a rare way",
    "xlsx: a link to another book": "links to other files",
    "ods: a source elsewhere": "links to other files",
}


@pytest.mark.parametrize("name", CASES)
def test_a_trick_is_refused_or_read_as_a_person_sees_it(name, tmp_path):
    trick = CASES[name]
    path = tmp_path / trick.name
    path.write_bytes(trick.content)
    try:
        told, *streams = read_workbook(str(path))
    except IntakeError as error:
        sentence = str(error)
    else:
        sentence = ""
        assert name not in REFUSED
    if sentence:
        assert sentence.startswith(trick.name)
        assert REFUSED.get(name, "") in sentence
        return
    assert len(json.loads(told)["sheets"]) == len(streams)
    rows = [row for one in streams for row in pl.read_ipc_stream(io.BytesIO(one)).rows()]
    shown = {row[0]: row for row in rows if row and (row[0] or "").startswith("C")}
    assert set(shown) <= {row[0] for row in TRUTH}
    if trick.rows is not None:
        for cost, _, kind, amount in trick.rows:
            assert shown[cost][2] == kind
            assert shown[cost][3] in (str(amount), f"{amount:g}") or "number" in name


@pytest.mark.parametrize(
    ("ending", "kind"),
    [
        (IntakeError("rows.xlsx: found nothing."), guard.REFUSED),
        (MemoryError(), guard.TOO_LARGE),
        (ValueError("capacity overflow"), guard.TOO_LARGE),
        (KeyboardInterrupt(), guard.BROKEN),
    ],
)
def test_the_process_tells_how_its_task_ended_and_limits_itself(monkeypatch, ending, kind):
    def task(words):
        yield words
        raise ending

    module = types.ModuleType("task_of_test")
    module.task = task
    monkeypatch.setitem(sys.modules, "task_of_test", module)
    limits, set_limits = guard.Limits(2**40, 10, 20), {}
    given = pickle.dumps((limits, "en_GB", "task_of_test", "task", (b"one",)))
    reading, writing = os.pipe()
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(buffer=io.BytesIO(given)))
    monkeypatch.setattr(guard.os, "dup", lambda _: writing)
    monkeypatch.setattr(guard.os, "dup2", lambda *_: None)
    resource = pytest.importorskip("resource")
    monkeypatch.setattr(resource, "setrlimit", lambda what, most: set_limits.update({what: most}))
    guard.main()
    with os.fdopen(reading, "rb") as answer:
        told = answer.read()
    assert told.startswith(guard.FRAME.pack(guard.RESULT, 3) + b"one")
    assert told[guard.FRAME.size + 3 :][:1] == kind
    if not guard.missing_limits():
        assert set_limits[resource.RLIMIT_CPU][0] <= limits.cpu_seconds
        assert set_limits[resource.RLIMIT_CORE] == (0, 0)
