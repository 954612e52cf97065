"""What happens after the hand-over: calls, problems, bins of schools and cafes, workshops."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import CALL_OUTCOMES, SITE_KINDS
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_TOLD_PROBLEMS = (
    *("flies", "smell", "too_wet", "too_dry", "worms_escaped", "rodents", "ants", "mites"),
    *("heat", "frost", "no_castings", "worms_died"),
)
_TOLD_SHARES = (0.24, 0.13, 0.14, 0.09, 0.10, 0.02, 0.07, 0.05, 0.04, 0.03, 0.05, 0.04)
_CASE_SHARE = 0.11
_DEAD_SHARE_OF_WEAK_WORMS = 0.3
WEAK_WORMS_MONTHS_BEFORE_END = 10
"""One month's worms were weak: an alert has something true to find."""

_ANSWERED_CASE_SHARE = 0.86
_TOPPED_UP_SHARE = 0.6
_REPLACED_SHARE = 0.4
_CALLED_SHARE = 0.35
_CALLED_DAYS = 400
_OUTCOME_SHARES = (0.62, 0.31, 0.04, 0.03)
_SITES_COUNT = 7
_SITE_KG_PER_BIN_WEEK = 1.9
_WORKSHOP_EACH_DAYS = 91


def told_cases(simulation: Simulation) -> pl.DataFrame:
    """Tell of problems, and what the council did; the last column is the bin's own day."""
    found = pl.concat([_common(simulation), _weak_worms(simulation), _replaced(simulation)])
    found = found.unique("handover_id", keep="last", maintain_order=True)
    listed = found.sort("opened_day", "handover_id")
    ids = [f"{simulation.town.tag}-Q{n:04d}" for n in range(1, listed.height + 1)]
    topped = listed["worms_kg"].is_not_null()
    lines = topped.cum_sum().cast(pl.String).str.zfill(4)
    dates = simulation.calendar.dates
    return listed.with_columns(
        case_id=pl.Series(ids),
        cost_id=pl.when(topped).then(pl.format(f"{simulation.town.tag}-T{{}}", lines)),
        opened_date=dates(listed["opened_day"].to_numpy()),
        action_date=dates(listed["action_day"].to_numpy()),
        closed_date=dates(listed["closed_day"].to_numpy()),
    )


def _common(simulation: Simulation) -> pl.DataFrame:
    rng = stream(simulation.seed, "cases")
    bins = simulation.bins
    day = bins["handover_day"].to_numpy()
    opened = day + np.rint(70.0 * np.exp(0.9 * rng.standard_normal(bins.height))).astype(int)
    told = rng.random(bins.height) < _CASE_SHARE
    problem = np.array(_TOLD_PROBLEMS)[rng.choice(len(_TOLD_PROBLEMS), bins.height, p=_TOLD_SHARES)]
    # nobody tells of a problem with a bin that was given up
    told &= (opened < simulation.calendar.end_day) & (opened < bins["stopped_day"].to_numpy())
    return _dealt_with(simulation, np.flatnonzero(told), opened[told], problem[told], rng)


def _weak_worms(simulation: Simulation) -> pl.DataFrame:
    rng = stream(simulation.seed, "weak worms")
    edges = simulation.calendar.month_edges
    last = int(np.searchsorted(edges, simulation.calendar.end_day))
    first_day, before_day = edges[last - WEAK_WORMS_MONTHS_BEFORE_END + np.arange(2)]
    day = simulation.bins["handover_day"].to_numpy()
    dead = (
        (day >= first_day) & (day < before_day) & (rng.random(len(day)) < _DEAD_SHARE_OF_WEAK_WORMS)
    )
    opened = day[dead] + rng.integers(8, 40, dead.sum())
    problem = np.full(dead.sum(), "worms_died")
    return _dealt_with(simulation, np.flatnonzero(dead), opened, problem, rng)


def _dealt_with(
    simulation: Simulation,
    place: np.ndarray,
    opened: np.ndarray,
    problem: np.ndarray,
    rng: np.random.Generator,
) -> pl.DataFrame:
    """Answer most cases within two weeks; top up many of those whose worms died."""
    count, end_day = len(place), simulation.calendar.end_day
    action_day = opened + rng.integers(1, 15, count)
    done = (rng.random(count) < _ANSWERED_CASE_SHARE) & (action_day < end_day)
    topped = done & (problem == "worms_died") & (rng.random(count) < _TOPPED_UP_SHARE)
    visited = rng.random(count) < 0.15
    action = np.where(topped, "worms_topped_up", np.where(visited, "visited", "advised"))
    worms = np.round(rng.uniform(0.2, 0.45, count), 2)
    closed_day = action_day + rng.integers(0, 8, count)
    is_done, is_topped = pl.Series(done), pl.Series(topped)
    return pl.DataFrame(
        {
            "handover_id": simulation.bins["handover_id"].gather(place),
            "household_id": simulation.bins["household_id"].gather(place),
            "opened_day": opened,
            "problem": problem,
            "case_action": action,
            "action_day": np.where(done, action_day, -1),
            "worms_kg": worms,
            "replacement_handover_id": pl.Series([None] * count, dtype=pl.String),
            "closed_day": np.where(done & (closed_day < end_day), closed_day, -1),
        }
    ).with_columns(
        case_action=pl.when(is_done).then("case_action"),
        worms_kg=pl.when(is_topped).then("worms_kg"),
    )


def _replaced(simulation: Simulation) -> pl.DataFrame:
    """Take some second bins as given in place of a first one whose worms had died."""
    rng = stream(simulation.seed, "replacements")
    second = simulation.bins.filter("is_second").select(
        "household_id", replacement_handover_id="handover_id", action_day="handover_day"
    )
    pairs = simulation.bins.filter(~pl.col("is_second")).join(
        second, on="household_id", maintain_order="left"
    )
    chosen = pairs.filter(pl.Series(rng.random(pairs.height) < _REPLACED_SHARE))
    return chosen.select(
        "handover_id",
        "household_id",
        opened_day=pl.col("action_day") - pl.Series(rng.integers(10, 25, chosen.height)),
        problem=pl.lit("worms_died"),
        case_action=pl.lit("bin_replaced"),
        action_day="action_day",
        worms_kg=pl.lit(None, pl.Float64),
        replacement_handover_id="replacement_handover_id",
        closed_day="action_day",
    )


def dead_bins(cases: pl.DataFrame, back: pl.DataFrame) -> pl.DataFrame:
    """Record as givebacks the bins that were replaced, beside those that came back anyway."""
    dead = cases.filter(pl.col("replacement_handover_id").is_not_null()).select(
        "handover_id",
        giveback_date="action_date",
        reason=pl.lit("worms_died"),
        is_reissued=pl.lit(value=False),
    )
    known = back.with_columns(pl.col("reason").cast(pl.String))
    return pl.concat([known.join(dead, on="handover_id", how="anti"), dead]).sort("handover_id")


def made_calls(simulation: Simulation) -> pl.DataFrame:
    """Call some households two to six weeks after their bin, and once more where none answers."""
    rng = stream(simulation.seed, "calls")
    end_day = simulation.calendar.end_day
    homes = simulation.households.select("household_id", "may_contact")
    bins = simulation.bins.filter(~pl.col("is_second")).join(
        homes, on="household_id", maintain_order="left"
    )
    day = bins["handover_day"].to_numpy() + rng.integers(14, 43, bins.height)
    called = bins["may_contact"].to_numpy() & (rng.random(bins.height) < _CALLED_SHARE)
    called &= (day < end_day - 6) & (day >= end_day - _CALLED_DAYS)
    outcome = rng.choice(len(CALL_OUTCOMES), bins.height, p=_OUTCOME_SHARES)
    again = called & (outcome == 1) & (rng.random(bins.height) < 0.5)
    second = rng.choice(len(CALL_OUTCOMES), bins.height, p=_OUTCOME_SHARES)
    days = np.concatenate([day[called], day[again] + rng.integers(3, 7, again.sum())])
    return pl.DataFrame(
        {
            "household_id": bins["household_id"].gather(
                np.concatenate([np.flatnonzero(called), np.flatnonzero(again)])
            ),
            "call_date": simulation.calendar.dates(days),
            "call_reason": ["first_check"] * len(days),
            "call_outcome": np.array(CALL_OUTCOMES)[
                np.concatenate([outcome[called], second[again]])
            ],
        }
    ).sort("call_date", "household_id")


def shared_bins(simulation: Simulation) -> dict[str, pl.DataFrame]:
    """Give bins to schools, flats and cafes, which weigh a week a month while they use them."""
    rng = stream(simulation.seed, "sites")
    town, calendar = simulation.town, simulation.calendar
    ids = [f"{town.tag}-S{n}" for n in range(1, _SITES_COUNT + 1)]
    kinds = np.resize(np.array(SITE_KINDS[:5]), _SITES_COUNT)
    area = rng.integers(0, len(town.areas), _SITES_COUNT)
    last_start = calendar.end_day - 120
    given = np.sort(rng.integers(60, last_start, _SITES_COUNT))
    count = rng.integers(2, 7, _SITES_COUNT)
    model = rng.integers(0, len(town.bin_models), _SITES_COUNT)
    used = np.rint(rng.exponential(900.0, _SITES_COUNT)).astype(int) + 30
    stops = given + used < calendar.end_day
    weeks = [np.arange(day + 28, calendar.end_day - 7, 30) for day in given]
    site = np.repeat(np.arange(_SITES_COUNT), [len(one) for one in weeks])
    week = np.concatenate(weeks)
    level = np.exp(0.3 * rng.standard_normal(_SITES_COUNT))[site] * _SITE_KG_PER_BIN_WEEK
    fed = count[site] * level * np.exp(0.25 * rng.standard_normal(len(site)))
    kept = (rng.random(len(site)) < 0.8) & (week + 7 <= (given + used)[site])
    sites = {
        "site_id": ids,
        "area_id": np.array([place.area_id for place in town.areas])[area],
        "site_kind": kinds,
        "people_count": rng.integers(4, 60, _SITES_COUNT) * 10,
    }
    bins = {
        "site_id": ids,
        "model_id": np.array([one.model_id for one in town.bin_models])[model],
        "given_date": calendar.dates(given),
        "bins_count": count,
        "worms_kg": np.round(count * 0.5, 2),
        "bedding_kg": np.round(count * town.giving.bedding_kg, 1),
        "stopped_date": calendar.dates(np.where(stops, given + used, -1)),
        "given_day": given,
        "model_index": model,
    }
    weighed = {
        "site_id": np.array(ids)[site][kept],
        "week_start_date": calendar.dates(week[kept]),
        "fed_kg": np.round(fed[kept], 1),
    }
    tables = {"sites": sites, "site_bins": bins, "site_weighings": weighed}
    return {name: pl.DataFrame(columns) for name, columns in tables.items()}


def held_workshops(simulation: Simulation) -> dict[str, pl.DataFrame]:
    """Hold a workshop a quarter; keen feeders come likelier, so that attenders differ."""
    rng = stream(simulation.seed, "workshops")
    calendar, homes, town = simulation.calendar, simulation.households, simulation.town
    days = np.arange(100, calendar.end_day - 30, _WORKSHOP_EACH_DAYS)
    ids = [f"{town.tag}-W{n:02d}" for n in range(1, len(days) + 1)]
    given = simulation.household_handover_day()
    parts = []
    for code, day in zip(ids, days, strict=True):
        may_come = np.flatnonzero((given <= day) & (given > day - 200))
        pull = np.exp(0.8 * homes["feed_score"].to_numpy()[may_come])
        wanted = min(len(may_come), int(rng.integers(10, 26)))
        who = rng.choice(may_come, wanted, replace=False, p=pull / pull.sum()) if wanted else []
        parts += [{"workshop_id": code, "household_id": homes["household_id"][int(n)]} for n in who]
    area = np.array([place.area_id for place in town.areas])[
        rng.integers(0, len(town.areas), len(days))
    ]
    held = {"workshop_id": ids, "workshop_date": calendar.dates(days), "area_id": area}
    return {"workshops": pl.DataFrame(held), "attendances": pl.DataFrame(parts)}


def issued(simulation: Simulation, cases: pl.DataFrame, site_bins: pl.DataFrame) -> pl.DataFrame:
    """List all that left the store: bins given, bins of sites, worms that topped bins up."""
    columns = ("day", "model_index", "bins_count", "worms_kg", "bedding_kg")
    of_homes = simulation.bins.with_columns(day="handover_day", bins_count=pl.lit(1))
    of_sites = site_bins.rename({"given_day": "day"})
    topped = cases.filter(pl.col("worms_kg").is_not_null()).with_columns(
        day="action_day", model_index=pl.lit(-1), bins_count=pl.lit(0), bedding_kg=pl.lit(0.0)
    )
    parts = [one.select(columns).cast({"day": pl.Int64}) for one in (of_homes, of_sites, topped)]
    return pl.concat(parts, how="vertical_relaxed").sort("day", maintain_order=True)


def paid_for(simulation: Simulation, cases: pl.DataFrame, site_bins: pl.DataFrame) -> pl.DataFrame:
    """Book the worms of each top-up, and the bins of each site, on ledger lines of their own."""
    prices = simulation.town.prices
    unit_price = np.array([model.unit_price for model in simulation.town.bin_models])
    topped = cases.filter(pl.col("worms_kg").is_not_null()).select(
        "cost_id",
        cost_date="action_date",
        category=pl.lit("worms"),
        amount=(pl.col("worms_kg") * prices.worms_per_kg).round(2),
    )
    price = pl.Series(unit_price[site_bins["model_index"].to_numpy()])
    of_sites = site_bins.select(
        cost_id=pl.format("{}-BINS", "site_id"),
        cost_date="given_date",
        category=pl.lit("bins"),
        amount=(pl.col("bins_count") * price).round(2),
    )
    return pl.concat([topped, of_sites])
