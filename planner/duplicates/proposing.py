"""Pairs of households that may be one: found by what they share, scored, and proposed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.duplicates.scoring import score_pairs
from planner.duplicates.spelling import in_one_spelling, sound_code

if TYPE_CHECKING:
    from planner.store import Store

LARGEST_BLOCK = 60
"""A key that more registrations share, as the number of a school, tells nothing of them."""

LEAST_NAME_LETTERS = 3


def candidate_pairs(spelled: pl.DataFrame) -> pl.DataFrame:
    """Pairs of contacts that share a telephone number, a mail, an address or a name nearby.

    Keys are the telephone number; the mail; postcode, numbers and the sound of the street;
    postcode, numbers and the sound of a name; the sounds of a name and of the street. A
    slip of the pen in one of them leaves others.

    Parameters
    ----------
    spelled
        Frame of `spelling.in_one_spelling`.

    Returns
    -------
    DataFrame
        first, second: rows of `spelled`, first below second, each pair once.
    """
    rows = spelled.with_row_index("row")
    pairs = [_pairs(keys) for keys in _keys(rows)]
    return pl.concat(pairs).unique().sort("first", "second")


def _keys(rows: pl.DataFrame) -> list[pl.DataFrame]:
    """Rows with a key of each kind; a row without one, as without a telephone, is left out."""
    has_address = (pl.col("numbers") != "") & (pl.col("postcode") != "")
    place = pl.struct("postcode", "numbers")
    named = _by_name(rows)
    return [
        _keyed(rows, pl.col("phone") != "", pl.col("phone")),
        _keyed(rows, pl.col("email") != "", pl.col("email")),
        _keyed(rows, has_address, pl.struct(place, "street_sound")),
        _keyed(named, has_address, pl.struct(place, "name_sound")),
        _keyed(named, pl.col("street_sound") != "", pl.struct("name_sound", "street_sound")),
    ]


def _by_name(rows: pl.DataFrame) -> pl.DataFrame:
    """One row for each word of a name, with its sound."""
    words = rows.explode("name_words").filter(
        pl.col("name_words").str.len_chars() >= LEAST_NAME_LETTERS
    )
    return words.with_columns(name_sound=sound_code(pl.col("name_words")))


def _keyed(rows: pl.DataFrame, has_key: pl.Expr, key: pl.Expr) -> pl.DataFrame:
    return rows.filter(has_key).select("row", key=key.hash()).unique()


def _pairs(keyed: pl.DataFrame) -> pl.DataFrame:
    size = pl.len().over("key")
    shared = keyed.filter((size > 1) & (size <= LARGEST_BLOCK))
    both = shared.join(shared, on="key", suffix="_second")
    return both.filter(pl.col("row") < pl.col("row_second")).select(
        first="row", second="row_second"
    )


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
    different = store.query("decided_different")
    swapped = different.select(
        household_id_kept="household_id_other", household_id_other="household_id_kept"
    )
    pair = ["household_id_kept", "household_id_other"]
    return proposed.join(
        pl.concat([different, swapped]), on=pair, how="anti", maintain_order="left"
    )
