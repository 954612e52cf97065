"""Every assumption of the live sheets, changed in its cell and in the engine: the same numbers.

Each is moved by a share of its own, so that none can stand for another. LibreOffice
calculates the changed workbooks, all in one start, from formulas without values.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import itertools
import re
from typing import NamedTuple

import numpy as np
import openpyxl
import pytest

from planner.diversion import town_year
from planner.emissions import choice, drawn
from planner.factors import read_factors
from planner.program import BaselineScenario
from planner.program.emissions import FurtherLandfill
from planner.report.register import register_year
from planner.report.wording import Wording
from planner.report.workbook import model
from planner.report.workbook.page import Book
from planner.report.year import count_year, estimate_year
from planner.store.opening import open_store
from planner.survey.prior_routes import PriorRoutes
from tests.outside import needs_office, offices
from tests.programs.conftest import TOWNS

pytestmark = pytest.mark.thorough

DRAWS = 20
"""The central draw is compared; the others only make it an estimate."""

EXACT, LEAST = 1e-9, 1e-9
WRITTEN_AT = dt.datetime(2026, 1, 1)
TABLE = read_factors()
SHEETS = ("Model months", "Model landfill", "Model account", "Model money")
COHORTS = "Model cohorts"


class Engine(NamedTuple):
    """A year that is counted, to be estimated as often as is asked."""

    program: object
    label: str
    counts: object

    def workbook(self, path, program=None):
        """Write the live sheets alone."""
        program = program or self.program
        year = estimate_year(program, self.label, self.counts, TABLE)
        book = Book("Live sheets", "Town", Wording.of(program))
        model.add_model(book, register_year(year), program, TABLE)
        path.write_bytes(book.contents(WRITTEN_AT))
        return path


def updated(one, **changes):
    return one.model_copy(update=changes)


def further(program):
    """Give a program a second landfill, of another climate and with other wells."""
    site = program.landfill.model_dump()
    site.pop("landfilled_share_of_residual_waste")
    site |= {"name": "Hill", "share_of_landfilled_waste": 0.3, "climate": "boreal_temperate_dry"}
    site["gas_capture"] = ({"from_age_years": 0, "captured_share": 0.2},
                           {"from_age_years": 4, "captured_share": 0.45})  # fmt: skip
    return updated(program, further_landfills=(FurtherLandfill(**site),))


def stepped(program):
    """State a levy step and a food collection of the years to come, as a council decides them."""
    step = BaselineScenario(
        name="Levy step", begins=dt.date(2028, 1, 1), landfill_levy_per_t=65.0, gate_fee_per_t=50.0
    )
    food = BaselineScenario(
        name="Food collection", begins=dt.date(2027, 3, 1), leaves_residual_bin_share=0.4
    )
    return updated(program, scenarios=(step, food))


@pytest.fixture(scope="module")
def engine(sample):
    known = {}

    def of(town):
        if town not in known:
            one = sample(town)
            program = updated(one.program, method=updated(one.program.method, draws_count=DRAWS))
            label = program.reporting_years[-1].reporting_year
            with open_store(one.folder, read_only=True) as store:
                counts = count_year(store, program, label)
            program = stepped(further(program)) if town == "valdorra" else program
            known[town] = Engine(program, label, counts)
        return known[town]

    return of


def with_factors(values):
    """Choose the factors with other values in some roles, or in roles of one landfill."""

    def other(row, role, place=None):
        value = values.get((role, place))
        if value is None:
            return row
        return dataclasses.replace(row, value=value, low=None, high=None, shape="fixed")

    def choose(program, table):
        rows = choice.choose_emission_factors(program, table)
        landfills = tuple(
            dataclasses.replace(
                one, rows=tuple(other(row, row.factor_id, place) for row in one.rows)
            )
            for place, one in enumerate(rows.landfills, start=1)
        )
        shared = {role: other(row, role) for role, row in rows.shared.items()}
        return dataclasses.replace(rows, shared=shared, landfills=landfills)

    return choose


def landfill_changed(program, place, **changes):
    if place == 1:
        return updated(program, landfill=updated(program.landfill, **changes))
    (one,) = program.further_landfills
    return updated(program, further_landfills=(updated(one, **changes),))


def site_of(program, place):
    return program.landfill if place == 1 else program.further_landfills[place - 2]


def changed_program(program, label, name, value):
    """Make the program file say of an assumption what its cell says; None for other kinds."""
    if name == "landfilled_share":
        return landfill_changed(program, 1, landfilled_share_of_residual_waste=value)
    if name in ("inflation_share", "price_rise_share", "support_cost_per_bin_year"):
        return updated(program, money=updated(program.money, **{name: value}))
    for key in ("landfill_levy_per_t", "gate_fee_per_t"):
        if name.startswith(key):
            year = name.removeprefix(key).removeprefix("_").replace("_", "-") or label
            years = [
                updated(one, **{key: value}) if one.reporting_year == year else one
                for one in program.reporting_years
            ]
            stated = [
                updated(one, **{key: value})
                if one.changes_prices and f"{one.begins.year}" == year
                else one
                for one in program.scenarios
            ]
            assert (years, stated) != (list(program.reporting_years), list(program.scenarios))
            return updated(program, reporting_years=tuple(years), scenarios=tuple(stated))
    if name.startswith("share_of_landfilled_waste_"):
        return landfill_changed(program, int(name[-1]), share_of_landfilled_waste=value)
    if name.startswith("captured_") and name.endswith("_years"):
        _, place, _, age, _ = name.split("_")
        steps = tuple(
            updated(step, captured_share=value) if step.from_age_years == int(age) else step
            for step in site_of(program, int(place)).gas_capture
        )
        return landfill_changed(program, int(place), gas_capture=steps)
    return None


def change_engine(patch, changes, before):
    """Make the engine take other values of assumptions that no program file holds."""
    levels, tilted, arrange = (
        town_year.benchmark,
        PriorRoutes.tilted_by_feed,
        drawn.emission_factors,
    )

    def scaled(*args):
        found = levels(*args)
        scale = changes["feed_kg_per_bin_week"] / before["feed_kg_per_bin_week"]
        return dataclasses.replace(found, ratios=found.ratios * scale)

    def thrown_away(*args):
        found = tilted(*args)
        shares = found.shares.copy()
        scale = changes["residual_bin_share"] / before["residual_bin_share"]
        shares[..., town_year.RESIDUAL_BIN] *= scale
        return dataclasses.replace(found, shares=shares)

    def delayed(*args):
        found = arrange(*args)
        return dataclasses.replace(found, from_deposit_months=changes["from_deposit_months"])

    leaked = town_year.leakage

    def leaking(*args):
        found = leaked(*args)
        shares = {
            name: np.full_like(getattr(found, name), changes[name])
            for name in ("composted_anyway_share", "thrown_away_share")
        }
        return dataclasses.replace(found, **shares)

    patch.setattr(town_year, "leakage", leaking)
    patch.setattr(town_year, "benchmark", scaled)
    patch.setattr(PriorRoutes, "tilted_by_feed", thrown_away)
    patch.setattr(drawn, "emission_factors", delayed)
    patch.setattr(model, "MID_MONTH", changes["from_deposit_months"])
    values = {}
    for name, value in changes.items():
        role, _, place = name.rpartition("_")
        of_site = place.isdigit() and place != "100"
        values[(role, int(place)) if of_site else (name, None)] = value
    # the cells' own values are written beside the formulas, so both sides must choose alike
    for module in (drawn, model):
        patch.setattr(module, "choose_emission_factors", with_factors(values))


def cell_of(workbook, name):
    sheet, cell = workbook.defined_names[name].attr_text.split("!")
    return workbook[sheet.strip("'")][cell.replace("$", "")]


def assumptions(path):
    """Names and values of the cells that hold a number to change."""
    workbook = openpyxl.load_workbook(path)
    cells = {name: cell_of(workbook, name) for name in workbook.defined_names}
    return {name: cell.value for name, cell in cells.items() if cell.data_type == "n"}


def bare(path, target, changes):
    """Copy a workbook with other values in some cells, formulas without values."""
    workbook = openpyxl.load_workbook(path)
    for place, value in changes.items():
        cell = cell_of(workbook, place) if isinstance(place, str) else workbook[place[0]][place[1]]
        cell.value = value
    workbook.save(target)
    return target


def differences(found, expected, sheets):
    """Formulas that differ from the engine's, and how many were compared.

    Beside a difference stand the sheet's own number and the one reported: there the engine's
    figure is compared, elsewhere what the planner keeps beside the formula.
    """
    text, kept, calculated = (
        openpyxl.load_workbook(expected),
        openpyxl.load_workbook(expected, data_only=True),
        openpyxl.load_workbook(found, data_only=True),
    )
    wrong, count = [], 0
    for sheet in sheets:
        for cell in itertools.chain.from_iterable(text[sheet].iter_rows()):
            is_kept_back = calculated[sheet].cell(cell.row, 2).value == "not given"
            # whether a cost of a tonne is given turns on its interval, which no cell holds
            if cell.data_type != "f" or is_kept_back:
                continue
            is_beside = cell.number_format == "0.0E+00"
            here = calculated[sheet].cell(cell.row, cell.column - 2 * is_beside).value
            there = kept[sheet].cell(cell.row, cell.column - is_beside).value
            count += 1
            is_number = isinstance(here, int | float)
            if not is_number or abs(here - there) > max(LEAST, EXACT * abs(there)):
                wrong.append((sheet, cell.coordinate, here, there))
    return wrong, count


def all_changed(engine, known):
    """Change every assumption, each by a share of its own; give values and program file."""
    values = {
        name: 0.15 if value == 0.0 else value * (0.9 + 0.001 * place)
        for place, (name, value) in enumerate(known.items())
    }
    rates = sorted(value for name, value in values.items() if name.startswith("discount_rate"))
    money = updated(engine.program.money, discount_rates=tuple(rates))
    program = updated(engine.program, money=money)
    told = set()
    for name, value in values.items():
        changed = changed_program(program, engine.label, name, value)
        if changed is not None:
            told.add(name)
            program = changed
    others = {n: v for n, v in values.items() if n not in told and not n.startswith("discount")}
    return values, program, others


@pytest.fixture(scope="module")
def recalculated(engine, tmp_path_factory):
    """Give, for each town, the workbook with every assumption changed, and the engine's own."""
    folder = tmp_path_factory.mktemp("assumptions")
    sources, expected = [], {}
    for town in TOWNS:
        one = engine(town)
        first = one.workbook(folder / f"first_{town}.xlsx")
        known = assumptions(first)
        values, program, others = all_changed(one, known)
        with pytest.MonkeyPatch.context() as patch:
            change_engine(patch, others, known)
            expected[town] = one.workbook(folder / f"engine_{town}.xlsx", program)
        sources += [bare(first, folder / f"{town}.xlsx", values)]
        sources += [bare(first, folder / f"cohorts_{town}.xlsx", more_bins(first))]
    found = offices(sources, folder_of(folder / "again"), "xlsx")
    return {path.stem: path for path in found}, expected, folder


def folder_of(path):
    path.mkdir()
    return path


@needs_office
@pytest.mark.parametrize("town", TOWNS)
def test_changed_assumptions_come_to_what_the_engine_says(recalculated, town):
    found, expected, _ = recalculated
    wrong, count = differences(found[town], expected[town], SHEETS)
    names = set(openpyxl.load_workbook(expected[town]).defined_names)
    # prices of a year that only a stated change names have cells of their own
    assert ("landfill_levy_per_t_2028" in names) is (town == "valdorra")
    assert count > 1000
    assert wrong == []


@pytest.mark.parametrize("town", TOWNS)
def test_every_assumption_is_used_by_a_formula(engine, tmp_path, town):
    path = engine(town).workbook(tmp_path / "book.xlsx")
    workbook = openpyxl.load_workbook(path)
    text = " ".join(
        str(cell.value)
        for sheet in workbook
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    )
    used = set(re.findall(r"[a-z][a-z0-9_]+", text))
    assert set(workbook.defined_names) - used == set()


def more_bins(path):
    """Give a tenth more bins in every month that is shown."""
    sheet = openpyxl.load_workbook(path)[COHORTS]
    return {
        (COHORTS, cell.coordinate): cell.value * 1.1
        for (cell,) in sheet.iter_rows(min_col=2, max_col=2)
        if isinstance(cell.value, int | float)
    }


@needs_office
@pytest.mark.parametrize("town", TOWNS)
def test_more_bins_come_to_more_tonnes_in_proportion(recalculated, town):
    """By the formula of the engine, tonnes of every month are linear in the bins given."""
    found, _, folder = recalculated
    before = openpyxl.load_workbook(folder / f"first_{town}.xlsx", data_only=True)
    after = openpyxl.load_workbook(found[f"cohorts_{town}"], data_only=True)
    compared = 0
    for row in before["Model months"].iter_rows(min_col=1, max_col=9):
        if isinstance(row[0].value, dt.datetime) and row[1].value:
            for place in (1, 4, 8):
                other = after["Model months"][row[place].coordinate].value
                assert other == pytest.approx(1.1 * row[place].value, rel=EXACT)
                compared += 1
    assert compared > 50
