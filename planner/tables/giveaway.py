"""Record tables of the giveaway: areas, households, hand-overs, surveys, audits, costs."""

from __future__ import annotations

import dataframely as dy
import polars as pl

from planner.tables.fields import (
    FIRST_DATE,
    LAST_DATE,
    code_field,
    count_field,
    date_field,
    flag_field,
    key_field,
    link_field,
    measure_field,
    note,
    text_field,
)

DWELLINGS = ("house", "townhouse", "apartment")
KERBSIDE_SERVICES = ("residual_only", "garden_organics", "food_and_garden_organics")
EVENT_KINDS = ("pick_up", "delivery")
CHANNELS = ("online", "phone", "counter", "event", "letter", "other")
GIVEBACK_REASONS = ("moved", "no_time", "worms_died", "smell", "flies", "no_space", "other")
EVENT_STATUSES = ("planned", "cancelled")
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
    "mites",
    "heat",
    "frost",
    "no_castings",
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


class Areas(dy.Schema):
    """A reporting area: a ward or a suburb."""

    area_id = key_field("short code of the area, the same in every table")
    area_name = text_field("name of the area as it should stand on reports")
    houses_count = count_field("households in detached houses", 5_000_000)
    townhouses_count = count_field("households in townhouses, terraces, semi-detached", 5_000_000)
    apartments_count = count_field("households in apartments or flats", 5_000_000)
    residents_count = count_field("people who live in the area", 20_000_000)
    kerbside_service = code_field(KERBSIDE_SERVICES, "what the council collects beside recycling")
    is_priority = flag_field("area that the council wants served first")


class Households(dy.Schema):
    """A registered household, without any personal detail."""

    household_id = key_field("number or code of the household; never a name or address")
    area_id = link_field("area in which it lives", "areas")
    dwelling = code_field(DWELLINGS, "kind of dwelling")
    people_count = count_field("people in the household", 30, least=1)
    registered_date = date_field("day on which it registered")
    channel = code_field(CHANNELS, "how it registered", nullable=True)
    may_contact = flag_field("it agreed to be contacted again")


class Contacts(dy.Schema):
    """A household's personal details; kept apart from every other record."""

    household_id = key_field("household whose details these are", "households")
    full_name = text_field("name of the person registered")
    street_address = text_field("street and number")
    postcode = text_field("postcode")
    email = text_field("electronic mail address", nullable=True)
    phone = text_field("telephone number", nullable=True)
    latitude = measure_field(
        "degrees north of the front door, WGS 84; only where a bin is delivered",
        "degrees",
        90.0,
        least=-90.0,
        nullable=True,
    )
    longitude = measure_field(
        "degrees east of the front door, WGS 84; only where a bin is delivered",
        "degrees",
        180.0,
        least=-180.0,
        nullable=True,
    )


class Events(dy.Schema):
    """A hand-over day."""

    event_id = key_field("code of the hand-over day")
    area_id = link_field("area in which it is held", "areas", nullable=True)
    event_date = date_field("day of the hand-over")
    places_count = count_field("households that can be served", 100_000, least=1)
    venue = text_field("where it is held", nullable=True)
    event_status = code_field(
        EVENT_STATUSES, "planned or cancelled; empty for planned", nullable=True
    )
    event_kind = code_field(
        EVENT_KINDS,
        "households collect (pick_up, also where empty), or bins are brought (delivery)",
        nullable=True,
    )


class Handovers(dy.Schema):
    """One bin given to a household."""

    handover_id = key_field("number of the hand-over, one for each bin")
    household_id = link_field("household that took the bin", "households")
    event_id = link_field("hand-over day, where there was one", "events", nullable=True)
    model_id = text_field("bin model, as named in program.toml")
    handover_date = date_field("day on which the household took the bin")
    worms_kg = measure_field("mass of worms given with the bin", "kg", 5.0)
    bedding_kg = measure_field("mass of dry bedding given with the bin", "kg", 50.0)
    copayment = measure_field("what the household paid", "currency", 10_000.0, nullable=True)
    serial = text_field("serial number of the bin", nullable=True)


class Givebacks(dy.Schema):
    """A bin that came back or is known to be out of use."""

    handover_id = key_field("hand-over of the bin", "handovers")
    giveback_date = date_field("day on which it came back or went out of use")
    reason = code_field(GIVEBACK_REASONS, "why", nullable=True)
    is_reissued = flag_field("the bin was given to another household")


class Waves(dy.Schema):
    """A survey round."""

    wave_id = key_field("code of the survey round")
    wave_kind = code_field(WAVE_KINDS, "baseline (before the bin) or followup (after)")
    opens_date = date_field("first day of asking")
    closes_date = date_field("last day of asking")
    follows_wave_id = link_field(
        "round whose silent households it asks again; empty for a round of its own",
        "waves",
        nullable=True,
    )

    @dy.rule()
    def closes_after_it_opens(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a round that closes before it opens."""
        return pl.col("closes_date") >= pl.col("opens_date")


class Samples(dy.Schema):
    """A household drawn for a survey round."""

    wave_id = key_field("survey round", "waves")
    household_id = key_field("household drawn", "households")
    stratum = text_field(
        "group within which it was drawn; leave the sheet empty if you asked everyone"
    )
    cluster_id = text_field(
        "street or round drawn together, if any; leave the sheet empty if you asked everyone",
        nullable=True,
    )
    inclusion_probability = dy.Float64(
        min_exclusive=0.0,
        max=1.0,
        metadata=note(
            "probability with which it was drawn; leave the sheet empty if you asked everyone",
            "probability",
        ),
    )


class Answers(dy.Schema):
    """A household's answers in one survey round."""

    wave_id = key_field("survey round", "waves")
    household_id = key_field("household that answered", "households")
    answer_date = date_field("day of the answer")
    is_in_use = flag_field("the bin was in use on that day", nullable=True)
    stopped_date = date_field("day on which it stopped, if it did", nullable=True)
    fed_kg_last_week = measure_field(
        "food scraps fed to the bin in the seven days before", "kg", 60.0, nullable=True
    )
    fed_litres_last_week = measure_field(
        "food scraps fed to the bin in the seven days before", "litres", 120.0, nullable=True
    )
    prior_residual_bin_share = measure_field(
        "share of food scraps that went to the residual bin before", "share", 1.0, nullable=True
    )
    prior_garden_compost_share = measure_field(
        "share that went to a compost heap or bin before", "share", 1.0, nullable=True
    )
    prior_kerbside_organics_share = measure_field(
        "share that went to the kerbside organics bin before", "share", 1.0, nullable=True
    )
    prior_animals_share = measure_field(
        "share that was fed to animals before", "share", 1.0, nullable=True
    )
    prior_other_share = measure_field(
        "share that went elsewhere before", "share", 1.0, nullable=True
    )
    would_have_composted_share = measure_field(
        "of what used to go to the residual bin, share that would be composted by now without "
        "the worm bin",
        "share",
        1.0,
        nullable=True,
    )
    thrown_away_share = measure_field(
        "of what the bin was fed, share thrown in the residual bin after all",
        "share",
        1.0,
        nullable=True,
    )
    trays_count = count_field("trays in use", 12, nullable=True)
    castings_kg = measure_field(
        "castings harvested since the last answer", "kg", 500.0, nullable=True
    )
    problem = code_field(PROBLEMS, "main problem met", nullable=True)

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

    household_id = key_field("household that weighed", "households")
    week_start_date = dy.Date(
        primary_key=True,
        min=FIRST_DATE,
        max=LAST_DATE,
        metadata=note("first day of the weighed week"),
    )
    fed_kg = measure_field("food scraps fed to the bin in that week", "kg", 60.0)


class Audits(dy.Schema):
    """One audited cluster of kerbside bins."""

    audit_id = key_field("number of the audit")
    area_id = link_field("area in which the cluster lies", "areas")
    cluster_id = text_field("street or round whose bins were opened")
    arm = code_field(ARMS, "households that were given bins, or comparison households")
    period = code_field(PERIODS, "before or after the giveaway")
    audit_date = date_field("day of the audit")
    households_count = count_field("households whose bins were opened", 100_000, least=1)
    residual_kg = measure_field("mass in the residual bins for one week", "kg", 1_000_000.0)
    food_kg = measure_field("food in it", "kg", 1_000_000.0)

    @dy.rule()
    def food_is_part_of_residual(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse more food than the bins held."""
        return pl.col("food_kg") <= pl.col("residual_kg")


class Costs(dy.Schema):
    """A ledger line of the program."""

    cost_id = key_field("number of the ledger line")
    cost_date = date_field("day on which it was booked")
    category = code_field(COST_CATEGORIES, "what it was for")
    amount = measure_field(
        "amount spent; receipts are negative", "currency", 100_000_000.0, least=-100_000_000.0
    )


GIVEAWAY_RULES = {
    "closes_after_it_opens": "closes_date",
    "prior_shares_sum_to_one": "prior_residual_bin_share",
    "food_is_part_of_residual": "food_kg",
}
"""For each rule over several columns: the column to mark."""
