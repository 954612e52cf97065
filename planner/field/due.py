"""Who is due a call, and why: rules over what is known of each household that holds a bin."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.units import DAYS_PER_WEEK, LITRES_PER_M3

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.factors import FactorTable
    from planner.field.calling_request import CallRequest

FIRST_CHECK_DAYS = (14, 42)
"""Weeks 2 to 6 after the hand-over: early trouble shows and can still be set right. Common
practice, no source."""

LEAST_TRAY_DAYS = 21
"""Three weeks at least before another tray, and the tray filled. Common practice, no source."""

FIRST_HARVEST_DAYS = 120
"""Four months at least before the first castings. Common practice, no source: three to six."""

TRAY_DEPTH_M = 0.12
"""Depth of castings in a full tray. Assumed; trays are 0.10 to 0.18 m deep."""

HARVESTABLE_TRAYS = 1.0
NEWS_DAYS = 90
"""What was told of lost worms longer ago than this has run its course, one way or the other."""

RISKIEST_SHARE = 0.2
"""Share of households that count as likely to give up: the fifth whose lift is shown."""

PRIORITY = (
    "problem",
    "more_worms",
    "first_check",
    "may_stop",
    "survey",
    "another_tray",
    "first_harvest",
)
"""Reasons for a call, the most urgent first; what is asked is common practice, no source."""


NO_RISK = pl.DataFrame(schema={"household_id": pl.String, "may_stop_chance": pl.Float64})
"""No chance to stop: answers are too few for a model, or it is not asked for."""


@dataclass(frozen=True)
class Rules:
    """What the rules need beyond the records."""

    request: CallRequest
    kg_per_litre: float  # of scraps in a caddy
    castings_share: float  # castings over scraps, both wet
    castings_kg_per_litre: float


def rules_for(request: CallRequest, factors: FactorTable) -> Rules:
    """Take what the rules need from the request and the factors."""
    return Rules(
        request,
        factors.find("caddy_density_kg_per_litre").value,
        factors.find("castings_share_of_scraps").value,
        factors.find("castings_kg_per_litre").value,
    )


def find_due(
    register: pl.DataFrame,
    risk: pl.DataFrame,
    trays: Mapping[str, tuple[int, float]],
    rules: Rules,
) -> pl.DataFrame:
    """Find the reasons for a call to each household, and whether a call is allowed.

    Parameters
    ----------
    risk
        household_id, may_stop_chance; no rows where answers are too few for a model.
    trays
        For each bin model its trays, and the area of one [m²].

    Returns
    -------
    DataFrame
        One row a household with any reason: the register's columns, may_stop_chance, trays_full
        (that its feed has filled by the day), reasons (list, the most urgent first),
        call_reason (the first of them), barrier (key of why it may not be called, or null).
    """
    known = register.join(risk, on="household_id", how="left", maintain_order="left")
    filled = known.with_columns(trays_full=_trays_full(trays, rules)).with_columns(
        barrier=_barrier(rules)
    )
    reasons = _reasons(trays, rules)
    marked = filled.with_columns(
        reasons=pl.concat_list(
            pl.when(reasons[name]).then(pl.lit(name)) for name in PRIORITY
        ).list.drop_nulls()
    )
    return marked.filter(pl.col("reasons").list.len() > 0).with_columns(
        call_reason=pl.col("reasons").list.first()
    )


def _of_model(trays: Mapping[str, tuple[int, float]], place: int) -> pl.Expr:
    values = {model: float(of_model[place]) for model, of_model in trays.items()}
    return pl.col("model_id").replace_strict(values, default=None, return_dtype=pl.Float64)


def _trays_full(trays: Mapping[str, tuple[int, float]], rules: Rules) -> pl.Expr:
    """Trays that castings would fill, at the feed told last; null where none was."""
    fed_kg_last_week = pl.coalesce(
        "fed_kg_last_week", pl.col("fed_litres_last_week") * rules.kg_per_litre
    )
    fed_kg = fed_kg_last_week * pl.col("age_days") / DAYS_PER_WEEK
    litres = fed_kg * rules.castings_share / rules.castings_kg_per_litre
    return litres / (_of_model(trays, 1) * TRAY_DEPTH_M * LITRES_PER_M3)


def _barrier(rules: Rules) -> pl.Expr:
    """Why a household may not be called, by the key of its words; null where it may."""
    day = pl.lit(rules.request.on_date)
    rests = pl.col("last_reached_date") > day.dt.offset_by(f"-{rules.request.rest_days}d")
    lately = pl.col("last_call_date") > day.dt.offset_by(f"-{rules.request.retry_days}d")
    return (
        pl.when(~pl.col("may_contact"))
        .then(pl.lit("not_agreed"))
        .when("has_refused")
        .then(pl.lit("no_more"))
        .when("has_wrong_number")
        .then(pl.lit("wrong_number"))
        .when(rests)
        .then(pl.lit("reached"))
        .when(pl.col("tries_count") >= rules.request.tries)
        .then(pl.lit("tries"))
        .when(lately)
        .then(pl.lit("lately"))
    )


def _reasons(trays: Mapping[str, tuple[int, float]], rules: Rules) -> dict[str, pl.Expr]:
    """Rule of each reason; what is not known makes no reason."""
    first, last = FIRST_CHECK_DAYS
    age, since = pl.col("age_days"), pl.col("handover_date")
    heard = (pl.col("last_answer_date") > since) | (pl.col("last_reached_date") > since)
    is_used, chance = pl.col("is_in_use"), pl.col("may_stop_chance")
    riskiest = chance.rank("ordinal", descending=True) <= chance.count() * RISKIEST_SHARE
    rules_of = {
        "problem": pl.col("open_problem").is_not_null(),
        "more_worms": is_used & _lost_worms(rules),
        "first_check": age.is_between(first, last) & ~heard.fill_null(value=False),
        "may_stop": is_used & (age > last) & riskiest,
        "survey": pl.col("round_closes_date").is_not_null(),
        "another_tray": is_used & _needs_tray(trays),
        "first_harvest": is_used
        & (age >= FIRST_HARVEST_DAYS)
        & (pl.col("trays_full") >= HARVESTABLE_TRAYS)
        & pl.col("harvest_date").is_null()
        & pl.col("harvest_call_date").is_null(),
    }
    return {name: rule.fill_null(value=False) for name, rule in rules_of.items()}


def _lost_worms(rules: Rules) -> pl.Expr:
    """Whether worms were lost lately, of this bin, and none were given since."""
    lost, restocked = pl.col("worms_lost_date"), pl.col("restocked_date")
    is_news = lost > pl.lit(rules.request.on_date).dt.offset_by(f"-{NEWS_DAYS}d")
    is_of_bin = lost >= pl.col("handover_date")
    return is_of_bin & is_news & (restocked < lost).fill_null(value=True)


def _needs_tray(trays: Mapping[str, tuple[int, float]]) -> pl.Expr:
    """Whether all trays in use are full, the model has more, and nobody spoke of it yet."""
    used = pl.col("trays_count").fill_null(1)
    spoken = (pl.col("tray_call_date") >= pl.col("handover_date")).fill_null(value=False)
    is_full = (pl.col("trays_full") >= used) & (used < _of_model(trays, 0))
    return is_full & (pl.col("age_days") >= LEAST_TRAY_DAYS) & ~spoken


def call_list(due: pl.DataFrame, most: int, most_at_risk: int) -> pl.DataFrame:
    """Choose who is called: the most urgent reasons first, within a reason the likeliest to stop.

    Parameters
    ----------
    due
        Frame of `find_due`.
    most_at_risk
        Of those that may be called for no other reason than their risk, so many enter.

    Returns
    -------
    DataFrame
        Rows of `due` that may be called, in order.
    """
    order = {name: place for place, name in enumerate(PRIORITY)}
    ranked = (
        due.filter(pl.col("barrier").is_null())
        .with_columns(
            place=pl.col("call_reason").replace_strict(order, return_dtype=pl.Int64),
            chance=pl.col("may_stop_chance").fill_null(0.0),
        )
        .sort("place", "chance", "household_id", descending=[False, True, False])
    )
    of_risk = pl.col("call_reason") == "may_stop"
    riskiest = of_risk.cum_sum() <= most_at_risk
    kept = ranked.filter(~of_risk | riskiest)
    return kept.drop("place", "chance").head(most)
