"""Invented people: names put together from invented syllables, numbers kept for fiction.

Telephone numbers lie in the ranges that regulators keep for drama (Australia: ACMA,
07 5550 and 07 7010; United Kingdom: Ofcom, 01632 960 and 07700 900; both from memory).
Spain keeps none, so nobody has one there. Mail goes to names reserved by RFC 2606.
Postcodes lie outside the allotted ones (from memory).
"""

from __future__ import annotations

import operator
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_ONSETS = ("Br", "Dal", "El", "Fen", "Gri", "Hal", "Jor", "Kes", "Lun", "Mir", "Nev", "Or", "Pel",
           "Quin", "Ros", "Sel", "Tam", "Ul", "Vas", "Wil", "Yor", "Zan")  # fmt: skip
_MIDDLES = ("a", "e", "i", "o", "u", "ara", "ine", "olo", "uva")
_ENDS = ("bric", "dell", "ka", "lune", "met", "nor", "pho", "quil", "rin", "sket", "thar", "vane")
_STREET_HEADS = ("Ample", "Burdle", "Cobble", "Dapple", "Ember", "Fiddle", "Gaggle", "Hobble",
                 "Inkle", "Jumble", "Kettle", "Lantern", "Muddle", "Nettle")  # fmt: skip
_STREET_TAILS = ("down", "fold", "garth", "mere", "shaw", "well", "wick")


@dataclass(frozen=True)
class Local:
    """How a country writes an address and a telephone number."""

    street_word: str
    number_first: bool
    postcodes: tuple[str, ...]
    phone_heads: tuple[str, ...]
    phone_digits_count: int


_LOCALS = {
    "en_AU": Local(" Street", True, ("0101", "0102", "0103", "0104"),
                   ("07 5550 ", "07 7010 "), 4),
    "en_GB": Local(" Road", True, ("ZZ1 1ZZ", "ZZ1 2ZZ", "ZZ2 1ZZ", "ZZ2 3ZZ"),
                   ("01632 960", "07700 900"), 3),
    "es_ES": Local("Calle ", False, ("99001", "99002", "99003"), (), 0),
}  # fmt: skip


def _joined(rng: np.random.Generator, count: int, *groups: tuple[str, ...]) -> pl.Series:
    """Join one syllable of each group, drawn anew for every name."""
    parts = [pl.Series(np.array(group)[rng.integers(0, len(group), count)]) for group in groups]
    return reduce(operator.add, parts)


def _names(rng: np.random.Generator, count: int) -> pl.Series:
    return _joined(rng, count, _ONSETS, _MIDDLES, _ENDS)


def invent_contacts(simulation: Simulation) -> pl.DataFrame:
    """Invent the personal details of every registered household."""
    rng = stream(simulation.seed, "contacts")
    local = _LOCALS[simulation.town.council.country_locale]
    ids = simulation.households["household_id"]
    count = len(ids)
    areas = simulation.households["area_index"].to_numpy() % len(local.postcodes)
    frame = pl.DataFrame(
        {
            "household_id": ids,
            "first": _names(rng, count),
            "last": _names(rng, count),
            "street": _joined(rng, count, _STREET_HEADS, _STREET_TAILS),
            "number": rng.integers(1, 180, count),
            "postcode": np.array(local.postcodes)[areas],
            "has_email": rng.random(count) < 0.8,
            "phone": _phones(local, rng, count),
        }
    )
    serial = ids.str.extract(r"(\d+)$")
    email = pl.concat_str(
        pl.col("first").str.to_lowercase(), pl.lit("."), serial, pl.lit("@mail.example")
    )
    return frame.select(
        "household_id",
        full_name=pl.concat_str("first", "last", separator=" "),
        street_address=pl.concat_str(*_address(local)),
        postcode="postcode",
        email=pl.when("has_email").then(email),
        phone="phone",
    )


def _address(local: Local) -> tuple[pl.Expr, ...]:
    street, number = pl.col("street"), pl.col("number").cast(pl.String)
    word = pl.lit(local.street_word)
    if local.number_first:
        return number, pl.lit(" "), street, word
    return word, street, pl.lit(", "), number


def _phones(local: Local, rng: np.random.Generator, count: int) -> pl.Series:
    if not local.phone_heads:
        return pl.Series([None] * count, dtype=pl.String)
    heads = pl.Series(np.array(local.phone_heads)[rng.integers(0, len(local.phone_heads), count)])
    tails = pl.Series(rng.integers(0, 10**local.phone_digits_count, count)).cast(pl.String)
    phones = heads + tails.str.zfill(local.phone_digits_count)
    known = pl.Series(rng.random(count) < 0.85)
    return pl.select(pl.when(known).then(phones)).to_series()
