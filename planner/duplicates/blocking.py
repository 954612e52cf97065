"""Pairs worth a comparison: those that share a key, of which there are several kinds."""

from __future__ import annotations

import polars as pl

from planner.duplicates.spelling import sound_code

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
