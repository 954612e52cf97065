"""The contract of every record table, declared once: name, type, unit, meaning, limits.

Headings of an intake file, columns of the store, fields of frames and the officer's
empty workbook all come from here. A column's ``unit`` and ``meaning`` stand in its
metadata; ``references`` names the table whose key a column must find there.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import dataframely as dy
import polars as pl

DWELLINGS = ("house", "townhouse", "apartment")
KERBSIDE_SERVICES = ("residual_only", "garden_organics", "food_and_garden_organics")
CHANNELS = ("online", "phone", "counter", "event", "letter", "other")
GIVEBACK_REASONS = ("moved", "no_time", "worms_died", "smell", "flies", "no_space", "other")
WAVE_KINDS = ("baseline", "followup")
PROBLEMS = (
    "none",
    "flies",
    "smell",
    "too_wet",
    "too_dry",
    "worms_died",
    "worms_escaped",
    "rodents",
    "ants",
    "other",
)
ARMS = ("given", "comparison")
PERIODS = ("before", "after")
COST_CATEGORIES = (
    "bins",
    "worms",
    "bedding",
    "freight",
    "staff",
    "workshops",
    "events",
    "survey",
    "communication",
    "copayments_received",
    "other",
)
SHARE_SUM_TOLERANCE = 0.011
"""Five shares written to two decimals may miss 1 by a hundredth."""

FIRST_DATE = dt.date(2000, 1, 1)
LAST_DATE = dt.date(2099, 12, 31)


def _note(meaning: str, unit: str = "", references: str = "") -> dict[str, Any]:
    return {"meaning": meaning, "unit": unit, "references": references}


def _key(meaning: str, references: str = "") -> dy.String:
    return dy.String(
        primary_key=True, min_length=1, max_length=60, metadata=_note(meaning, "", references)
    )


def _text(meaning: str, *, nullable: bool = False) -> dy.String:
    return dy.String(nullable=nullable, min_length=1, max_length=200, metadata=_note(meaning))


def _link(meaning: str, references: str, *, nullable: bool = False) -> dy.String:
    return dy.String(
        nullable=nullable, min_length=1, max_length=60, metadata=_note(meaning, "", references)
    )


def _code(codes: tuple[str, ...], meaning: str, *, nullable: bool = False) -> dy.Enum:
    return dy.Enum(codes, nullable=nullable, metadata=_note(meaning))


def _date(meaning: str, *, nullable: bool = False) -> dy.Date:
    return dy.Date(nullable=nullable, min=FIRST_DATE, max=LAST_DATE, metadata=_note(meaning))


def _count(meaning: str, most: int, *, least: int = 0, nullable: bool = False) -> dy.Int64:
    return dy.Int64(nullable=nullable, min=least, max=most, metadata=_note(meaning, "count"))


def _measure(
    meaning: str, unit: str, most: float, *, least: float = 0.0, nullable: bool = False
) -> dy.Float64:
    return dy.Float64(nullable=nullable, min=least, max=most, metadata=_note(meaning, unit))


def _flag(meaning: str, *, nullable: bool = False) -> dy.Bool:
    return dy.Bool(nullable=nullable, metadata=_note(meaning))


class Areas(dy.Schema):
    """A reporting area: a ward or a suburb."""

    area_id = _key("short code of the area, the same in every table")
    area_name = _text("name of the area as it should stand on reports")
    houses_count = _count("households in detached houses", 5_000_000)
    townhouses_count = _count("households in townhouses, terraces, semi-detached", 5_000_000)
    apartments_count = _count("households in apartments or flats", 5_000_000)
    residents_count = _count("people who live in the area", 20_000_000)
    kerbside_service = _code(KERBSIDE_SERVICES, "what the council collects beside recycling")
    is_priority = _flag("area that the council wants served first")


class Households(dy.Schema):
    """A registered household, without any personal detail."""

    household_id = _key("number or code of the household; never a name or address")
    area_id = _link("area in which it lives", "areas")
    dwelling = _code(DWELLINGS, "kind of dwelling")
    people_count = _count("people in the household", 30, least=1)
    registered_date = _date("day on which it registered")
    channel = _code(CHANNELS, "how it registered", nullable=True)
    may_contact = _flag("it agreed to be contacted again")


class Contacts(dy.Schema):
    """A household's personal details; kept apart from every other record."""

    household_id = _key("household whose details these are", "households")
    full_name = _text("name of the person registered")
    street_address = _text("street and number")
    postcode = _text("postcode")
    email = _text("electronic mail address", nullable=True)
    phone = _text("telephone number", nullable=True)


class Events(dy.Schema):
    """A hand-over day."""

    event_id = _key("code of the hand-over day")
    area_id = _link("area in which it is held", "areas", nullable=True)
    event_date = _date("day of the hand-over")
    places_count = _count("households that can be served", 100_000, least=1)
    venue = _text("where it is held", nullable=True)


class Handovers(dy.Schema):
    """One bin given to a household."""

    handover_id = _key("number of the hand-over, one for each bin")
    household_id = _link("household that took the bin", "households")
    event_id = _link("hand-over day, where there was one", "events", nullable=True)
    model_id = _text("bin model, as named in program.toml")
    handover_date = _date("day on which the household took the bin")
    worms_kg = _measure("mass of worms given with the bin", "kg", 5.0)
    bedding_kg = _measure("mass of dry bedding given with the bin", "kg", 50.0)
    copayment = _measure("what the household paid", "currency", 10_000.0, nullable=True)
    serial = _text("serial number of the bin", nullable=True)


class Givebacks(dy.Schema):
    """A bin that came back or is known to be out of use."""

    handover_id = _key("hand-over of the bin", "handovers")
    giveback_date = _date("day on which it came back or went out of use")
    reason = _code(GIVEBACK_REASONS, "why", nullable=True)
    is_reissued = _flag("the bin was given to another household")


class Waves(dy.Schema):
    """A survey round."""

    wave_id = _key("code of the survey round")
    wave_kind = _code(WAVE_KINDS, "baseline (before the bin) or followup (after)")
    opens_date = _date("first day of asking")
    closes_date = _date("last day of asking")

    @dy.rule()
    def closes_after_it_opens(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a round that closes before it opens."""
        return pl.col("closes_date") >= pl.col("opens_date")


class Samples(dy.Schema):
    """A household drawn for a survey round."""

    wave_id = _key("survey round", "waves")
    household_id = _key("household drawn", "households")
    stratum = _text("group within which it was drawn; leave the sheet empty if you asked everyone")
    cluster_id = _text(
        "street or round drawn together, if any; leave the sheet empty if you asked everyone",
        nullable=True,
    )
    inclusion_probability = dy.Float64(
        min_exclusive=0.0,
        max=1.0,
        metadata=_note(
            "probability with which it was drawn; leave the sheet empty if you asked everyone",
            "probability",
        ),
    )


class Answers(dy.Schema):
    """A household's answers in one survey round."""

    wave_id = _key("survey round", "waves")
    household_id = _key("household that answered", "households")
    answer_date = _date("day of the answer")
    is_in_use = _flag("the bin was in use on that day", nullable=True)
    stopped_date = _date("day on which it stopped, if it did", nullable=True)
    fed_kg_last_week = _measure(
        "food scraps fed to the bin in the seven days before", "kg", 60.0, nullable=True
    )
    fed_litres_last_week = _measure(
        "food scraps fed to the bin in the seven days before", "litres", 120.0, nullable=True
    )
    prior_residual_bin_share = _measure(
        "share of food scraps that went to the residual bin before", "share", 1.0, nullable=True
    )
    prior_garden_compost_share = _measure(
        "share that went to a compost heap or bin before", "share", 1.0, nullable=True
    )
    prior_kerbside_organics_share = _measure(
        "share that went to the kerbside organics bin before", "share", 1.0, nullable=True
    )
    prior_animals_share = _measure(
        "share that was fed to animals before", "share", 1.0, nullable=True
    )
    prior_other_share = _measure("share that went elsewhere before", "share", 1.0, nullable=True)
    trays_count = _count("trays in use", 12, nullable=True)
    castings_kg = _measure("castings harvested since the last answer", "kg", 500.0, nullable=True)
    problem = _code(PROBLEMS, "main problem met", nullable=True)

    @dy.rule()
    def prior_shares_sum_to_one(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Ask for all five shares or none, and that they add up to 1."""
        shares = [pl.col(name) for name in PRIOR_SHARES]
        none_given = pl.all_horizontal([share.is_null() for share in shares])
        all_given = pl.all_horizontal([share.is_not_null() for share in shares])
        near_one = (pl.sum_horizontal(shares) - 1.0).abs() <= SHARE_SUM_TOLERANCE
        return none_given | (all_given & near_one)


PRIOR_SHARES = (
    "prior_residual_bin_share",
    "prior_garden_compost_share",
    "prior_kerbside_organics_share",
    "prior_animals_share",
    "prior_other_share",
)


class Weighings(dy.Schema):
    """One weighed week of a household that keeps a diary."""

    household_id = _key("household that weighed", "households")
    week_start_date = dy.Date(
        primary_key=True,
        min=FIRST_DATE,
        max=LAST_DATE,
        metadata=_note("first day of the weighed week"),
    )
    fed_kg = _measure("food scraps fed to the bin in that week", "kg", 60.0)


class Audits(dy.Schema):
    """One audited cluster of kerbside bins."""

    audit_id = _key("number of the audit")
    area_id = _link("area in which the cluster lies", "areas")
    cluster_id = _text("street or round whose bins were opened")
    arm = _code(ARMS, "households that were given bins, or comparison households")
    period = _code(PERIODS, "before or after the giveaway")
    audit_date = _date("day of the audit")
    households_count = _count("households whose bins were opened", 100_000, least=1)
    residual_kg = _measure("mass in the residual bins for one week", "kg", 1_000_000.0)
    food_kg = _measure("food in it", "kg", 1_000_000.0)

    @dy.rule()
    def food_is_part_of_residual(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse more food than the bins held."""
        return pl.col("food_kg") <= pl.col("residual_kg")


class Costs(dy.Schema):
    """A ledger line of the program."""

    cost_id = _key("number of the ledger line")
    cost_date = _date("day on which it was booked")
    category = _code(COST_CATEGORIES, "what it was for")
    amount = _measure(
        "amount spent; receipts are negative", "currency", 100_000_000.0, least=-100_000_000.0
    )


RULES = {
    "closes_after_it_opens": (
        "closes_date",
        "closes before it opens",
        "a last day on or after the first day of asking",
    ),
    "prior_shares_sum_to_one": (
        "prior_residual_bin_share",
        "the five prior shares are not all given or do not add up to 1",
        "five shares that add up to 1, or leave all five empty",
    ),
    "food_is_part_of_residual": (
        "food_kg",
        "more food than the bins held",
        "food_kg no larger than residual_kg",
    ),
}
"""For each rule over several columns: the column to mark, what was found, what to write."""

TABLES: dict[str, type[dy.Schema]] = {
    "areas": Areas,
    "households": Households,
    "contacts": Contacts,
    "events": Events,
    "handovers": Handovers,
    "givebacks": Givebacks,
    "waves": Waves,
    "samples": Samples,
    "answers": Answers,
    "weighings": Weighings,
    "audits": Audits,
    "costs": Costs,
}
"""Every record table in an order in which each refers only to those before it."""


def references(table: str) -> dict[str, str]:
    """Name the table that each column of `table` refers to.

    Examples
    --------
    >>> references("givebacks")
    {'handover_id': 'handovers'}
    """
    columns = TABLES[table].columns()
    targets = {name: (column.metadata or {})["references"] for name, column in columns.items()}
    return {name: target for name, target in targets.items() if target}


def codes(table: str, column: str) -> tuple[str, ...]:
    """List the codes that a column may hold; empty where any text or number may stand.

    Examples
    --------
    >>> codes("households", "dwelling")
    ('house', 'townhouse', 'apartment')
    """
    declared = TABLES[table].columns()[column]
    return tuple(declared.categories) if isinstance(declared, dy.Enum) else ()
