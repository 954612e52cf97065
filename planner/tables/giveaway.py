"""Record tables of the giveaway: areas, households, hand-overs, surveys, audits, costs."""

from __future__ import annotations

import dataframely as dy
import polars as pl

from planner.tables.fields import (
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
PRIOR_ROUTES = ("residual_bin", "garden_compost", "kerbside_organics", "animals", "other")
PRIOR_SHARES = tuple(f"prior_{route}_share" for route in PRIOR_ROUTES)
RESIDUAL_BIN = PRIOR_ROUTES.index("residual_bin")
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

    area_id = key_field()
    area_name = text_field()
    houses_count = count_field(5_000_000)
    townhouses_count = count_field(5_000_000)
    apartments_count = count_field(5_000_000)
    residents_count = count_field(20_000_000)
    kerbside_service = code_field(KERBSIDE_SERVICES)
    is_priority = flag_field()


class Households(dy.Schema):
    """A registered household, without any personal detail."""

    household_id = key_field()
    area_id = link_field("areas")
    dwelling = code_field(DWELLINGS)
    people_count = count_field(30, least=1)
    registered_date = date_field()
    channel = code_field(CHANNELS, nullable=True)
    may_contact = flag_field()


class Contacts(dy.Schema):
    """A household's personal details; kept apart from every other record."""

    household_id = key_field("households")
    full_name = text_field()
    street_address = text_field()
    postcode = text_field()
    email = text_field(nullable=True)
    phone = text_field(nullable=True)
    latitude = measure_field("degrees", 90.0, least=-90.0, nullable=True)
    longitude = measure_field("degrees", 180.0, least=-180.0, nullable=True)


class Events(dy.Schema):
    """A hand-over day."""

    event_id = key_field()
    area_id = link_field("areas", nullable=True)
    event_date = date_field()
    places_count = count_field(100_000, least=1)
    venue = text_field(nullable=True)
    event_status = code_field(EVENT_STATUSES, nullable=True)
    event_kind = code_field(EVENT_KINDS, nullable=True)


class Handovers(dy.Schema):
    """One bin given to a household."""

    handover_id = key_field()
    household_id = link_field("households")
    event_id = link_field("events", nullable=True)
    model_id = text_field()
    handover_date = date_field()
    worms_kg = measure_field("kg", 5.0)
    bedding_kg = measure_field("kg", 50.0)
    copayment = measure_field("currency", 10_000.0, nullable=True)
    serial = text_field(nullable=True)
    bins_count = count_field(1_000, least=1, nullable=True)

    @dy.rule()
    def one_bin_a_row(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a row that stands for several bins: each is followed by itself."""
        return pl.col("bins_count").fill_null(1) == 1


class Givebacks(dy.Schema):
    """A bin that came back or is known to be out of use."""

    handover_id = key_field("handovers")
    giveback_date = date_field()
    reason = code_field(GIVEBACK_REASONS, nullable=True)
    is_reissued = flag_field()


class Waves(dy.Schema):
    """A survey round."""

    wave_id = key_field()
    wave_kind = code_field(WAVE_KINDS)
    opens_date = date_field()
    closes_date = date_field()
    follows_wave_id = link_field("waves", nullable=True)

    @dy.rule()
    def closes_after_it_opens(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a round that closes before it opens."""
        return pl.col("closes_date") >= pl.col("opens_date")


class Samples(dy.Schema):
    """A household drawn for a survey round."""

    wave_id = key_field("waves")
    household_id = key_field("households")
    stratum = text_field()
    cluster_id = text_field(nullable=True)
    inclusion_probability = dy.Float64(min_exclusive=0.0, max=1.0, metadata=note("probability"))


class Answers(dy.Schema):
    """A household's answers in one survey round."""

    wave_id = key_field("waves")
    household_id = key_field("households")
    answer_date = date_field()
    is_in_use = flag_field(nullable=True)
    stopped_date = date_field(nullable=True)
    fed_kg_last_week = measure_field("kg", 60.0, nullable=True)
    fed_litres_last_week = measure_field("litres", 120.0, nullable=True)
    prior_main_route = code_field(PRIOR_ROUTES, nullable=True)
    prior_residual_bin_share = measure_field("share", 1.0, nullable=True)
    prior_garden_compost_share = measure_field("share", 1.0, nullable=True)
    prior_kerbside_organics_share = measure_field("share", 1.0, nullable=True)
    prior_animals_share = measure_field("share", 1.0, nullable=True)
    prior_other_share = measure_field("share", 1.0, nullable=True)
    would_have_composted_share = measure_field("share", 1.0, nullable=True)
    thrown_away_share = measure_field("share", 1.0, nullable=True)
    trays_count = count_field(12, nullable=True)
    castings_kg = measure_field("kg", 500.0, nullable=True)
    problem = code_field(PROBLEMS, nullable=True)

    @dy.rule()
    def prior_shares_sum_to_one(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Ask for all five shares or none, and that they add up to 1."""
        shares = [pl.col(name) for name in PRIOR_SHARES]
        none_given = pl.all_horizontal([share.is_null() for share in shares])
        all_given = pl.all_horizontal([share.is_not_null() for share in shares])
        near_one = (pl.sum_horizontal(shares) - 1.0).abs() <= SHARE_SUM_TOLERANCE
        return none_given | (all_given & near_one)


class Weighings(dy.Schema):
    """One weighed week of a household that keeps a diary."""

    household_id = key_field("households")
    week_start_date = date_field(is_key=True)
    fed_kg = measure_field("kg", 60.0)


class Audits(dy.Schema):
    """One audited cluster of kerbside bins."""

    audit_id = key_field()
    area_id = link_field("areas")
    cluster_id = text_field()
    arm = code_field(ARMS)
    period = code_field(PERIODS)
    audit_date = date_field()
    households_count = count_field(100_000, least=1)
    residual_kg = measure_field("kg", 1_000_000.0)
    food_kg = measure_field("kg", 1_000_000.0)

    @dy.rule()
    def food_is_part_of_residual(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse more food than the bins held."""
        return pl.col("food_kg") <= pl.col("residual_kg")


class Costs(dy.Schema):
    """A ledger line of the program."""

    cost_id = key_field()
    cost_date = date_field()
    category = code_field(COST_CATEGORIES)
    amount = measure_field("currency", 100_000_000.0, least=-100_000_000.0)
