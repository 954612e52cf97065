"""What a figure says it rests on is what moves it: each input is changed, and nothing else.

The truth is had from the estimate itself and not from the declarations: records, settings and
factors are changed one at a time, the year is estimated again, and the figures that read
otherwise are set against those that name the input, however far down.
"""

from __future__ import annotations

import dataclasses
import os
import re

import polars as pl
import pytest

from planner.emissions.account import emissions_avoided
from planner.emissions.activity import BASES
from planner.emissions.editions import EDITIONS, GWP_SETS, compared_t_co2e
from planner.factors import FactorTable, read_factors
from planner.paths import STORE_FILE
from planner.report import year as estimating
from planner.report.figures import emissions
from planner.report.figures.writer import FRAMES
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.store.connection import fetch
from planner.store.opening import open_store
from tests.prose import HIDDEN

TOWN, LABEL, DRAWS = "valdorra", "2025", 20
SAME = 1e-9
TABLE = read_factors()

HELD = re.compile(
    r"if_users_odds|without_response|users_odds|\w+_if_silent|variance_share|bin_payback_never|"
    r"approach_"
)
"""Figures of checks that this test does not reckon again, or that are shares of themselves."""

COARSE = re.compile(
    r"chance_in_|target_reached_share|retention_by_age\[0\]|retention_curve_gap|"
    r"prior_route_share\[other\]|bin_months_in_use\[|retention_nonparametric|retention_observed|"
    r"heaping|weights_design|feed_season|rounding|response_share|\w+_in_month\[|\w+_month_end\[|"
    r"response_odds_ratio"
)
"""Figures that a small change may leave as they are: ages, months and steps that it misses.

Odds of an answer rest on the register where households were settled before their round.
"""


@dataclasses.dataclass(frozen=True)
class Base:
    """A year as it is, and how to have it again with something else."""

    program: object
    counts: object
    year: object
    register: object

    def again(self, program=None, counts=None, table=TABLE):
        return register_year(
            estimate_year(program or self.program, LABEL, counts or self.counts, table)
        )


@pytest.fixture(scope="module")
def base(sample):
    one = sample(TOWN)
    program = one.program.model_copy(
        update={
            "method": one.program.method.model_copy(update={"draws_count": DRAWS}),
            "money": one.program.money.model_copy(update={"support_cost_per_bin_year": 3.0}),
        }
    )
    with open_store(one.folder, read_only=True) as store:
        counts = count_year(store, program, LABEL)
    bounds = one.year(LABEL)[0].bounds
    with pytest.MonkeyPatch.context() as patch:
        # the seven measurings for those who did not answer are not what is asked here
        patch.setattr(estimating, "bounds_if_silent", lambda *_: bounds)
        patch.setattr(emissions, "variance_by_source", lambda _: {})
        year = estimate_year(program, LABEL, counts, TABLE)
        yield Base(program, counts, year, register_year(year))


def below(register):
    """For each figure, every input that is no figure, through all the figures under it."""
    known = {}

    def of(name):
        if name not in known:
            known[name] = frozenset()
            own = {(one.kind, one.name.split("/")[0]) for one in register[name].inputs}
            figures = [one.name for one in register[name].inputs if one.kind == "figure"]
            known[name] = frozenset(own).union(*(of(one) for one in figures))
        return known[name]

    return {figure.id: of(figure.id) for figure in register}


def moved(before, after):
    """Figures that read otherwise; what is hidden names nothing, before or after."""

    def differs(one, other):
        return (one is None) != (other is None) or (
            one is not None and abs(one - other) > SAME * max(abs(one), abs(other))
        )

    found = set()
    for figure in before:
        other = after.find(figure.id)
        if other is None or HIDDEN in (figure.method, other.method):
            continue
        pairs = ((getattr(figure, k), getattr(other, k)) for k in ("value", "low", "high"))
        if any(differs(*pair) for pair in pairs):
            found.add(figure.id)
    return found


def thinned(base, query):
    """Leave out one row in eight of what a query counted, or change the sums of a short one."""
    rows = getattr(base.counts, FRAMES[query])
    if rows.height > 40:
        other = rows.filter(pl.int_range(pl.len()) % 8 != 3)
    else:
        other = rows.with_columns(pl.col(pl.Float64) * 1.25)
    return base.again(counts=dataclasses.replace(base.counts, **{FRAMES[query]: other}))


def with_setting(base, key):
    """Change a setting of the program file by a tenth."""
    block, _, name = key.partition(".")
    if block == "bin_models":
        models = tuple(
            one.model_copy(update={name: getattr(one, name) * 0.9})
            for one in base.program.bin_models
        )
        return base.again(base.program.model_copy(update={"bin_models": models}))
    of_block = getattr(base.program, block)
    other = of_block.model_copy(update={name: getattr(of_block, name) * 0.9})
    return base.again(base.program.model_copy(update={block: other}))


def less_a_tenth(row):
    low, high = (None if one is None else one * 0.9 for one in (row.low, row.high))
    return dataclasses.replace(row, value=row.value * 0.9, low=low, high=high)


def with_factor(base, name):
    """Change a published factor and its range by a tenth."""
    rows = tuple(less_a_tenth(row) if row.factor_id == name else row for row in TABLE)
    return base.again(table=FactorTable(rows, TABLE.sources))


@pytest.mark.parametrize(
    ("change", "kind", "name"),
    [
        (thinned, "query", "households_by_wave"),
        pytest.param(thinned, "query", "prior_shares", marks=pytest.mark.thorough),
        pytest.param(thinned, "query", "costs_by_month", marks=pytest.mark.thorough),
        (with_setting, "program", "bin_models.tray_area_m2"),
        (with_factor, "factor", "least_appetite_share"),
    ],
)
def test_a_changed_input_moves_the_figures_that_name_it_and_no_others(base, change, kind, name):
    found = moved(base.register, change(base, name))
    names = {one for one, inputs in below(base.register).items() if (kind, name) in inputs}
    assert found - names == set()
    known = {one for one in names if base.register[one].value not in (None, 0.0)}
    still = {one for one in known - found if not HELD.match(one) and not COARSE.match(one)}
    assert still == set()
    assert len(found) > 10


def test_each_factor_of_the_account_moves_the_lines_that_name_it_and_no_others(base):
    year, inputs = base.year, below(base.register)
    factors, choices = year.emission_factors, year.program.emissions
    for name in {row.factor_id for row in factors.rows.every}:
        shared = {
            role: draws * (0.9 if factors.rows.shared[role].factor_id == name else 1.0)
            for role, draws in factors.drawn.items()
        }
        own = tuple(
            {role: draws * (0.9 if role == name else 1.0) for role, draws in one.items()}
            for one in factors.of_landfills
        )
        other = dataclasses.replace(factors, drawn=shared, of_landfills=own)
        changed = emissions_avoided(year.activity, other, choices)
        for basis in BASES:
            for line, draws in year.emissions.basis(basis).lines.items():
                has_moved = bool(abs(changed.basis(basis).lines[line] - draws).max() > SAME)
                of_line = inputs[f"account_t_co2e[{basis}.{line}]"]
                # feed factors enter by the scraps, which are the same here
                is_named = ("factor", name) in of_line
                assert is_named or not has_moved, (name, basis, line)
                if basis == "100_years" and draws.any():
                    assert has_moved is is_named, (name, line)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("place", [0, 1], ids=["methane_by_edition", "editions_compared"])
def test_an_edition_names_the_rows_that_move_the_account_under_it_and_no_others(
    base, edition, place
):
    program, activity = base.year.program, base.year.activity
    kind = ("methane_by_edition_t_co2e", "editions_compared_t_co2e")[place]
    part = ("100_years", GWP_SETS[-1])

    def net(is_changed):
        rows = tuple(less_a_tenth(row) if is_changed(row) else row for row in TABLE)
        found = compared_t_co2e(program, FactorTable(rows, TABLE.sources), activity, edition)
        return found[part][place]

    figure = base.register[f"{kind}[{part[0]}.{edition}.{part[1]}]"]
    named = {one.name for one in figure.inputs if one.kind == "factor"}
    before = net(lambda _: False)
    others = net(lambda row: "/".join(filter(None, row.key)) not in named)
    assert others == pytest.approx(before, rel=SAME)
    for name in named:
        after = net(lambda row, name=name: "/".join(filter(None, row.key)) == name)
        assert abs(after - before).max() > SAME, name


def test_little_memory_moves_no_figure(base):
    """Random numbers come in two blocks of replicates then; single precision may round anew."""
    method = base.program.method.model_copy(update={"memory_mb": 1})
    assert method.block_bytes < 8 * base.counts.frames["unit_id"].n_unique() * DRAWS
    again = base.again(base.program.model_copy(update={"method": method}))
    for figure in base.register:
        for end in ("value", "low", "high"):
            one, other = getattr(figure, end), getattr(again[figure.id], end)
            assert other == (one if one is None else pytest.approx(one, rel=1e-5, abs=1e-9)), figure


@pytest.mark.thorough
def test_rows_that_do_not_fit_into_memory_are_kept_on_the_disk(sample):
    """They are encrypted there, for which an opened store had no means: any such query failed.

    Two commands that read at once took each other's rows away, and a command that writes both's.
    """
    folder = sample(TOWN).folder
    with open_store(folder, read_only=True) as store:
        store.limit_memory(64)
        own = fetch(store.program, "select current_setting('temp_directory') as own").item()
        assert own == f"{folder / STORE_FILE}.{os.getpid()}.tmp"
        rows = fetch(
            store.program,
            "select sum(place)::bigint as total from (select row_number() over (order by "
            "repeat(hash(n)::varchar, 4)) as place from range(1_500_000) as numbers(n))",
        )
    assert rows.item() == 1_500_000 * 1_500_001 // 2
    assert not list(folder.glob("*.tmp"))
