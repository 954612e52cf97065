"""What an order and a nursery rest on: records, hand-over days, and who takes which bin."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import OrderError
from planner.messages import paper, say
from planner.ordering.demand import Demand, Events
from planner.program.money import SalesTax
from planner.store.opening import open_store
from planner.survey.attendance import attendance_law
from planner.tables.purchases import BREAKS, ITEM_KINDS
from planner.worms.run_in import starter_for_scraps_kg

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.factors import FactorTable
    from planner.ordering.request import OrderRequest
    from planner.program import Program
    from planner.program.ordering import Ordering


PEOPLE_UNKNOWN = 2.4
"""People in a household where none has registered; a round figure, no source."""


@dataclass(frozen=True)
class Inputs:
    """Rows of the store that an order rests on, by query or table."""

    events: pl.DataFrame
    suppliers: pl.DataFrame
    offers: pl.DataFrame
    committed: pl.DataFrame
    live_deliveries: pl.DataFrame
    reconciled: pl.DataFrame
    people: pl.DataFrame
    handed: pl.DataFrame
    turnout: pl.DataFrame
    promised: CasePromises


@dataclass(frozen=True)
class CasePromises:
    """What open cases promise: bins in place of dead ones, and worms to top bins up."""

    # households that wait for either
    bins_count: int = 0
    top_ups_count: int = 0
    # worms that a top-up took so far, the middle one; None before the first [kg]
    usual_top_up_kg: float | None = None

    def starters_count(self, starter_kg: float) -> int:
        """Count the starters that hold the worms of all top-ups, rounded up.

        Examples
        --------
        >>> CasePromises(0, 3, 0.2).starters_count(0.5), CasePromises(0, 3).starters_count(0.5)
        (2, 3)
        """
        needed_kg = self.top_ups_count * (self.usual_top_up_kg or starter_kg)
        return math.ceil(needed_kg / starter_kg - 1e-9)


def read_inputs(folder: Path, request: OrderRequest, program: Program) -> Inputs:
    """Read what an order rests on, as it is at the end of its first day, prices without tax.

    Raises
    ------
    StoreError
        The records cannot be read.
    OrderError
        All prices include tax by the program file, and a supplier says so apart.
    """
    before = request.until_date + dt.timedelta(days=1)
    next_day = request.from_date + dt.timedelta(days=1)
    with open_store(folder, read_only=True) as store:
        promised = CasePromises(*store.query("promised_by_cases", as_of=request.from_date).row(0))
        return Inputs(
            with_promised(
                store.query("upcoming_events", from_date=next_day, before_date=before),
                promised.bins_count,
            ),
            *prices_without_tax(store.records("suppliers"), store.records("offers"), program),
            store.query("orders_committed", as_of=request.from_date),
            store.query("live_deliveries", before_date=next_day),
            store.query("stock_reconciled", as_of=request.from_date),
            store.query("registered_people"),
            store.query("handovers_by_month", before_date=next_day),
            store.query("turnout_by_event", before_date=next_day),
            promised,
        )


def prices_without_tax(
    suppliers: pl.DataFrame, offers: pl.DataFrame, program: Program
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Take the tax out of the prices of suppliers who quote with it, so that all compare.

    A least order is of goods of any kind, so the common rate is taken off it.

    Raises
    ------
    OrderError
        All prices hold tax by the program file, and a supplier says so apart.
    """
    taxed = suppliers.filter("prices_include_tax")
    if taxed.is_empty():
        return suppliers, offers
    tax = SalesTax.of(program)
    if tax.is_included:
        raise OrderError(say("order.tax_said_twice", supplier=taxed["supplier_name"][0]))
    named = pl.col("prices_include_tax").fill_null(value=False)
    rates = {"minimum_order_amount": tax.share, "freight_per_delivery": tax.rate("freight")}
    rates["freight_per_pallet"] = rates["freight_per_delivery"]
    suppliers = suppliers.with_columns(
        pl.when(named).then(pl.col(name) / (1.0 + rate)).otherwise(name).alias(name)
        for name, rate in rates.items()
    )
    prices = ["price_per_pack", *(f"{name}_price_per_pack" for name in BREAKS)]
    of_kind = (
        pl.col("item_kind")
        .cast(pl.String)
        .replace_strict({kind: tax.rate(kind) for kind in ITEM_KINDS}, return_dtype=pl.Float64)
    )
    is_taxed = pl.col("supplier_id").is_in(taxed["supplier_id"].implode())
    divisor = pl.when(is_taxed).then(1.0 + of_kind).otherwise(1.0)
    return suppliers, offers.with_columns(pl.col(name) / divisor for name in prices)


def with_promised(events: pl.DataFrame, promised_count: int) -> pl.DataFrame:
    """Count households that wait for a bin in place of a dead one at the first day ahead.

    Examples
    --------
    >>> days = pl.DataFrame({"booked_count": [20, 0], "places_count": [30, 30]})
    >>> with_promised(days, 3).rows()
    [(23, 33), (0, 30)]
    """
    first = pl.int_range(pl.len()) == 0
    more = pl.when(first).then(promised_count).otherwise(0)
    has_bookings = pl.col("booked_count") > 0
    return events.with_columns(
        booked_count=pl.when(has_bookings).then(pl.col("booked_count") + more).otherwise(0),
        places_count=pl.col("places_count") + more,
    )


def with_top_ups(demand: Demand, starters_count: int) -> Demand:
    """Have worms for the top-ups come with those of the first day ahead."""
    needed = demand.show_ups_count.copy()
    needed[:1] += starters_count
    return replace(demand, show_ups_count=needed)


def promised_notes(promised: CasePromises) -> list[str]:
    """Say that what open cases promise is among what is needed."""
    notes = []
    if promised.bins_count:
        notes.append(paper().say("order.note.replaced", promised.bins_count))
    if promised.top_ups_count:
        usual = promised.usual_top_up_kg
        each = paper().say("order.note.each_a_starter")
        if usual:
            kilos = paper().decimal(float(f"{usual:.2g}"), "#,##0.###")
            each = paper().say("order.note.each_as_before", kilos=kilos)
        notes.append(paper().say("order.note.topped_up", promised.top_ups_count, each=each))
    return notes


def events_of(rows: pl.DataFrame, request: OrderRequest) -> Events:
    """Arrange the hand-over days ahead.

    Raises
    ------
    OrderError
        There are none.
    """
    if rows.is_empty():
        days = {"first": request.from_date, "last": request.until_date}
        raise OrderError(say("order.fail.no_days", **days))
    # a day of which places have been given out needs what those need, any other what it may need
    booked = pl.when(pl.col("booked_count") > 0).then("booked_count").otherwise("places_count")
    names = [venue or area for venue, area in rows.select("venue", "area_name").iter_rows()]
    return Events(
        tuple(rows["event_id"]),
        tuple(rows["event_date"]),
        tuple(names),
        rows.select(booked).to_series().to_numpy().astype(np.int64),
        tuple(rows.filter(pl.col("booked_count") == 0)["event_id"]),
    )


def with_own_turnout(program: Program, turnout: pl.DataFrame) -> Program:
    """Put the share that came to the council's own days in the place of the stated one.

    The stated share counts as much as a few bookings; `turnout` is query turnout_by_event.
    """
    if turnout.is_empty():
        return program
    settings, came = program.ordering, turnout["came_count"].to_numpy()
    law = attendance_law(came, came + turnout["absent_count"].to_numpy(), settings.show_up_share)
    learned = settings.model_copy(
        update={
            "show_up_share": law.expected_share,
            "show_up_likeness": law.expected_likeness,
        }
    )
    return program.model_copy(update={"ordering": learned})


def turnout_notes(events: Events, settings: Ordering, turnout: pl.DataFrame) -> list[str]:
    """Say what the numbers of households rest on."""
    notes = []
    if not turnout.is_empty():
        count = int(turnout.select(pl.sum_horizontal("came_count", "absent_count").sum()).item())
        share = paper().share(settings.show_up_share)
        days = turnout.height
        notes.append(paper().say("order.note.turnout", share=share, days=days, places=count))
    if events.unbooked_ids:
        unbooked, days = len(events.unbooked_ids), len(events.event_ids)
        notes.append(paper().say("order.note.unbooked", unbooked=unbooked, days=days))
    return notes


def people_per_household(rows: pl.DataFrame) -> float:
    """Mean people in a registered household; rows of the query registered_people."""
    households, people = rows.select("households_count", "people_count").row(0)
    return people / households if households else PEOPLE_UNKNOWN


def starter_kg(program: Program, factors: FactorTable, registered: pl.DataFrame) -> float:
    """Worms for a bin, by the program file's rule [kg].

    By mass it is the factor starter_kg, which sizes and reports take too: published, or
    worms_kg_per_bin of the program file. Of the people `registered` tells the query.
    """
    settings = program.ordering
    if settings.starter_rule == "mass":
        return factors.find("starter_kg").value
    return starter_for_scraps_kg(
        people_per_household(registered),
        settings.scraps_kg_per_person_week,
        settings.scraps_share_at_start,
        factors.find("feed_kg_per_kg_day").value,
        factors.find("startup_share").value,
    )


def model_shares(
    program: Program, handed: pl.DataFrame, allocated: Mapping[str, float]
) -> tuple[dict[str, float], list[str]]:
    """Share of households that take each bin model, and where it comes from.

    The program file comes first, then an allocation, then what was handed over so far;
    where there is none of these, every model alike.

    Parameters
    ----------
    handed
        Rows of the query handovers_by_month.
    allocated
        Bins by model of an allocation; empty where there is none.

    Raises
    ------
    OrderError
        The program file gives a share to a model that it does not have.
    """
    models = [model.model_id for model in program.bin_models]
    given = program.ordering.model_shares
    unknown = [model for model in given if model not in models]
    if unknown:
        message = say("order.fail.no_model", model=unknown[0], models=", ".join(models))
        raise OrderError(message)
    if given:
        return _shares(dict(given)), [paper().say("order.note.shares_stated")]
    so_far = dict(handed.group_by("model_id").agg(pl.col("bins_given").sum()).iter_rows())
    for counted, key in ((allocated, "shares_planned"), (so_far, "shares_so_far")):
        shares = {model: float(counted.get(model, 0.0)) for model in models}
        if any(shares.values()):
            return _shares(shares), [paper().say(f"order.note.{key}")]
    note = paper().say("order.note.shares_alike")
    return _shares(dict.fromkeys(models, 1.0)), [note] if len(models) > 1 else []


def _shares(weights: dict[str, float]) -> dict[str, float]:
    total = sum(weights.values())
    return {model: weight / total for model, weight in weights.items() if weight > 0.0}


ALLOCATION_FILE = "sizing/allocation.csv"
COLUMNS = ("model_id", "bins")


def read_allocated(folder: Path) -> dict[str, float]:
    """Sum the bins of each model in the allocation of `planner size`; empty without one.

    Raises
    ------
    OrderError
        The file is there and cannot be read as an allocation.
    """
    path = folder / ALLOCATION_FILE
    if not path.exists():
        return {}
    try:
        rows = pl.read_csv(path).select(COLUMNS).group_by("model_id").agg(pl.col("bins").sum())
    except (pl.exceptions.PolarsError, OSError) as error:
        message = say("order.fail.allocation", file=str(path))
        raise OrderError(message, path=str(path)) from error
    return {str(model): float(bins) for model, bins in rows.iter_rows()}
