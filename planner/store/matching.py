"""Find personal details in texts as people write them: any case, accents, order, spaces.

Texts are compared as words without accents, as letters without spaces, and as digits alone.
"""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable

_SHORTEST_INSIDE = 8
"""Letters without spaces that are looked for within longer runs of letters."""

_SHORTEST_WORDS = 6
"""Letters of a detail that is looked for as whole words in anyone's text."""

_SHORTEST_NUMBER, _NATIONAL_NUMBER = 7, 9
"""Digits of a phone number: fewer are no proof; more begin with a country's code or a zero."""

_BETWEEN_DIGITS = r"[\s().\-/+]"

_ORDERED_WORDS = 4
"""Names of more words are looked for in the order in which they stand, and reversed."""

_LETTERS = {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th",
            "ı": "i"}  # fmt: skip
"""Letters that Unicode does not take apart into a letter and an accent."""


def words(text: pl.Expr) -> pl.Expr:
    """Write a text as words in small letters without accents, a space round each."""
    folded = text.str.normalize("NFKD").str.replace_all(r"\p{M}", "").str.to_lowercase()
    plain = folded.str.replace_many(list(_LETTERS), list(_LETTERS.values()))
    spaced = plain.str.replace_all(r"[^\p{L}\p{N}]+", " ").str.strip_chars()
    return pl.lit(" ") + spaced + pl.lit(" ")


class Details:
    """What is to be found: names, addresses, mails and numbers of some households.

    Parameters
    ----------
    texts
        Names, addresses, mails. A short one counts as a whole cell, and as whole words where
        the row is known to be the household's.
    """

    def __init__(
        self, texts: Iterable[str], numbers: Iterable[str], households: Iterable[str]
    ) -> None:
        self.whole = _worded(texts)
        self.households = sorted({key.casefold() for key in households})
        orders = {order for one in self.whole for order in _orders(one.split())}
        self._words = sorted(f" {one} " for one in orders if _letters(one) >= _SHORTEST_WORDS)
        given = pl.DataFrame({"text": sorted(orders)}, schema={"text": pl.String})
        long = given.filter(
            pl.col("text").str.replace_all(" ", "").str.len_chars() >= _SHORTEST_INSIDE
        )
        self._joined = long.select(_run_together(pl.col("text")))["text"].unique().sort().to_list()
        digits = {"".join(filter(str.isdecimal, one)).lstrip("0") for one in numbers}
        self._digits = sorted(
            one[-_NATIONAL_NUMBER:] for one in digits if len(one) >= _SHORTEST_NUMBER
        )
        parts = {part for one in self.whole for part in one.split()}
        self._parts = sorted(f" {one} " for one in {*parts} if len(one) > 1 and not one.isdecimal())

    def is_empty(self) -> bool:
        """Tell whether there is nothing to find: it is no longer known what was erased."""
        return not (self._words or self._joined or self._digits)

    def found_in(self, texts: pl.Series) -> pl.Series:
        """Mark the texts that hold a detail, whoever wrote them."""
        if texts.is_empty():  # most columns of a young store: nothing to set up a search for
            return pl.Series("held", [], dtype=pl.Boolean)
        text = pl.col("text").cast(pl.String)
        spaced = words(text)
        digits = text.str.replace_all(_BETWEEN_DIGITS, "")
        is_held = _any(spaced, self._words) | _any(_run_together(spaced), self._joined)
        found = (is_held | _any(digits, self._digits)).fill_null(value=False).alias("held")
        return texts.alias("text").to_frame().with_columns(found)["held"]

    def found_in_own_rows(self, texts: pl.Series) -> pl.Series:
        """Mark the texts of rows of the households that hold a detail or a part of a name."""
        part = _any(words(pl.col("text").cast(pl.String)), self._parts).fill_null(value=False)
        own = texts.alias("text").to_frame().with_columns(part.alias("own"))["own"]
        return self.found_in(texts) | own

    def is_whole(self, texts: pl.Series) -> pl.Series:
        """Mark the texts that are nothing but a detail, be it a short one."""
        spaced = words(pl.col("text").cast(pl.String)).str.strip_chars()
        is_one = spaced.is_in(self.whole).fill_null(value=False).alias("whole")
        return texts.alias("text").to_frame().with_columns(is_one)["whole"]


def _run_together(spaced: pl.Expr) -> pl.Expr:
    """Leave spaces out, but set numbers apart: 5 Main Street is no part of 15 Main Street."""
    return spaced.str.replace_all(r"\d+", "|$0|").str.replace_all(" ", "")


def _worded(texts: Iterable[str]) -> list[str]:
    given = pl.DataFrame({"text": list(texts)}, schema={"text": pl.String})
    found = given.select(words(pl.col("text")).str.strip_chars().alias("text"))["text"]
    return sorted({one for one in found.drop_nulls() if one and not one.isdecimal()})


def _orders(parts: list[str]) -> Iterable[str]:
    if len(parts) > _ORDERED_WORDS:
        return {" ".join(parts), " ".join(reversed(parts))}
    return {" ".join(order) for order in permutations(parts)}


def _letters(text: str) -> int:
    return len(text.replace(" ", ""))


def _any(text: pl.Expr, wanted: list[str]) -> pl.Expr:
    return text.str.contains_any(wanted) if wanted else pl.lit(value=False)
