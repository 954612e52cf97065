"""Live sheets of a plan: named assumptions, and the weeks of use of one bin."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.cells import MONTH_FORMAT, Cell, Day, Formula, Number
from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.messages import said
from planner.report.plan.words import columns, named, unit_words
from planner.report.workbook.named_cells import Assumption
from planner.report.workbook.named_cells import write_assumptions as write_assumption_table
from planner.report.workbook.page import Book, Page
from planner.sizing.outcome import taken_in_central_draw
from planner.tables import DWELLINGS

if TYPE_CHECKING:
    from planner.sizing.beliefs import Belief
    from planner.sizing.sizing import Sizing

SHARE, NUMBER, TONNES, WEEK = "0.0%", "#,##0.00", "#,##0.000", "#,##0.00"

Block = tuple[int, int, int]
"""Dwelling, model and round."""


def assumed_of(sizing: Sizing) -> tuple[Assumption, ...]:
    """List the numbers on which the live sheets rest, at their central values."""
    settings, world = sizing.main.settings, sizing.world
    currency, avoided = sizing.program.council.currency, world.rates.avoided_kg_co2e_per_t[0]
    price, caused = settings.price_per_t, world.rates.bin_gases_kg_co2e_per_t[0]
    return (
        *_of_bins(sizing),
        *(one for model in range(len(settings.models)) for one in _of_model(sizing, model)),
        _assumed("copayment", "copayment", settings.copayment, currency),
        _assumed("fixed_cost", "fixed_cost", world.fixed_cost, currency),
        _assumed("disposal_price_per_t", "disposal", price, f"{currency} per t"),
        _assumed("methane_avoided_kg_per_t", "methane", float(avoided), "kg CO2-e per t"),
        _assumed("bin_gases_kg_per_t", "gases", float(caused), "kg CO2-e per t"),
    )


def _of_belief(one: Belief, number_format: str) -> Assumption:
    return Assumption(one.name, one.label, one.value, one.unit, one.origin, number_format)


def _assumed(
    name: str, key: str, value: float, unit: str, source: str = "", **filled: str
) -> Assumption:
    """Make an assumption of the plan's own words; its source has a key too, unless it is given."""
    label = said(f"plan.assumed.{key}", **filled)
    source = source or said(f"plan.assumed.{key}_source", **filled)
    return Assumption(name, label, value, unit, source, NUMBER)


def _of_bins(sizing: Sizing) -> list[Assumption]:
    belief = sizing.inputs.belief
    in_use = []
    for code, name in enumerate(DWELLINGS):
        one = belief(f"in_use_12_months_share_{name}")
        if sizing.main.settings.with_workshop:
            one = replace(one, origin=said("plan.assumed.with_workshop", origin=one.origin))
        in_use.append(_of_belief(replace(one, value=_in_use_share(sizing, code)), SHARE))
    share = sizing.program.landfill.landfilled_share_of_residual_waste
    return [
        *in_use,
        _of_belief(belief("retention_shape"), NUMBER),
        _of_belief(belief("feed_kg_per_week"), TONNES),
        replace(_assumed("landfilled_share", "landfilled", share, "share"), number_format=SHARE),
        *(_of_belief(belief(name), SHARE) for name in (ANYWAY, THROWN_AWAY)),
    ]


def _of_model(sizing: Sizing, model: int) -> list[Assumption]:
    world, settings = sizing.world, sizing.main.settings
    currency, bin_model = sizing.program.council.currency, settings.models[model]
    named = {"model": bin_model.model_name}
    price, other_cost = float(world.price[0, model]), float(world.other_cost[0, model])
    paid = said("plan.assumed.price_source", model=bin_model.model_id)
    handing, source = other_cost + settings.copayment, _cost_source(sizing)
    making = float(world.rates.making_kg_co2e[0, model])
    return [
        _assumed(f"price_{model + 1}", "price", price, currency, paid, **named),
        _assumed(f"handing_over_{model + 1}", "handing_over", handing, currency, source, **named),
        _assumed(f"making_{model + 1}", "making", making, "kg CO2-e", **named),
    ]


def _in_use_share(sizing: Sizing, code: int) -> float:
    share = sizing.inputs.belief(f"in_use_12_months_share_{DWELLINGS[code]}").value
    if sizing.main.settings.with_workshop:
        odds = share / (1.0 - share) * sizing.inputs.belief("workshop_in_use_odds_ratio").value
        share = odds / (1.0 + odds)
    return share


def _cost_source(sizing: Sizing) -> str:
    if sizing.main.settings.other_cost_per_bin is not None:
        return said("plan.assumed.other_cost_source")
    if sizing.context.ledger_cost_per_bin is not None:
        return said("plan.assumed.ledger_source")
    return sizing.inputs.belief("other_cost_to_price_ratio").origin


def write_assumptions(book: Book, page: Page, assumed: tuple[Assumption, ...]) -> None:
    """Write the assumptions and name their cells."""
    page.title("plan.assumptions.title")
    names = ("results", "reckoning", "weeks", "sure")
    page.note(said("plan.assumptions.note", **{name: said(f"plan.sheet.{name}") for name in names}))
    told = [replace(one, unit=unit_words(one.unit, book.wording)) for one in assumed]
    write_assumption_table(book, page, told, stays_in_sight=True)


def _blocks(sizing: Sizing) -> Iterator[Block]:
    taken = taken_in_central_draw(sizing.world, sizing.main.allocation.bins_by_group)
    dwelling = sizing.context.groups.dwelling
    for code in range(len(DWELLINGS)):
        used = (taken[dwelling == code] > 0).any(axis=0)
        for model, place in np.argwhere(used):
            yield code, int(model), int(place)


def write_weeks(page: Page, sizing: Sizing) -> dict[Block, tuple[int, int, float]]:
    """Write one row a dwelling, model, round and month; give the rows of each block."""
    page.title("plan.weeks.title")
    page.note("plan.weeks.note")
    courses = sizing.world.scenario_courses
    if courses:
        page.note("plan.weeks.courses")
    page.print_no_further()
    rows: list[list[Cell]] = []
    blocks: dict[Block, tuple[int, int, float]] = {}
    start = page.row + 1
    for block in _blocks(sizing):
        own, total = _rows_of_block(sizing, block, start + len(rows))
        blocks[block] = (start + len(rows), start + len(rows) + len(own) - 1, total)
        rows += own
    page.table(
        (
            *columns("dwelling model round month age weeks_full in_use full_weeks"),
            *(said("plan.column.elsewhere", number=number + 1) for number in range(len(courses))),
        ),
        rows,
        stays_in_sight=True,
    )
    return blocks


def _rows_of_block(sizing: Sizing, block: Block, first: int) -> tuple[list[list[Cell]], float]:
    code, model, place = block
    settings, one = sizing.main.settings, sizing.world.bins[code][model]
    month_of_round = settings.months.index(settings.rounds[place].month)
    courses = [course for _, course in sizing.world.scenario_courses]
    share_name, shape = f"in_use_12_months_share_{DWELLINGS[code]}", "retention_shape"
    rows: list[list[Cell]] = []
    total = 0.0
    for n in range(month_of_round, len(settings.months)):
        there = float(one.weeks_there[n, place])
        in_use, full = (float(w[0, n, place]) for w in (one.in_use_weeks, one.full_feed_weeks))
        if there == 0.0:
            continue
        row = first + len(rows)
        age = 1.0 / 3.0 if n == month_of_round else float(n - month_of_round)
        total += full
        rows.append(
            [
                said(f"plan.dwelling.{DWELLINGS[code]}"),
                settings.models[model].model_name,
                named("round", settings.rounds[place].name),
                Day(settings.months[n], MONTH_FORMAT),
                Number(age, NUMBER),
                Number(there * full / in_use, WEEK),
                Formula(f"EXP(LN({share_name})*(E{row}/12)^{shape})", in_use / there, SHARE),
                Formula(f"F{row}*G{row}", full, WEEK),
                *(Number(float(course[n]), SHARE) for course in courses),
            ]
        )
    return rows, total
