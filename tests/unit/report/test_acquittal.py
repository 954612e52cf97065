"""A grant's account against a ledger and hand-overs that can be added up by hand."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import replace

import pytest

from planner.errors import PlannerError, ProgramError
from planner.figures import Figure, FigureRegister
from planner.paths import PROGRAM_FILE
from planner.program import read_program
from planner.report.acquittal import (
    Acquittal,
    _month_after,
    _times,
    find_funder,
    read_grant,
    write_acquittal,
)
from planner.report.document.acquittal import acquittal_document
from tests.queries.given import store_with
from tests.unit.checks.test_checks import PROGRAM
from tests.unit.report.test_progress import words_of

D = dt.date
LABEL = "2024-25"
FIRST, LAST = D(2025, 3, 5), D(2025, 4, 30)
COSTS = (
    (D(2025, 3, 4), "bins", 999.0),
    (FIRST, "bins", 100.1),
    (D(2025, 4, 2), "worms", 50.25),
    (D(2025, 4, 9), "copayments_received", -40.0),
    (D(2025, 4, 9), "staff", 30.0),
    (LAST, "bins", 20.0),
    (D(2025, 5, 1), "bins", 999.0),
)
"""Of the grant's days and categories: 100.10, 50.25 and 20.00, so 170.35 in all."""

SPENT = 170.35
BINS = 60
BLOCK = """
[[funders]]
name = "{name}"
grant_reference = "{name}-1"
first_day = {first}
last_day = {last}
granted = {granted}
{which}
categories = ["bins", "worms"]
"""


def block(name="Fund", which="bins_share = 0.6", first=FIRST, last=LAST, granted=120.0):
    return BLOCK.format(name=name, which=which, first=first, last=last, granted=granted)


def program_with(tmp_path, *blocks):
    path = tmp_path / PROGRAM_FILE
    path.write_text(PROGRAM + "".join(blocks), encoding="utf-8")
    return read_program(path)


def given_rows(days):
    """Give a bin to a household of its own on each of the days, in two areas by turns."""
    households = [f"H{place}" for place in range(len(days))]
    areas = itertools.cycle("AB")
    return {
        "areas": [{"area_id": "A"}, {"area_id": "B"}],
        "households": [{"household_id": h, "area_id": next(areas)} for h in households],
        "handovers": [
            {"handover_id": h, "household_id": h, "handover_date": day}
            for h, day in zip(households, days, strict=True)
        ],
        "costs": [
            {"cost_id": f"{n}", "cost_date": day, "category": category, "amount": amount}
            for n, (day, category, amount) in enumerate(COSTS)
        ],
    }


def acquitted(tmp_path, program, name="Fund", before=()):
    """Account for a grant: 60 bins in its days, and what was given before them."""
    days = [*before, *[D(2025, 3, 20)] * 30, *[D(2025, 4, 20)] * (BINS - 30)]
    return given_on(tmp_path, program, days, name)


def given_on(tmp_path, program, days, name="Fund"):
    tmp_path.mkdir(exist_ok=True)
    with store_with(tmp_path, given_rows(days)) as store:
        grant = read_grant(store, program, find_funder(program, name), D(2025, 6, 30))
    year = FigureRegister("Town", LABEL, "1")
    for figure_id, value in (
        ("bins_given", 90.0),
        ("bins_given[A]", 45.0),
        ("kept_out_of_landfill_t", 8.0),
        ("kept_out_of_landfill_t[A]", 5.0),
        ("emissions_avoided_in_year_t_co2e", -2.0),
    ):
        year.add(Figure(figure_id, figure_id, value, value - 1.0, value + 1.0, "t", "By hand."))
    return Acquittal(grant, (year,), dt.datetime(2025, 7, 1))


def value(acquittal, figure_id):
    return acquittal.register[figure_id].value


def test_lines_of_the_grants_days_and_categories_add_up_and_the_rest_is_unspent(tmp_path):
    found = acquitted(tmp_path, program_with(tmp_path, block()))
    assert found.grant.lines["cost_id"].to_list() == ["1", "2", "5"]
    assert value(found, "ledger_lines_sum") == pytest.approx(SPENT)
    assert value(found, "charged") == pytest.approx(102.21)
    document = acquittal_document(found)
    assert "£102.21 was charged to it. £17.79 is unspent." in words_of(document, "short")
    assert "60 bins given to 60 households" in words_of(document, "short")
    ledger = words_of(document, "ledger")
    assert "5 Mar 2025 1 bins £100.10" in ledger
    assert "Sum   £170.35" in ledger
    assert "invented" in words_of(document, "cautions")


def test_shares_of_two_funders_add_to_the_whole(tmp_path):
    blocks = block("Fund"), block("Shire", "bins_share = 0.4", granted=50.0)
    program = program_with(tmp_path, *blocks)
    both = [acquitted(tmp_path / name, program, name) for name in ("Fund", "Shire")]
    of_tonnes = f"of_grant[{LABEL}, kept_out_of_landfill_t]"
    for name, whole in (("charged", SPENT), ("bins_of_grant", BINS), (of_tonnes, 8.0)):
        assert sum(value(one, name) for one in both) == pytest.approx(whole, abs=0.01)
    assert "It is overspent by £18.14." in words_of(acquittal_document(both[1]), "short")
    assert "Other grants" not in words_of(acquittal_document(both[1]), "cautions")


def test_a_grant_for_areas_has_their_bins_and_their_tonnes_alone(tmp_path):
    found = acquitted(tmp_path, program_with(tmp_path, block(which='areas = ["A"]')))
    assert value(found, "bins_given") == BINS / 2
    assert value(found, f"of_grant[{LABEL}, kept_out_of_landfill_t[A]]") == 5.0
    assert "does not say which area" in words_of(acquittal_document(found), "cautions")


@pytest.mark.parametrize(("count", "is_shown"), [(0, True), (3, False), (10, True)])
def test_bins_that_a_month_less_the_grant_would_tell_of_are_not_shown(tmp_path, count, is_shown):
    # given in the grant's first month before the grant began: the month's own count is published
    before = [D(2025, 3, 2)] * count
    found = acquitted(tmp_path, program_with(tmp_path, block()), before=before)
    assert (value(found, "bins_given") is not None) == is_shown
    words = words_of(acquittal_document(found), "delivered")
    assert ("not shown" in words) != is_shown
    assert ("60" in words) == is_shown


def with_months(found, counts):
    """Say of an account's year what its report shows of the months; None where it hides one."""
    (year,) = found.years
    for month, count in counts.items():
        name = f"bins_given_in_month[2025-{month:02}]"
        year.put(name, "Bins", count, "bins", "By hand.", ())
    return found


@pytest.mark.parametrize(("last", "is_shown"), [(D(2025, 4, 30), False), (D(2025, 5, 31), True)])
def test_a_month_that_the_report_hides_is_not_told_by_the_grant_less_the_others(
    tmp_path, last, is_shown
):
    # 60 bins in March and April are shown as such; in April 3 of them, which the report hides
    days = [D(2025, 3, 20)] * 57 + [D(2025, 4, 20)] * 3 + [D(2025, 5, 20)] * 12
    program = program_with(tmp_path, block(first=D(2025, 3, 1), last=last))
    found = with_months(given_on(tmp_path, program, days), {3: 57.0, 4: None, 5: None})
    assert (value(found, "bins_given") is not None) == is_shown


@pytest.mark.parametrize("between", [0, 1, 10])
def test_a_few_days_between_two_grants_are_not_told_by_the_year_less_both(tmp_path, between):
    days = [D(2025, 3, 20)] * 30 + [D(2025, 4, 8)] * 20 + [D(2025, 4, 20)] * 20
    program = program_with(
        tmp_path,
        block(first=D(2025, 3, 1), last=D(2025, 4, 9)),
        block("Shire", first=D(2025, 4, 12), last=D(2025, 6, 30)),
    )
    found = given_on(tmp_path, program, [*days, *[D(2025, 4, 10)] * between])
    assert (value(found, "bins_given") is not None) == (between != 1)


def test_the_files_are_there_after_writing_and_after_writing_again(tmp_path):
    found = acquitted(tmp_path, program_with(tmp_path, block()))
    for _ in range(2):
        files = write_acquittal(tmp_path, found)
        assert [path.name for path in files] == ["acquittal.docx", "acquittal.html"]
        assert all(path.parent.name == "Fund-1" and path.stat().st_size for path in files)


def test_who_and_what_is_not_there_is_refused_in_words(tmp_path):
    program = program_with(
        tmp_path,
        block(),
        block("Later", first=D(2025, 5, 2), last=D(2025, 5, 9)),
        block("Elsewhere", 'areas = ["Z"]\nbins_share = 0.4'),
    )
    for name, words in (
        ("Nobody", "No funder is called Nobody: program.toml has Fund, grant Fund-1; Later"),
        ("Later", "no bin was given and no ledger line is recorded from 2 May 2025"),
        ("Elsewhere", "found area 'Z', expected one of A, B"),
    ):
        with pytest.raises(PlannerError, match=words):
            acquitted(tmp_path / name, program, name)


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ((block(), block("Shire", "bins_share = 0.5")), "110% of the bins given on 2025-03-05"),
        ((block(), block("Shire", 'areas = ["A"]')), "160% of the bins given in area A"),
        ((block(), block()), "'Fund' twice"),
        ((block(which=""),), "expected bins_share, areas or both"),
        ((block(last=D(2025, 1, 1)),), "expected it from 2025-03-05 on"),
        ((block().replace('"worms"', '"pizza"'),), "pizza"),
    ],
    ids=["shares", "area", "twice", "no bins", "days", "category"],
)
def test_blocks_that_contradict_are_refused_as_the_program_file_is_read(tmp_path, blocks, words):
    with pytest.raises(ProgramError, match=words):
        program_with(tmp_path, *blocks)


def test_days_that_are_not_recorded_yet_do_not_count(tmp_path):
    program = program_with(tmp_path, block())
    with store_with(tmp_path, given_rows([D(2025, 3, 20)] * 30 + [D(2025, 4, 20)] * 30)) as store:
        grant = read_grant(store, program, find_funder(program, "Fund"), D(2025, 4, 10))
    assert (grant.before_date, grant.bins_count, grant.spent) == (D(2025, 4, 1), 30, 100.1)


@pytest.mark.parametrize(
    ("day", "first"),
    [
        (D(2025, 4, 1), D(2025, 4, 1)),
        (D(2025, 4, 2), D(2025, 5, 1)),
        (D(2025, 1, 31), D(2025, 2, 1)),
        (D(2024, 12, 30), D(2025, 1, 1)),
    ],
)
def test_the_next_month_begins_on_the_day_itself_where_it_is_a_first(day, first):
    assert _month_after(day) == first


def test_households_are_those_of_the_grants_days_and_means_are_shared_as_values_are(tmp_path):
    before = [D(2024, 11, 20)] * 30
    found = acquitted(tmp_path, program_with(tmp_path, block()), before=before)
    assert value(found, "households_served") == BINS
    (year,) = found.years
    shared = _times(replace(year["kept_out_of_landfill_t"], mean=9.0), 0.6, "of_grant")
    assert (shared.value, shared.low, shared.high, shared.mean) == pytest.approx(
        (4.8, 4.2, 5.4, 5.4)
    )


@pytest.mark.parametrize(("households", "is_shown"), [(3, False), (10, True)])
def test_ten_bins_of_three_households_tell_of_three_households(tmp_path, households, is_shown):
    """Given in the grant's first month before it began: the month's own counts are published."""
    days = [*[D(2025, 3, 2)] * 10, *[D(2025, 3, 20)] * 30, *[D(2025, 4, 20)] * 30]
    rows = given_rows(days)
    for place in range(10):
        rows["handovers"][place]["household_id"] = f"H{place % households}"
    program = program_with(tmp_path, block())
    with store_with(tmp_path, rows) as store:
        grant = read_grant(store, program, find_funder(program, "Fund"), D(2025, 6, 30))
    assert grant.is_close != is_shown


@pytest.mark.parametrize(("beyond", "is_close"), [(0, False), (3, True), (10, False)])
def test_what_another_grant_counts_up_to_its_last_day_tells_of_the_few_beyond_it(
    tmp_path, beyond, is_close
):
    """The other ends a day earlier; on its own last day 20 came, who are no few."""
    blocks = block("Fund"), block("Shire", "bins_share = 0.4", last=D(2025, 4, 29))
    days = [*[D(2025, 3, 20)] * 40, *[D(2025, 4, 29)] * 20, *[LAST] * beyond]
    found = given_on(tmp_path, program_with(tmp_path, *blocks), days)
    assert found.grant.is_close == is_close


@pytest.mark.parametrize(("others", "is_close"), [(0, False), (3, True), (10, False)])
def test_the_town_less_a_grants_area_tells_of_the_few_elsewhere(tmp_path, others, is_close):
    whole = block(which='areas = ["A"]', first=D(2025, 3, 1), last=LAST)
    # of every two households the first lives in A: the few of B come first, with as many of A
    days = [D(2025, 3, 20)] * (2 * others) + [D(2025, 4, 20)] * 80
    rows = given_rows(days)
    for place, household in enumerate(rows["households"]):
        household["area_id"] = "B" if place < others else "A"
    # what B took before keeps its own counts of the year large
    rows["households"] += [{"household_id": f"B{n}", "area_id": "B"} for n in range(40)]
    rows["handovers"] += [
        {"handover_id": f"B{n}", "household_id": f"B{n}", "handover_date": D(2024, 11, 20)}
        for n in range(40)
    ]
    program = program_with(tmp_path, whole)
    with store_with(tmp_path, rows) as store:
        grant = read_grant(store, program, find_funder(program, "Fund"), D(2025, 6, 30))
    assert grant.is_close == is_close
