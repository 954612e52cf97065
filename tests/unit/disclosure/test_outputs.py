"""Outputs of any two kinds, read side by side, tell of no few households.

Small invented programs: records are loaded, an output is given out, some households are added, and
an output of another kind is asked for. Whoever holds both can subtract.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
from types import SimpleNamespace

import pytest

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, register_in
from planner.ordering.request import OrderRequest
from planner.paths import FIGURES_FILE, STORE_FILE
from planner.report.disclosure import control
from planner.report.disclosure.outputs import note_never_left, read_outputs
from planner.store.issued import issued_files, issues_to_restore
from planner.store.opening import open_store
from planner.store.undoing import undo_load
from planner.store.writing import writing
from tests.queries.given import frame

THRESHOLD = 5
PROGRAM = SimpleNamespace(
    privacy=SimpleNamespace(small_cell_threshold=THRESHOLD),
    council=SimpleNamespace(reporting_year_first_month=7),
)
NOON = dt.datetime(2026, 6, 30, 12)
END = dt.date(2026, 7, 1)
OF_BOOKINGS = (control.ORDER, control.NURSERY)


def write(folder, first, count, *tables):
    """Load so many households from a number on, each with a record in these tables."""
    rows = [{"household_id": f"H{number}"} for number in range(first, first + count)]
    with open_store(folder) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load(f"{first}", f"{first} {tables}")
        for table in ("households", *tables):
            writer.write(load_id, table, frame(table, [_row(table, one) for one in rows]))
    return load_id


def _row(table, row):
    own = {"handovers": "handover_id", "bookings": "booking_id", "cases": "case_id"}
    return {**row, **({own[table]: f"{table} {row['household_id']}"} if table in own else {})}


@pytest.fixture(scope="module")
def stores(tmp_path_factory):
    """Keep records of 20 households; of one more; of a threshold more; and that one taken back."""
    folder = tmp_path_factory.mktemp("stores")
    write(folder, 0, 20, "handovers")
    found = {0: (folder / STORE_FILE).read_bytes()}
    late = write(folder, 20, 1, "handovers")
    found[1] = (folder / STORE_FILE).read_bytes()
    write(folder, 21, THRESHOLD - 1, "handovers")
    found[THRESHOLD] = (folder / STORE_FILE).read_bytes()
    undo_load(folder, late, NOON)
    found["undone"] = (folder / STORE_FILE).read_bytes()
    return found


def given_out(folder, kind, register=None):
    """Give an output out and return what stands in its way."""
    if kind in OF_BOOKINGS:
        asked = OrderRequest(dt.date(2026, 8, 1), dt.date(2026, 12, 31))
        return list(control.give_out_order(folder, PROGRAM, kind, asked))
    with open_store(folder, read_only=True) as store:
        opened = control.open_control(folder, store, PROGRAM, END)
    return opened.give_out(folder, kind, "2025-26", register)


KINDS = (control.PLAN, control.PROGRESS, control.EXPORT, control.ORDER)


@pytest.mark.parametrize(("first", "then"), [*itertools.permutations(KINDS, 2)])
def test_one_household_added_between_two_outputs_keeps_the_second_in_the_office(
    tmp_path, stores, first, then
):
    records = tmp_path / STORE_FILE
    records.write_bytes(stores[0])
    assert given_out(tmp_path, first) == given_out(tmp_path, first) == []
    assert [one.kind for one in read_outputs(tmp_path)] == [first]
    records.write_bytes(stores[1])
    told = given_out(tmp_path, then)
    (before,) = read_outputs(tmp_path)
    assert told
    for one in told:
        assert f"Since the {first} of" in one
        assert "records of 1 household changed" in one
        assert f"--never-left {before.number} " in one
    records.write_bytes(stores[THRESHOLD])
    assert given_out(tmp_path, then) == []


def test_a_load_taken_back_is_told_until_the_output_is_said_never_to_have_left(tmp_path, stores):
    (tmp_path / STORE_FILE).write_bytes(stores[THRESHOLD])
    assert given_out(tmp_path, control.PLAN) == []
    (tmp_path / STORE_FILE).write_bytes(stores["undone"])
    told = given_out(tmp_path, control.EXPORT)
    assert any("undone" in one for one in told)
    (plan,) = read_outputs(tmp_path)
    with pytest.raises(ReportError, match="no output of that number"):
        note_never_left(tmp_path, 7, "nobody has it", END)
    with pytest.raises(ReportError, match="how you know"):
        note_never_left(tmp_path, plan.number, " ", END)
    said = note_never_left(tmp_path, plan.number, "nobody has it", END)
    assert said.startswith("Noted: the plan of 2025-26 (output 1) never left the office")
    assert given_out(tmp_path, control.EXPORT) == []
    # what never left stays in the record, and its number is not given again
    (kept,) = tmp_path.glob(f"{plan.place}/never_left.json")
    assert json.loads(kept.read_text()) == {"noted_on": f"{END}", "reason": "nobody has it"}
    assert kept.relative_to(tmp_path).as_posix() in issued_files(tmp_path)
    assert [(one.kind, one.number) for one in read_outputs(tmp_path)] == [(control.EXPORT, 2)]


def test_a_change_in_a_table_that_one_of_two_outputs_never_reads_tells_nothing(tmp_path, stores):
    (tmp_path / STORE_FILE).write_bytes(stores[0])
    with open_store(tmp_path, read_only=True) as store:
        opened = control.open_control(tmp_path, store, PROGRAM, END, ("calls", "cases"))
    assert opened.give_out(tmp_path, control.ORDER, "2025-26") == []
    (tmp_path / STORE_FILE).write_bytes(stores[1])
    assert given_out(tmp_path, control.PLAN) == []


def test_counts_of_an_output_are_kept_with_what_it_hides_and_no_estimates(tmp_path, stores):
    (tmp_path / STORE_FILE).write_bytes(stores[0])
    register = FigureRegister("Town", "2025-26", "1")
    for one in (
        Figure("bins_given[a]", "a", 20.0, None, None, "bins", "Counted."),
        Figure("bins_given[b]", "b", None, None, None, "bins", "Not shown."),
        Figure("fed_t", "fed", 3.0, 2.0, 4.0, "t", "Weighed."),
    ):
        register.add(one)
    given_out(tmp_path, control.PROGRESS, register)
    (output,) = read_outputs(tmp_path)
    assert [figure.value for figure in register_in(tmp_path / output.place / FIGURES_FILE)] == [
        20.0,
        None,
    ]
    with open_store(tmp_path, read_only=True) as store:
        opened = control.open_control(tmp_path, store, PROGRAM, END)
    assert [len(list(one)) for one in opened.of_year("2025-26")] == [2]
    # backups carry it, and a restore puts it back where it is gone
    names = issued_files(tmp_path)
    assert [name.rsplit("/", 1)[1] for name in names] == ["figures.json", "output.json"]
    assert issues_to_restore(tmp_path, tmp_path / "elsewhere") == [output.place]


@pytest.mark.parametrize("content", ["", "[]", "{}", '{"loads": 3}', json.dumps({"loads": []})])
def test_a_note_of_an_output_that_was_changed_by_hand_is_a_sentence(tmp_path, content):
    place = tmp_path / "issued" / "output-0001"
    place.mkdir(parents=True)
    (place / "output.json").write_text(content)
    with pytest.raises(ReportError, match="not what was noted of an output"):
        read_outputs(tmp_path)


def test_a_folder_in_which_nothing_can_be_remembered_gives_nothing_out(tmp_path, stores):
    (tmp_path / STORE_FILE).write_bytes(stores[0])
    (tmp_path / "issued").write_text("in the way")
    with pytest.raises(ReportError, match="issued: cannot be written"):
        given_out(tmp_path, control.PLAN)


def test_a_plan_given_out_tells_an_order_nothing_of_tables_that_the_order_never_reads(
    tmp_path, stores
):
    """The register has one household more, which calls and cases do not have."""
    (tmp_path / STORE_FILE).write_bytes(stores[0])
    assert given_out(tmp_path, control.PLAN) == []
    (tmp_path / STORE_FILE).write_bytes(stores[1])
    with open_store(tmp_path, read_only=True) as store:
        opened = control.open_control(tmp_path, store, PROGRAM, END, ("calls", "cases"))
    assert opened.told == ()


def test_the_same_output_with_other_counts_is_remembered_beside_the_first(tmp_path, stores):
    (tmp_path / STORE_FILE).write_bytes(stores[0])
    for count in (20.0, 20.0, 30.0):
        register = FigureRegister("Town", "2025-26", "1")
        register.put("bins_given", "Bins", count, "bins", "Counted.")
        assert given_out(tmp_path, control.PROGRESS, register) == []
    assert [one.number for one in read_outputs(tmp_path)] == [1, 2]


def test_of_loads_taken_back_the_one_of_fewest_households_counts(tmp_path):
    write(tmp_path, 0, 20, "handovers")
    few = write(tmp_path, 20, 2, "handovers")
    many = write(tmp_path, 30, 12, "handovers")
    assert given_out(tmp_path, control.PLAN) == []
    undo_load(tmp_path, many, NOON)
    assert given_out(tmp_path, control.EXPORT) == []
    undo_load(tmp_path, few, NOON)
    assert any("2 households" in one for one in given_out(tmp_path, control.EXPORT))


@pytest.mark.parametrize(("places", "is_told"), [(2, True), (THRESHOLD, False), (0, False)])
def test_an_order_tells_of_the_few_who_come_on_its_last_day(tmp_path, places, is_told):
    last = dt.date(2026, 12, 31)
    with open_store(tmp_path) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load("days", "days")
        households = [{"household_id": f"H{number}"} for number in range(20)]
        writer.write(load_id, "households", frame("households", households))
        day = {"event_id": "E1", "event_date": last, "places_count": 40}
        writer.write(load_id, "events", frame("events", [day]))
        held = [
            {"booking_id": f"K{n}", "household_id": f"H{n}", "event_id": "E1", "state": "offered"}
            for n in range(places)
        ]
        writer.write(load_id, "bookings", frame("bookings", held))
    told = given_out(tmp_path, control.ORDER)
    assert bool(told) == is_told
