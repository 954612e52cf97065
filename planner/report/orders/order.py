"""An order as it is written: its items, days and chances in cells, and what it says in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.cells import Day, Number
from planner.ordering.plan import (
    events_with_fewer_worms,
    events_without_worms,
    goes_short_of_goods,
    order_lines,
)
from planner.report.wording import Wording, listing
from planner.report.workbook.formats import money_cell, number_format

if TYPE_CHECKING:
    import datetime as dt

    from planner.ordering.climate import ClimateOption
    from planner.ordering.plan import OrderPlan
    from planner.ordering.solving import Solution
    from planner.program import Program
    from planner.report.wording import Wording


MOST_SHOWN, ALL_BUT_SURE = 0.999, 0.9995


@dataclass(frozen=True)
class PurchaseRecords:
    """What the store says of a purchase beside the plan.

    Parameters
    ----------
    suppliers
        Frame of tables.Suppliers.
    matched
        Query three_way_match.
    """

    suppliers: pl.DataFrame
    matched: pl.DataFrame

    def supplier(self, supplier_id: str) -> dict[str, Any]:
        """Record of a supplier."""
        return self.suppliers.row(by_predicate=pl.col("supplier_id") == supplier_id, named=True)


@dataclass(frozen=True)
class Order:
    """An order as it is written: a plan, its numbered lines, and who orders.

    Parameters
    ----------
    plan, solution
        What is planned, and the plan that was found for it.
    lines
        Lines with order_line_id, in order of supplier and delivery.
    program
        Names the council, its bin models and its currency.
    records
        What the store says of suppliers, and of orders against deliveries and invoices.
    wording
        Money, days and numbers as the council writes them.
    """

    plan: OrderPlan
    solution: Solution
    lines: pl.DataFrame
    program: Program
    records: PurchaseRecords
    wording: Wording

    @classmethod
    def of(cls, plan: OrderPlan, program: Program, records: PurchaseRecords) -> Order:
        """Make an order of a plan, its lines numbered.

        Raises
        ------
        ValueError
            The plan has no solution.
        """
        if plan.solution is None:
            message = "an order without a plan has no files"
            raise ValueError(message)
        lines = order_lines(plan.solution)
        lines = lines.sort("supplier_id", "delivery_date", "item_kind", "item_id").with_columns(
            order_line_id=pl.format(
                f"{plan.from_date:%Y%m%d}-{{}}",
                pl.int_range(1, pl.len() + 1).cast(pl.String).str.zfill(3),
            )
        )
        return cls(plan, plan.solution, lines, program, records, Wording.of(program))

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
        places = 0 if item_kind == "bins" else 1
        unit = "bin" if item_kind == "bins" and value == 1.0 else unit_of(item_kind)
        words = f"{self.wording.number(value, places)} {unit}"
        return Number(value, quantity_format(item_kind, self.wording), words)

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
        if item_kind == "worms":
            packed = f", {PACKING_WORDS[packing]}" if packing else ""
            return f"Live worms, {item_id}{packed}"
        return f"Bedding, dry {item_id}"


def undone_words(plan: OrderPlan) -> list[str]:
    """Say what an order leaves undone: what an officer must know before anything else."""
    count = len(plan.demand.events.event_ids)
    found = []
    if without := len(events_without_worms(plan)):
        found.append(f"{without} of {count} hand-over days get no live worms by this order.")
    if fewer := len(events_with_fewer_worms(plan)):
        days = "hand-over day gets" if fewer == 1 else f"of {count} hand-over days get"
        found.append(f"{fewer} {days} worms for fewer households than are expected.")
    if goes_short_of_goods(plan):
        found.append("Some hand-over days go short of bins or bedding.")
    return found


def sure_words(level: float, plan: OrderPlan, wording: Wording) -> str:
    """Say a chance that no day runs short, and of which days it does not hold."""
    spared = ", but for those named first" if undone_words(plan) else ""
    return f"{wording.share(level)} sure that no day runs short of anything{spared}"


def without_cost(*, is_decided: bool) -> str:
    """Say that there is no plan, or that the search ended before it could tell."""
    return "no plan" if is_decided else "none found before the search ended"


def unit_of(item_kind: str) -> str:
    """Name the unit of an item's quantity."""
    return "bins" if item_kind == "bins" else "kg"


def day_cell(day: dt.date | None, wording: Wording, words: str = "") -> Day:
    """Put a day in a cell so that no reader takes the day for the month."""
    words = words if day is None else wording.day(day)
    if wording.locale.language != "en":
        return Day(day, "dd/mm/yyyy", words)
    is_month_first = wording.locale.territory == "US"
    return Day(day, "ddd mmm d, yyyy" if is_month_first else "ddd d mmm yyyy", words)


def level_cell(level: float, wording: Wording) -> Number:
    """Put a chance in a cell; one that is all but sure is not shown as certain."""
    if ALL_BUT_SURE < level < 1.0:
        return Number(None, words=f"> {wording.share(MOST_SHOWN, 1)}")
    return Number(level, number_format("share", 1, wording))


def quantity_format(item_kind: str, wording: Wording) -> str:
    """Write the format code of an item's quantity, its unit behind it."""
    if item_kind == "bins":
        return '[=1]0" bin";#,##0" bins"'
    return f'{number_format("", 1, wording)}" kg"'


PACKING_WORDS = {
    "": "plainly packed",
    "insulated": "in insulated boxes",
    "cold_pack": "in insulated boxes with cold packs",
    "heat_pack": "in insulated boxes with heat packs",
}
"""How worms are packed, as it stands behind their name."""


def option_words(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say one way to deal with heat and frost, and what it costs next to the order."""
    days = _days(option)
    kilos = f"{wording.number(option.kilos, 1)} kg"
    later = listing([wording.day(day) for day in option.dates], most=6)
    if option.way == "second_date" and not option.dates:
        return (
            f"No day on which worms may travel follows {days} ({kilos}) within a year: have them "
            "fetched from a farm, or plan other days."
        )
    by_way = {
        "plain_packing": "Plain packing alone: "
        + (f"{days} would get no worms ({kilos})." if option.event_ids else "worms on every day."),
        "better_packing": f"Ask for worms {PACKING_WORDS[option.packing]}: {days} without worms "
        f"could have theirs ({kilos}). Nobody offers it yet; load a quote and plan again.",
        "later": f"Worms later by voucher for {days} ({kilos}), handed over on {later}.",
        "second_date": f"A second date for {days} ({kilos}), {later} at the earliest, with a "
        "delivery of its own.",
        "indoors": f"Hold {days} indoors or in deep shade: the open air is likely too hot, or "
        "frozen all day, for open bags of worms.",
    }
    return f"{by_way[option.way]} {_cost(option, plan, wording)}"


def _days(option: ClimateOption) -> str:
    count = len(option.event_ids)
    return f"{count} hand-over {'day' if count == 1 else 'days'}"


def _cost(option: ClimateOption, plan: OrderPlan, wording: Wording) -> str:
    """Say what a way costs beyond the order, and what is not in that cost."""
    if option.more_cost is None:
        return {
            "indoors": "No price yet: name indoor_cost_per_day under [ordering] of program.toml.",
            "better_packing": "No price yet.",
        }.get(option.way, "No plan with it was found.")
    amount = wording.money(abs(option.more_cost))
    cost_words = f"It saves {amount}." if option.more_cost < 0.0 else f"It costs {amount} more."
    if option.way == "second_date" and plan.settings.second_day_cost is None:
        return f"{cost_words} Staff and venue are not in it (second_day_cost of program.toml)."
    return cost_words
