"""All record tables of a town, right and complete, as they would be without mistakes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.tables import TABLES
from sample_programs.generator.aftercare_records import (
    dead_bins,
    held_workshops,
    issued,
    made_calls,
    paid_for,
    shared_bins,
    told_cases,
)
from sample_programs.generator.bookings import (
    at_the_door,
    bookings,
    delivery_day,
    drop_points,
    registrations,
)
from sample_programs.generator.contacts import invent_contacts
from sample_programs.generator.field_records import audited_clusters, ledger, returned_bins
from sample_programs.generator.giving import coming_events
from sample_programs.generator.offers import purchase_tables
from sample_programs.generator.survey_records import survey_tables

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_NOT_KEPT = {"handovers": "bins_count", "answers": "prior_main_route"}
"""Columns that these councils leave empty: they write a row for each bin, and ask for shares."""


def area_rows(simulation: Simulation) -> pl.DataFrame:
    """Describe the town's areas."""
    columns = list(TABLES["areas"].columns())
    rows = [{name: getattr(place, name) for name in columns} for place in simulation.town.areas]
    return pl.DataFrame(rows)


def records(simulation: Simulation) -> dict[str, pl.DataFrame]:
    """Write every record table but `contacts` from a simulation.

    Returns
    -------
    dict of pl.DataFrame
        One frame a table, with the columns and types of ``planner.tables``; what the
        council could know, with the faults of answers but without mistyped rows.
    """
    survey, held = survey_tables(simulation), simulation.events
    cases, shared = told_cases(simulation), shared_bins(simulation)
    booked = ledger(simulation, survey["waves"], survey["samples"])
    extra = paid_for(simulation, cases, shared["site_bins"]).select(booked.columns)
    tables = {
        "areas": area_rows(simulation),
        "households": simulation.households,
        "events": _announced(
            held,
            coming_events(simulation.town, simulation.calendar, held),
            delivery_day(simulation),
        ),
        "drop_points": drop_points(simulation),
        "registrations": registrations(simulation),
        "bookings": bookings(simulation),
        "handovers": simulation.bins,
        "givebacks": dead_bins(cases, returned_bins(simulation)),
        **survey,
        "samples": survey["samples"].filter("is_drawn"),
        "audits": audited_clusters(simulation),
        "costs": pl.concat([booked, extra]).sort("cost_date", maintain_order=True),
        **purchase_tables(simulation, issued(simulation, cases, shared["site_bins"])),
        "calls": made_calls(simulation),
        "cases": cases,
        **shared,
        **held_workshops(simulation),
    }
    return {name: conform(name, frame) for name, frame in tables.items()}


def records_with_contacts(simulation: Simulation) -> dict[str, pl.DataFrame]:
    """Write every record table that the towns keep, in the order of the contracts."""
    tables = records(simulation)
    tables["contacts"] = conform(
        "contacts", invent_contacts(simulation).join(at_the_door(simulation), on="household_id")
    )
    return {name: tables[name] for name in TABLES if name in tables}


def conform(name: str, frame: pl.DataFrame) -> pl.DataFrame:
    """Take a table's own columns in the contract's order, in its types."""
    columns = TABLES[name].columns()
    if name in _NOT_KEPT:
        frame = frame.with_columns(pl.lit(None).alias(_NOT_KEPT[name]))
    return frame.select(pl.col(column).cast(declared.dtype) for column, declared in columns.items())


def _announced(held: pl.DataFrame, coming: pl.DataFrame, delivery: pl.DataFrame) -> pl.DataFrame:
    """Put all days together: held, to come, one that was cancelled, a delivery."""
    cancelled = coming.tail(1).with_columns(
        event_id=pl.col("event_id") + "X",
        event_date=pl.col("event_date").dt.offset_by("14d"),
        event_status=pl.lit("cancelled"),
    )
    empty = pl.lit(None, pl.String)
    days = pl.concat([held, coming]).with_columns(event_status=empty)
    announced = [days, cancelled.select(days.columns), delivery]
    return pl.concat(announced, how="diagonal_relaxed")
