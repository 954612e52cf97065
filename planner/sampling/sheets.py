"""The two workbooks of a drawn round: one to load, one to call from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.messages import say
from planner.tables import TABLES
from planner.workbooks import records_workbook

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.sampling.plan import SamplePlan

CONTACT_COLUMNS = ("full_name", "phone", "email", "street_address", "postcode")
NOTED_COLUMNS = ("called_on", "result", "note")
"""Empty columns in which those who call write."""


def samples_workbook(plan: SamplePlan) -> Workbook:
    """Workbook with the round and its sample, ready to be loaded.

    Parameters
    ----------
    plan
        The round that was drawn.
    """
    waves = pl.DataFrame(
        {
            "wave_id": [plan.asked.wave_id],
            "wave_kind": [plan.asked.kind],
            "opens_date": [plan.asked.opens_date],
            "closes_date": [plan.asked.closes_date],
            "follows_wave_id": [plan.asked.silent_of],
        },
        schema_overrides={"follows_wave_id": pl.String},
    )
    samples = plan.drawn.select(
        pl.lit(plan.asked.wave_id).alias("wave_id"),
        "household_id",
        "stratum",
        "cluster_id",
        "inclusion_probability",
    )
    sheets = {"waves": waves, "samples": samples}
    return records_workbook(
        {name: rows.select(TABLES[name].column_names()) for name, rows in sheets.items()}
    )


def calling_list(plan: SamplePlan, contacts: pl.DataFrame) -> Workbook:
    """Workbook to call from, a row a household in the order of its random number.

    Parameters
    ----------
    plan
        The round that was drawn.
    contacts
        Frame of tables.Contacts; those that it lacks have empty names and numbers.
    """
    ordered = plan.drawn.sort("stratum", "random_number", "household_id").select(
        pl.int_range(1, pl.len() + 1).over("stratum").alias("order_in_stratum"),
        "household_id",
        "stratum",
        "cluster_id",
    )
    details = contacts.select("household_id", *CONTACT_COLUMNS)
    rows = ordered.join(details, on="household_id", how="left", maintain_order="left")
    rows = rows.with_columns(
        pl.lit(None, dtype=pl.String).alias(name) for name in NOTED_COLUMNS
    ).select(
        "order_in_stratum",
        "stratum",
        "household_id",
        *CONTACT_COLUMNS,
        *NOTED_COLUMNS,
        *(["cluster_id"] if plan.asked.by_street else []),
    )
    note = "drawing.calls_by_street" if plan.asked.by_street else "drawing.calls"
    return records_workbook({"calls": rows}, note=say(note))
