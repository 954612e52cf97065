"""A register of invented people in which some households have registered twice.

Names and streets are invented syllables. Names are as unequal as in life: the commonest
surname has a share of about one in a hundred. What changes between two registrations of
one household was chosen here, not taken from the shares that the scores use.
"""

from __future__ import annotations

import numpy as np
import polars as pl

ONSETS = np.array(["br", "d", "f", "gr", "h", "k", "l", "m", "n", "p", "r", "s", "t", "v", "w"])
VOWELS = np.array(["a", "e", "i", "o", "u", "ai", "ou"])
CODAS = np.array(["ck", "d", "ld", "n", "nd", "r", "rt", "s", "st", "th", "x"])
ENDS = np.array(["ber", "by", "den", "field", "ley", "man", "more", "son", "ton", "wick"])
STREET_KINDS = ("Street", "Road", "Avenue", "Lane", "Close")
SHORT_KINDS = ("St", "Rd.", "Ave", "Ln", "Cl")

REPEATED_SHARE = 0.02
FLATS_SHARE = 0.25
HOUSES_OF_A_STREET = 160
NEW_TENANTS_SHARE = 0.005
"""Households that live where another registered before them: they are two."""


def invented(rng, count):
    """Distinct words of three syllables' parts."""
    wanted = int(count * 1.5) + 50
    parts = [group[rng.integers(0, group.size, wanted)] for group in (ONSETS, VOWELS, CODAS, ENDS)]
    words = np.char.add(np.char.add(parts[0], parts[1]), np.char.add(parts[2], parts[3]))
    known = np.unique(words)
    if known.size < count:
        more = np.char.add(rng.permutation(known)[: count - known.size], "s")
        known = np.unique(np.concatenate([known, more]))
    return np.char.title(rng.permutation(known)[:count])


def unequal(rng, words, count):
    """Draw words of which the first are the commonest."""
    chances = 1.0 / (np.arange(words.size) + 10.0)
    return words[rng.choice(words.size, count, p=chances / chances.sum())]


def misspelled(rng, words):
    """Swap two neighbouring letters of each word, not the first."""
    place = rng.integers(1, 3, len(words))
    return [
        word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        for word, at in zip(words, place, strict=True)
    ]


def register(households_count, seed):
    """Contacts of a register, whether each lives in a flat, and which pairs are one household.

    Returns
    -------
    tuple
        Frame of tables.Contacts; series of booleans; frame of first and second, rows of
        the frame.
    """
    rng = np.random.default_rng(seed)
    repeated = int(households_count * REPEATED_SHARE)
    base = _base(rng, households_count)
    who = rng.permutation(households_count)[:repeated]
    again = _again(rng, base[who])
    frame = pl.concat([base, again]).with_columns(
        household_id=pl.format("H{}", pl.int_range(pl.len()))
    )
    address = pl.format("{} {} {}", "number", "street", "kind")
    full = pl.when(pl.col("unit") > 0).then(pl.format("Flat {}, {}", "unit", address))
    contacts = frame.select(
        "household_id",
        full_name=pl.format("{} {}", "given", "family"),
        street_address=full.otherwise(address),
        postcode="postcode",
        email="email",
        phone="phone",
    )
    pairs = pl.DataFrame(
        {"first": who.astype(np.uint32), "second": np.arange(repeated, dtype=np.uint32)},
    ).with_columns(second=(pl.col("second") + households_count).cast(pl.UInt32))
    return contacts, frame["is_flat"], pairs


def _base(rng, count):
    streets = invented(rng, max(20, count // 40))
    family = unequal(rng, invented(rng, 4000), count)
    given = unequal(rng, invented(rng, 400), count)
    kinds = rng.integers(0, len(STREET_KINDS), streets.size)
    is_flat = rng.random(count) < FLATS_SHARE
    # a dwelling each; flats lie in the first houses of a street, forty to a house
    place = rng.permutation(streets.size * HOUSES_OF_A_STREET)[:count]
    street, number = np.divmod(place, HOUSES_OF_A_STREET)
    unit = number % 40 + 1
    number = np.where(is_flat, number // 40 + 1, number + 10)
    moved_in = rng.permutation(count)[: int(count * NEW_TENANTS_SHARE)]
    former = (moved_in + 1) % count
    for one in (street, number, unit, is_flat):
        one[moved_in] = one[former]
    mail = np.char.add(np.char.lower(family), rng.integers(1, 10**7, count).astype(str))
    return pl.DataFrame(
        {
            "given": given,
            "family": family,
            "number": number,
            "unit": np.where(is_flat, unit, 0),
            "is_flat": is_flat,
            "street": streets[street],
            "kind": np.array(STREET_KINDS)[kinds[street]],
            "postcode": (10_000 + street // 20).astype(str),
            "email": np.char.add(mail, "@example.net"),
            "phone": np.char.add("07", rng.integers(10**8, 10**9, count).astype(str)),
        }
    ).with_columns(
        email=pl.when(pl.Series(rng.random(count) < 0.75)).then(pl.col("email")),
        phone=pl.when(pl.Series(rng.random(count) < 0.85)).then(pl.col("phone")),
    )


def _again(rng, base):
    """Register households again: another spelling, a partner, a new number, a new home."""
    count = base.height
    new = _base(rng, count)
    chance = {name: pl.Series(rng.random(count)) for name in ("name", "street", "unit", "home")}
    keeps = {name: pl.Series(rng.random(count)) for name in ("email", "phone")}
    family = pl.Series(misspelled(rng, base["family"].to_list()))
    street = pl.Series(misspelled(rng, base["street"].to_list()))
    given = new["given"]
    short = pl.col("kind").replace_strict(dict(zip(STREET_KINDS, SHORT_KINDS, strict=True)))
    changed = base.with_columns(
        given=pl.when(chance["name"] < 0.7).then(pl.col("given")).otherwise(given),
        family=pl.when(chance["name"].is_between(0.55, 0.7))
        .then(family)
        .when(chance["name"] > 0.9)
        .then(new["family"])
        .otherwise(pl.col("family")),
        street=pl.when(chance["street"] < 0.1).then(street).otherwise(pl.col("street")),
        kind=pl.when(chance["street"] > 0.5).then(short).otherwise(pl.col("kind")),
        unit=pl.when(chance["unit"] < 0.2).then(pl.lit(0)).otherwise(pl.col("unit")),
        **{
            name: pl.when(keep < 0.55).then(pl.col(name)).when(keep > 0.7).then(new[name])
            for name, keep in keeps.items()
        },
    )
    moved = chance["home"] < 0.03
    home = ("number", "unit", "street", "kind", "postcode")
    return changed.with_columns(
        pl.when(moved).then(new[name]).otherwise(pl.col(name)).alias(name) for name in home
    ).select(base.columns)
