"""A made-up town of known habits: what its queries would count, for laws of a whole estimate."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl

from planner.diversion.town_year import FACTOR_IDS
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.survey.response import KNOWN_BEFORE
from planner.tables import PRIOR_SHARES

GIVEN, ASKED, FROM, BEFORE = (
    dt.date(2025, 4, 16),
    dt.date(2026, 1, 16),
    dt.date(2025, 7, 1),
    dt.date(2026, 7, 1),
)
AGE_DAYS = (ASKED - GIVEN).days
ASKED_OF_AREA, STANDS_FOR, IN_USE_SHARE = 60, 2.0, 0.8
FED_KG = 0.01
"""Of a household in use in a week: so little that any stock of worms takes it all."""

FACTORS = {
    "self_report_multiplier": 0.5,
    "caddy_density_kg_per_litre": 0.4,
    "year_to_surveyed_weeks_multiplier": 1.0,
    "recalled_residual_share_difference": 0.0,
    "doubling_days": 60.0,
    "ceiling_kg_per_m2": 10.0,
    "feed_kg_per_kg_day": 0.5,
    "startup_share": 1.0,
    "starter_kg": 0.5,
    "bed_above_air_c": 3.0,
    "least_appetite_share": 0.5,
    "feeding_lowest_c": 5.0,
    "feeding_optimum_low_c": 15.0,
    "feeding_optimum_high_c": 25.0,
    "feeding_highest_c": 35.0,
    "would_have_composted_anyway_share": 0.1,
    "contents_binned_share": 0.05,
}
assert set(FACTORS) == set(FACTOR_IDS)


def factors(draws_count, **other):
    """Every factor at one value in all draws."""
    return {name: np.full(1 + draws_count, value) for name, value in (FACTORS | other).items()}


def program(landfilled_share=0.75):
    """Take the shipped program file, with this share of residual waste landfilled."""
    shipped = read_program(TEMPLATES / PROGRAM_FILE)
    landfill = shipped.landfill.model_copy(
        update={"landfilled_share_of_residual_waste": landfilled_share}
    )
    return shipped.model_copy(update={"landfill": landfill, "scenarios": ()})


def counts(areas=("N", "S"), fed_kg=None, residual=None):
    """Count a town where all who are asked answer and a fifth have stopped.

    `fed_kg` and `residual` give, by area, what a household in use reports to feed in a week and
    the share of its scraps that went to the residual bin before; the rest was composted.
    """
    fed_kg, residual = fed_kg or dict.fromkeys(areas, FED_KG), residual or dict.fromkeys(areas, 0.6)
    households = pl.DataFrame(
        {
            "household_id": [f"{area}{n:03d}" for area in areas for n in range(ASKED_OF_AREA)],
            "area_id": [area for area in areas for _ in range(ASKED_OF_AREA)],
            "is_in_use": [
                n < IN_USE_SHARE * ASKED_OF_AREA for _ in areas for n in range(ASKED_OF_AREA)
            ],
        }
    ).with_columns(dwelling=pl.lit("house"))
    frames = pl.concat([_frame(households, "B", "baseline"), _frame(households, "F", "followup")])
    return SimpleNamespace(
        from_date=FROM,
        before_date=BEFORE,
        handovers=_handovers(areas),
        back=pl.DataFrame(
            schema={"area_id": pl.String, "back_month": pl.Date, "households_back": pl.Int64}
        ),
        areas=pl.DataFrame(
            {
                "area_id": areas,
                "kerbside_service": ["residual_only"] * len(areas),
                "is_priority": [False] * len(areas),
                "people_per_household": [2.5] * len(areas),
            }
        ),
        frames=frames,
        households=frames.group_by(
            "wave_id", "area_id", "dwelling", "people", "cohort", "is_given_back", "is_settled"
        ).agg(households_count=STANDS_FOR * pl.len()),
        followup=_answers(households, fed_kg),
        priors=_priors(households, residual),
        diaries=pl.DataFrame(
            schema={
                "wave_id": pl.String,
                "household_id": pl.String,
                "fed_kg_last_week": pl.Float64,
                "fed_litres_last_week": pl.Float64,
                "weighed_kg_per_week": pl.Float64,
                "weeks_count": pl.Int64,
            }
        ),
        diary_weeks=pl.DataFrame(
            schema={
                "household_id": pl.String,
                "week_start_date": pl.Date,
                "dwelling": pl.String,
                "age_days": pl.Int64,
                "fed_kg": pl.Float64,
                "is_calibrating": pl.Boolean,
            }
        ),
        use_intervals=households.select(
            "household_id",
            "area_id",
            "dwelling",
            wave_id=pl.lit("F"),
            entry_date=pl.lit(GIVEN),
            asked_age_days=pl.lit(AGE_DAYS),
            is_known=pl.lit(value=True),
            is_given_back=pl.lit(value=False),
            last_in_use_age_days=pl.when("is_in_use").then(AGE_DAYS).otherwise(0),
            first_out_of_use_age_days=pl.when("is_in_use").then(None).otherwise(AGE_DAYS),
            is_exact=pl.lit(value=False),
        ),
    )


def _handovers(areas):
    bins = int(ASKED_OF_AREA * STANDS_FOR)
    return pl.DataFrame(
        {
            "area_id": areas,
            "dwelling": ["house"] * len(areas),
            "model_id": [program().bin_models[0].model_id] * len(areas),
            "handover_month": [GIVEN.replace(day=1)] * len(areas),
            "bins_given": [bins] * len(areas),
            "households_begun": [bins] * len(areas),
            "month_left": [1.0 / 2.0] * len(areas),
            "month_left_square": [1.0 / 4.0] * len(areas),
            "worms_kg": [0.5 * bins] * len(areas),
            "starters_count": [bins] * len(areas),
        }
    )


def _frame(households, wave_id, kind):
    return households.with_columns(
        pl.lit("one").alias(name) for name in KNOWN_BEFORE if name not in households.columns
    ).with_columns(
        wave_id=pl.lit(wave_id),
        wave_kind=pl.lit(kind),
        opens_date=pl.lit(GIVEN if kind == "baseline" else ASKED),
        stratum="area_id",
        unit_id="household_id",
        inclusion_probability=pl.lit(1.0 / STANDS_FOR),
        is_drawn=pl.lit(value=True),
        is_given_back=pl.lit(value=False),
        is_settled=pl.lit(value=False),
        has_answered=pl.lit(value=True),
        again_probability=pl.lit(None, dtype=pl.Float64),
        has_answered_again=pl.lit(value=False),
    )


def _answers(households, fed_kg):
    fed = pl.col("area_id").replace_strict(fed_kg, return_dtype=pl.Float64)
    return households.select(
        "household_id",
        "area_id",
        "dwelling",
        "is_in_use",
        wave_id=pl.lit("F"),
        first_handover_date=pl.lit(GIVEN),
        answer_date=pl.lit(ASKED),
        age_days=pl.lit(AGE_DAYS),
        fed_kg_last_week=pl.when("is_in_use").then(fed),
        fed_litres_last_week=pl.lit(None, dtype=pl.Float64),
        used_days=pl.when("is_in_use").then(AGE_DAYS).otherwise(0),
        used_at_most_days=pl.lit(AGE_DAYS),
        would_have_composted_share=pl.lit(None, dtype=pl.Float64),
        thrown_away_share=pl.lit(None, dtype=pl.Float64),
    )


def _priors(households, residual):
    first = pl.col("area_id").replace_strict(residual, return_dtype=pl.Float64)
    bins, compost, *others = PRIOR_SHARES
    return households.select(
        "household_id",
        "area_id",
        "dwelling",
        first.alias(bins),
        (1.0 - first).alias(compost),
        *(pl.lit(0.0).alias(name) for name in others),
        wave_id=pl.lit("B"),
        opens_date=pl.lit(GIVEN),
        kerbside_service=pl.lit("residual_only"),
        is_recalled=pl.lit(value=False),
    )
