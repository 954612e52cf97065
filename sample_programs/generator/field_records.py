"""What the depot, the audit crew and the ledger write down."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import GIVEBACK_REASONS, PRIOR_SHARES
from sample_programs.generator.leaks import THROWN
from sample_programs.generator.population import draw_prior_shares
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_REASON_SHARES = (0.24, 0.24, 0.18, 0.10, 0.10, 0.09, 0.05)
_LEAST_REMAINING_SHARE = 0.05
_OTHER_RESIDUAL_KG = 5.5
_PEOPLE_MEAN = 2.4
_WORMS_ORDERED_RATIO = 1.05
_SETTLED_BEFORE_AUDIT_DAYS = 60


def returned_bins(simulation: Simulation) -> pl.DataFrame:
    """Record some of the bins that went out of use, with the true day."""
    rng = stream(simulation.seed, "givebacks")
    bins = simulation.bins
    stopped = np.floor(bins["stopped_day"].to_numpy()).astype(int)
    known = rng.random(len(stopped)) < simulation.town.survey.giveback_share
    back = np.flatnonzero(known & (stopped < simulation.calendar.end_day))
    reason = np.array(GIVEBACK_REASONS)[
        rng.choice(len(GIVEBACK_REASONS), len(back), p=_REASON_SHARES)
    ]
    return pl.DataFrame(
        {
            "handover_id": bins["handover_id"].gather(back),
            "giveback_date": simulation.calendar.dates(stopped[back]),
            "reason": reason,
            "is_reissued": rng.random(len(back)) < 0.35,
        }
    ).with_columns(reason=pl.when(pl.Series(rng.random(len(back)) < 0.9)).then("reason"))


def audited_clusters(simulation: Simulation) -> pl.DataFrame:
    """Audit kerbside bins in given and comparison clusters, before and after."""
    rng = stream(simulation.seed, "audits")
    auditing, calendar = simulation.town.auditing, simulation.calendar
    before_day = calendar.day(0, auditing.before_month, 9)
    after_day = calendar.day(0, auditing.after_month, 9)
    given, cluster = _given_clusters(simulation, before_day, after_day, rng)
    share = simulation.households[PRIOR_SHARES[0]].to_numpy()[given]
    fed = simulation.fed_between(
        given, np.full(len(given), after_day - 28), np.full(len(given), after_day)
    )
    # what they would have composted anyway is missing too; the twins never asked for a bin
    thrown = simulation.households[THROWN].to_numpy()[given]
    kept = (share - thrown) * fed / 4.0
    twins = rng.choice(given, len(given))
    twin_share = _comparison_share(simulation, twins, rng)
    parts = []
    for arm, members, residual_share, less in (
        ("given", given, share, kept),
        ("comparison", twins, twin_share, np.zeros(len(given))),
    ):
        scraps = np.maximum(simulation.households["scraps_kg_per_week"].to_numpy()[members], 1.5)
        level = np.exp(auditing.cluster_spread * rng.standard_normal(cluster.max() + 1))[cluster]
        food = scraps * residual_share * level
        for period, day, factor, taken in (
            ("before", before_day, 1.0, np.zeros(len(members))),
            ("after", after_day, auditing.trend, less),
        ):
            week = np.exp(0.35 * rng.standard_normal(len(members)) - 0.35**2 / 2)
            found = np.maximum(food * factor * week - taken, _LEAST_REMAINING_SHARE * food)
            parts.append(_audit_rows(simulation, arm, period, day, members, cluster, found, rng))
    audits = pl.concat(parts)
    numbers = [f"{simulation.town.tag}-A{n:03d}" for n in range(1, audits.height + 1)]
    return audits.with_columns(audit_id=pl.Series(numbers))


def _given_clusters(
    simulation: Simulation, before_day: int, after_day: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Put recipients of the same area together: places in `households`, cluster codes."""
    bins = simulation.bins
    handed = bins["handover_day"].to_numpy()
    fit = (handed > before_day) & (handed < after_day - _SETTLED_BEFORE_AUDIT_DAYS)
    fit &= ~bins["is_second"].to_numpy()
    household = rng.permutation(bins["household_index"].to_numpy()[fit])
    area = simulation.households["area_index"].to_numpy()[household]
    auditing = simulation.town.auditing
    low, high = auditing.households_per_cluster
    remaining = {code: household[area == code] for code in np.unique(area)}
    members, codes = [], []
    for code in range(auditing.clusters_per_arm_count):
        size = int(rng.integers(low, high + 1))
        fullest = max(remaining, key=lambda key: len(remaining[key]))
        members.append(remaining[fullest][:size])
        codes.append(np.full(len(members[-1]), code))
        remaining[fullest] = remaining[fullest][size:]
    return np.concatenate(members), np.concatenate(codes)


def _comparison_share(
    simulation: Simulation, twins: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    alike = simulation.households[twins]
    shares = draw_prior_shares(
        simulation.town,
        alike["area_index"].to_numpy(),
        alike["dwelling_index"].to_numpy(),
        alike["feed_score"].to_numpy(),
        rng,
    )
    return shares[:, 0]


def _audit_rows(
    simulation: Simulation,
    arm: str,
    period: str,
    day: int,
    members: np.ndarray,
    cluster: np.ndarray,
    food_kg: np.ndarray,
    rng: np.random.Generator,
) -> pl.DataFrame:
    homes = simulation.households
    people = homes["people_count"].to_numpy()[members]
    other = _OTHER_RESIDUAL_KG * (people / _PEOPLE_MEAN) ** 0.6
    other = other * np.exp(0.3 * rng.standard_normal(len(members)))
    first = np.unique(cluster, return_index=True)[1]
    names = [f"{arm[0].upper()}{code + 1:02d}" for code in range(len(first))]
    food = np.bincount(cluster, food_kg)
    visited = day + rng.integers(0, 10, len(first))
    return pl.DataFrame(
        {
            "area_id": homes["area_id"].gather(members[first]),
            "cluster_id": names,
            "arm": [arm] * len(first),
            "period": [period] * len(first),
            "audit_date": simulation.calendar.dates(visited),
            "households_count": np.bincount(cluster),
            "residual_kg": np.round(food + np.bincount(cluster, other), 1),
            "food_kg": np.round(food, 1),
        }
    )


def ledger(simulation: Simulation, waves: pl.DataFrame, samples: pl.DataFrame) -> pl.DataFrame:
    """Book the program's costs month by month."""
    lines = pl.concat(
        [
            _lines_by_handover(simulation),
            _lines_by_month(simulation),
            _lines_by_occasion(simulation, waves, samples),
        ]
    )
    booked = lines.filter(pl.col("amount") != 0).sort("cost_date", "category", maintain_order=True)
    numbers = [f"{simulation.town.tag}-L{n:04d}" for n in range(1, booked.height + 1)]
    return booked.with_columns(pl.col("amount").round(2), cost_id=pl.Series(numbers))


def _lines_by_handover(simulation: Simulation) -> pl.DataFrame:
    prices, calendar, bins = simulation.town.prices, simulation.calendar, simulation.bins
    unit_price = np.array([model.unit_price for model in simulation.town.bin_models])
    month = np.searchsorted(calendar.month_edges, bins["handover_day"].to_numpy(), "right") - 1
    spent_by_bin = {
        "bins": unit_price[bins["model_index"].to_numpy()],
        "worms": bins["worms_kg"].to_numpy() * prices.worms_per_kg * _WORMS_ORDERED_RATIO,
        "bedding": bins["bedding_kg"].to_numpy() * prices.bedding_per_kg,
        "freight": np.full(bins.height, prices.freight_per_bin),
        "copayments_received": -bins["copayment"].to_numpy(),
    }
    dates = calendar.dates(calendar.month_edges[: month.max() + 1] + 19)
    return pl.concat(
        pl.DataFrame(
            {"cost_date": dates, "category": category, "amount": np.bincount(month, amounts)}
        )
        for category, amounts in spent_by_bin.items()
    )


def _lines_by_month(simulation: Simulation) -> pl.DataFrame:
    prices, calendar = simulation.town.prices, simulation.calendar
    months = calendar.month_edges[calendar.month_edges < calendar.end_day]
    quarters = months[::3]
    rng = stream(simulation.seed, "ledger")
    staff = prices.staff_per_month * rng.uniform(0.9, 1.1, len(months))
    telling = prices.communication_per_quarter * rng.uniform(0.6, 1.4, len(quarters))
    return pl.DataFrame(
        {
            "cost_date": calendar.dates(np.concatenate([months + 26, quarters + 12])),
            "category": ["staff"] * len(months) + ["communication"] * len(quarters),
            "amount": np.concatenate([staff, telling]),
        }
    )


def _lines_by_occasion(
    simulation: Simulation, waves: pl.DataFrame, samples: pl.DataFrame
) -> pl.DataFrame:
    prices = simulation.town.prices
    held = simulation.events.select(
        cost_date="event_date", category=pl.lit("events"), amount=pl.lit(prices.event_each)
    )
    taught = simulation.events[::3].select(
        cost_date="event_date", category=pl.lit("workshops"), amount=pl.lit(prices.workshop_each)
    )
    asked = (
        samples.group_by("wave_id", maintain_order=True)
        .agg(amount=pl.len() * prices.survey_per_household)
        .join(waves, on="wave_id", maintain_order="left")
        .select(cost_date="closes_date", category=pl.lit("survey"), amount="amount")
    )
    return pl.concat([held, taught, asked])
