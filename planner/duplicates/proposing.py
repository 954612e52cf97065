"""Propose pairs of registrations: the contacts compared, with what the officer must see."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.duplicates.blocking import candidate_pairs
from planner.duplicates.scoring import score_pairs
from planner.duplicates.spelling import in_one_spelling

if TYPE_CHECKING:
    from planner.store import Store

SHARED_ADDRESS = ("apartment",)
"""Dwellings that share their number in the street with others."""


def propose_pairs(store: Store) -> pl.DataFrame:
    """Find registrations that are likely one household and have not been decided.

    Of two, the one that registered first is to be kept.

    Parameters
    ----------
    store
        Open store; its contacts are read.

    Returns
    -------
    DataFrame
        One row a pair, the likeliest first: score, reasons, and for the one kept and the
        other household_id, name, address, registered date and bins.
    """
    contacts = _registered(store)
    is_shared = contacts["dwelling"].cast(pl.String).is_in(SHARED_ADDRESS)
    details = contacts.select(store.records("contacts").columns)
    spelled = in_one_spelling(details)
    pairs = score_pairs(spelled, is_shared, candidate_pairs(spelled))
    shown = contacts.select(
        "household_id",
        name="full_name",
        address=pl.format("{}, {}", "street_address", "postcode"),
        registered="registered_date",
        bins="bins_count",
    )
    kept = shown[pairs["first"]].select(pl.all().name.suffix("_kept"))
    other = shown[pairs["second"]].select(pl.all().name.suffix("_other"))
    proposed = pl.concat([pairs.drop("first", "second"), kept, other], how="horizontal")
    return _undecided(store, proposed)


def _registered(store: Store) -> pl.DataFrame:
    """Contacts with their registration and bins, in the order of registering."""
    bins = (
        store.records("handovers")
        .group_by("household_id")
        .agg(pl.len().cast(pl.Int64).alias("bins_count"))
    )
    households = store.records("households").select("household_id", "dwelling", "registered_date")
    return (
        store.records("contacts")
        .join(households, on="household_id")
        .join(bins, on="household_id", how="left")
        .with_columns(pl.col("bins_count").fill_null(0))
        .sort("registered_date", "household_id")
    )


def _undecided(store: Store, proposed: pl.DataFrame) -> pl.DataFrame:
    told = store.query("decided_different")
    swapped = told.select(
        household_id_kept="household_id_other", household_id_other="household_id_kept"
    )
    pair = ["household_id_kept", "household_id_other"]
    return proposed.join(pl.concat([told, swapped]), on=pair, how="anti", maintain_order="left")
