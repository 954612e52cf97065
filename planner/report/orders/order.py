"""An order as it is written: its items, days and chances in cells, and what it says in words."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

import polars as pl

from planner.cells import Day, Number
from planner.messages import paper, said
from planner.ordering.plan import (
    OrderPlan,
    events_with_fewer_worms,
    events_without_worms,
    goes_short_of_goods,
    order_lines,
)
from planner.report.wording import Wording, listing
from planner.report.workbook.formats import headed, money_cell, number_format
from planner.worms.bedding import material_words

if TYPE_CHECKING:
    from planner.ordering.climate import ClimateOption
    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.store.opening import Store


MOST_SHOWN, ALL_BUT_SURE, SURE = 0.999, 0.9995, 1.0 - 1e-9
PROVEN, PER_MILLE, ROUNDING = 0.00005, 1000, 1e-6
"""A gap up to this is none; a larger one is told to so many parts."""

MANY = 2
"""Stands for any number that asks for the plural."""


@dataclass(frozen=True)
class Order:
    """An order as it is written: a plan, its numbered lines, and who orders."""

    # what is planned, and the plan that was found for it
    plan: OrderPlan
    solution: Solution
    lines: pl.DataFrame  # lines with order_line_id, in order of supplier and delivery
    program: Program  # names the council, its bin models and its currency
    suppliers: pl.DataFrame  # frame of tables.Suppliers
    matched: pl.DataFrame  # query three_way_match: orders against deliveries and invoices
    wording: Wording  # money, days and numbers as the council writes them

    @classmethod
    def of(cls, plan: OrderPlan, program: Program, store: Store) -> Order:
        """Make an order of a plan that has a solution, its lines numbered.

        Raises
        ------
        ValueError
            The plan has no solution.
        """
        solution = cast("Solution", plan.solution)
        lines = order_lines(solution)
        lines = lines.sort("supplier_id", "delivery_date", "item_kind", "item_id").with_columns(
            order_line_id=pl.format(
                f"{plan.from_date:%Y%m%d}-{{}}",
                pl.int_range(1, pl.len() + 1).cast(pl.String).str.zfill(3),
            )
        )
        suppliers = store.records("suppliers")
        matched = store.query("three_way_match", as_of=plan.from_date)
        return cls(plan, solution, lines, program, suppliers, matched, Wording.of(program))

    def supplier(self, supplier_id: str) -> dict[str, Any]:
        """Record of a supplier."""
        return self.suppliers.row(by_predicate=pl.col("supplier_id") == supplier_id, named=True)

    def supplier_name(self, supplier_id: str) -> str:
        """Name of a supplier."""
        return self.plan.problem.suppliers[supplier_id].supplier_name

    def number(self, supplier_id: str) -> str:
        """Give the number of the purchase order to a supplier."""
        return f"{self.plan.from_date:%Y%m%d}-{supplier_id}"

    def count(self, value: int) -> Number:
        """Put a count in a cell."""
        return Number(float(value), words=self.wording.number(float(value)))

    def share(self, value: float, places: int = 1) -> Number:
        """Put a share in a cell."""
        code = number_format("share", places, self.wording)
        return Number(value, code, self.wording.share(value, places))

    def quantity(self, value: float, item_kind: str) -> Number:
        """Put bins or kilograms in a cell, the unit behind them."""
        words = quantity_words(value, item_kind, self.wording)
        return Number(value, quantity_format(item_kind, self.wording), words)

    def pack(self, value: float, item_kind: str) -> Number:
        """Put what a pack holds in a cell; a pound is no half kilogram."""
        if item_kind == "bins" or value == round(value, 1):
            return self.quantity(value, item_kind)
        words = f"{self.wording.number(value, 3)} kg"
        return Number(value, f'{number_format("", 3, self.wording)}" kg"', words)

    def money(self, value: float | None, words: str = "", places: int = 0) -> Number:
        """Put an amount in a cell; words where there is none."""
        display = words if value is None else self.wording.money(value, places)
        return money_cell(value, self.wording, places, display)

    def item_name(self, item_kind: str, item_id: str, packing: str = "") -> str:
        """Name an item as a supplier and a councillor would.

        Worms bear their species, and how they are packed unless plainly; bins the name of
        their model.
        """
        if item_kind == "bins":
            names = {model.model_id: model.model_name for model in self.program.bin_models}
            return names.get(item_id, item_id)
        if item_kind == "bedding":
            return said("order.item.bedding", material=material_words(item_id, paper()))
        name = said("order.item.worms", species=item_id)
        if not packing:
            return name
        return said("order.item.packed", item=name, packed=packing_words(packing))


def columns(names: str) -> tuple[str, ...]:
    """Head the columns of a table of an order."""
    return headed("order.column.", names)


def undone_words(plan: OrderPlan) -> list[str]:
    """Say what an order leaves undone: what an officer must know before anything else."""
    count = len(plan.demand.events.event_ids)
    found = []
    if without := len(events_without_worms(plan)):
        found.append(said("order.no_worms", without, days=count))
    if fewer := len(events_with_fewer_worms(plan)):
        found.append(said("order.fewer_worms", fewer, days=count))
    if goes_short_of_goods(plan):
        found.append(said("order.short_of_goods"))
    return found


def sure_words(level: float, plan: OrderPlan, wording: Wording) -> str:
    """Say a chance that no day runs short, and of which days it does not hold."""
    key = "order.sure_but" if undone_words(plan) else "order.sure"
    return said(key, share=wording.share(level))


def proof_of(solution: Solution, wording: Wording) -> tuple[str, str]:
    """Give the ending of the key that says how near to the cheapest a plan is, and the share.

    What a cheaper plan may save is rounded up, so that it holds as the most.
    """
    most = math.ceil(solution.gap * PER_MILLE - ROUNDING) / PER_MILLE
    ending = "ended" if solution.reached_limit else "near"
    return "cheapest" if solution.gap <= PROVEN else ending, wording.share(most, 1)


def without_cost(*, is_decided: bool) -> str:
    """Say that there is no plan, or that the search ended before it could tell."""
    return said("order.no_plan" if is_decided else "order.none_found")


def unit_of(item_kind: str, count: int = MANY) -> str:
    """Name the unit of an item's quantity."""
    return said("order.unit.bins", count) if item_kind == "bins" else "kg"


def quantity_words(value: float, item_kind: str, wording: Wording) -> str:
    """Write bins or kilograms with their unit."""
    places, count = (0, int(value)) if item_kind == "bins" else (1, MANY)
    return f"{wording.number(value, places)} {unit_of(item_kind, count)}"


def day_cell(day: dt.date | None, wording: Wording, words: str = "") -> Day:
    """Put a day in a cell so that no reader takes the day for the month."""
    words = words if day is None else wording.day(day)
    if wording.locale.language != "en":
        return Day(day, "dd/mm/yyyy", words)
    is_month_first = wording.locale.territory == "US"
    return Day(day, "ddd mmm d, yyyy" if is_month_first else "ddd d mmm yyyy", words)


def level_cell(level: float, wording: Wording) -> Number:
    """Put a chance in a cell; one that is all but sure is not shown as certain."""
    if ALL_BUT_SURE < level < SURE:
        return Number(None, words=f"> {wording.share(MOST_SHOWN, 1)}")
    return Number(level, number_format("share", 1, wording))


def quantity_format(item_kind: str, wording: Wording) -> str:
    """Write the format code of an item's quantity, its unit behind it."""
    if item_kind == "bins":
        return f'[=1]0" {unit_of("bins", 1)}";#,##0" {unit_of("bins")}"'
    return f'{number_format("", 1, wording)}" kg"'


def packing_words(packing: str) -> str:
    """Say how worms are packed, as it stands behind their name."""
    return said(f"order.packing.{packing or 'plain'}")


def option_words(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say one way to deal with heat and frost, and what it costs next to the order."""
    key = f"order.way.{option.way}"
    if option.way == "second_date" and not option.dates:
        key = "order.way.no_second_date"
    if option.way == "plain_packing" and not option.event_ids:
        key = "order.way.plain_enough"
    words = said(
        key,
        days=said("order.days", len(option.event_ids)),
        kilos=f"{wording.number(option.kilos, 1)} kg",
        later=listing([wording.day(day) for day in option.dates], most=6),
        packed=packing_words(option.packing),
    )
    return words if key == "order.way.no_second_date" else f"{words} {_cost(option, plan, wording)}"


def _cost(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say what a way costs beyond the order, and what is not in that cost."""
    if option.more_cost is None:
        unpriced = {"indoors": "no_indoor_price", "better_packing": "no_price"}
        return said(f"order.way.{unpriced.get(option.way, 'no_plan')}")
    key = "order.way.saves" if option.more_cost < 0.0 else "order.way.costs"
    cost = said(key, amount=wording.money(abs(option.more_cost)))
    if option.way == "second_date" and plan.settings.second_day_cost is None:
        return said("order.way.staff_apart", cost=cost)
    return cost
