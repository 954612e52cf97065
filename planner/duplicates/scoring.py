"""How likely two registrations are one household, and the reasons in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from rapidfuzz import process
from rapidfuzz.distance import JaroWinkler

from planner.messages import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

REPEATED_SHARE = 0.02
"""Share of households that register again; common practice, no source. It sets the score's
level, not the order of the pairs."""

LEAST_SCORE = 0.3
"""Pairs below are not proposed: most would be neighbours and namesakes."""

SAME_NAME, LIKE_NAME = 0.95, 0.85
SAME_STREET, LIKE_STREET = 0.92, 0.8
"""Jaro-Winkler similarities; common practice, no source."""

PAIRS_AT_ONCE = 1_000_000

LEVELS = {
    "phone": {"same_phone": (0.5, 2e-2, 1), "": (0.2, 0.2, 0), "other_phone": (0.3, 0.8, 0)},
    "email": {"same_mail": (0.4, 1e-2, 1), "": (0.3, 0.3, 0), "other_mail": (0.3, 0.7, 0)},
    "name": {
        "same_name": (0.55, 2e-4, 0),
        "similar_name": (0.1, 2e-3, 0),
        "a_name_in_common": (0.15, 1e-2, 0),
        "other_name": (0.2, 0.988, 0),
    },
    "place": {
        "same_address_one_dwelling": (0.65, 2e-3, 1),
        "same_address_several_dwellings": (0.65, 0.5, 1),
        "similar_address": (0.15, 2e-2, 1),
        "same_street_and_number_unit_missing": (0.05, 0.5, 1),
        "same_street": (0.05, 2e-3, 0),
        "other_address": (0.1, 0.998, 0),
    },
}
"""For each comparison and its outcome: how often it is so of one household; of two; and
whether the second is a count of others in the register and no share of it.

Weights of agreement after Fellegi and Sunter, A Theory for Record Linkage, JASA 64 (1969)
1183-1210. The shares are common practice, no source: the order of pairs depends little on
them, and nothing is merged without the officer's word.
"""


def score_pairs(spelled: pl.DataFrame, is_shared: pl.Series, pairs: pl.DataFrame) -> pl.DataFrame:
    """Score pairs and give their reasons.

    Parameters
    ----------
    spelled
        Frame of `proposing.normalise_contacts`.
    is_shared
        For each of its rows, whether the dwelling shares its address with others.
    pairs
        Frame of `proposing.candidate_pairs`.

    Returns
    -------
    DataFrame
        first, second, score between 0 and 1, reasons; the likeliest first, those below
        LEAST_SCORE left out.

    Notes
    -----
    With :math:`N` registrations, of which a share :math:`d` repeats another, two are one
    household at odds :math:`d/N`; each comparison multiplies them by how much oftener its
    outcome is seen of one household than of two. An address that :math:`c` others share by
    chance is seen of two households at :math:`c/N`.
    """
    count = spelled.height
    parts = [
        _scored(spelled, is_shared, pairs.slice(start, PAIRS_AT_ONCE), count)
        for start in range(0, max(pairs.height, 1), PAIRS_AT_ONCE)
    ]
    return pl.concat(parts).sort(
        ["score", "first", "second"], descending=[True, False, False], maintain_order=True
    )


def _scored(
    spelled: pl.DataFrame, is_shared: pl.Series, pairs: pl.DataFrame, count: int
) -> pl.DataFrame:
    first = spelled[pairs["first"]].with_columns(is_shared=is_shared[pairs["first"]])
    second = spelled[pairs["second"]]
    compared = pl.DataFrame(
        {
            "phone": _equal(first["phone"], second["phone"], "phone"),
            "email": _equal(first["email"], second["email"], "mail"),
            "name": _names(first, second),
            "place": _places(first, second),
        },
        schema=dict.fromkeys(LEVELS, pl.String),
    )
    bits = pl.sum_horizontal(_weights(name, count) for name in LEVELS)
    odds = REPEATED_SHARE / count * (2.0 ** pl.col("bits"))
    return (
        pl.concat([pairs, compared], how="horizontal")
        .with_columns(bits=bits)
        .with_columns(score=odds / (1.0 + odds), reasons=_reasons())
        .filter(pl.col("score") >= LEAST_SCORE)
        .select("first", "second", "score", "reasons")
    )


def _weights(name: str, count: int) -> pl.Expr:
    bits = {
        outcome: float(np.log2(of_one / (of_two / count if is_count else of_two)))
        for outcome, (of_one, of_two, is_count) in LEVELS[name].items()
    }
    return pl.col(name).replace_strict(bits, return_dtype=pl.Float64)


def _reasons() -> pl.Expr:
    words = {
        outcome: say(f"duplicates.why.{outcome}")
        for outcomes in LEVELS.values()
        for outcome in outcomes
        if outcome
    }
    telling = [
        pl.when(pl.col(name) != "").then(pl.col(name).replace(words))
        for name in ("place", "name", "phone", "email")
    ]
    return pl.concat_str(telling, separator=", ", ignore_nulls=True)


def _similarity(first: pl.Series, second: pl.Series) -> NDArray[np.float32]:
    return np.asarray(
        process.cpdist(
            first.to_list(),
            second.to_list(),
            scorer=JaroWinkler.similarity,
            dtype=np.float32,
            workers=-1,
        )
    )


def _equal(first: pl.Series, second: pl.Series, what: str) -> pl.Series:
    return pl.select(
        pl.when((first == "") | (second == ""))
        .then(pl.lit(""))
        .when(first == second)
        .then(pl.lit(f"same_{what}"))
        .otherwise(pl.lit(f"other_{what}"))
    ).to_series()


def _names(first: pl.DataFrame, second: pl.DataFrame) -> pl.Series:
    near = pl.Series(_similarity(first["name"], second["name"]))
    common = pl.concat(
        [first.select(a="name_words"), second.select(b="name_words")], how="horizontal"
    ).select(pl.col("a").list.set_intersection(pl.col("b")).list.len() > 0)
    return pl.select(
        pl.when(near >= SAME_NAME)
        .then(pl.lit("same_name"))
        .when(near >= LIKE_NAME)
        .then(pl.lit("similar_name"))
        .when(common.to_series())
        .then(pl.lit("a_name_in_common"))
        .otherwise(pl.lit("other_name"))
    ).to_series()


def _places(first: pl.DataFrame, second: pl.DataFrame) -> pl.Series:
    near = pl.Series(_similarity(first["street"], second["street"]))
    same_numbers = (first["numbers"] == second["numbers"]) & (first["numbers"] != "")
    same_postcode = first["postcode"] == second["postcode"]
    # with a unit beside the number of the house an address is of one dwelling
    is_shared = first["is_shared"] & ~first["numbers"].str.contains(" ")
    # one slip is forgiven: in the street, or in the postcode
    at_number = (
        same_numbers
        & pl.select(
            pl.when(same_postcode).then(near >= LIKE_STREET).otherwise(near >= SAME_STREET)
        ).to_series()
    )
    return pl.select(
        pl.when(same_numbers & same_postcode & (near >= SAME_STREET) & ~is_shared)
        .then(pl.lit("same_address_one_dwelling"))
        .when(same_numbers & same_postcode & (near >= SAME_STREET))
        .then(pl.lit("same_address_several_dwellings"))
        .when(at_number)
        .then(pl.lit("similar_address"))
        .when(_is_within(first["numbers"], second["numbers"]) & (near >= SAME_STREET))
        .then(pl.lit("same_street_and_number_unit_missing"))
        .when(near >= SAME_STREET)
        .then(pl.lit("same_street"))
        .otherwise(pl.lit("other_address"))
    ).to_series()


def _is_within(first: pl.Series, second: pl.Series) -> pl.Series:
    """Tell whether one address has all numbers of the other and more."""
    numbers = pl.DataFrame({"a": first.str.split(" "), "b": second.str.split(" ")})
    both = pl.col("a").list.set_intersection(pl.col("b")).list.len()
    fewer = pl.min_horizontal(pl.col("a").list.len(), pl.col("b").list.len())
    more = pl.max_horizontal(pl.col("a").list.len(), pl.col("b").list.len())
    is_within = numbers.select((both == fewer) & (more > fewer)).to_series()
    return is_within & (first != "") & (second != "")
