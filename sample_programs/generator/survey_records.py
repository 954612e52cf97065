"""Survey rounds as the council runs them: answers with their faults, and diaries."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import PRIOR_SHARES, PROBLEMS
from sample_programs.generator.answering import (
    heap_kg,
    heap_litres,
    recall_stopped_day,
    report_shares,
)
from sample_programs.generator.leaks import ANYWAY, THROWN, say_share
from sample_programs.generator.sampling import (
    Wave,
    draw_responders,
    draw_sample,
    plan_waves,
)
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation
    from sample_programs.generator.towns import Survey

_USE_LEFT_EMPTY_SHARE = 0.02
_SHARES_LEFT_EMPTY_SHARE = 0.06
_PROBLEM_SHARES = (
    *(0.58, 0.12, 0.05, 0.07, 0.05, 0.03, 0.03, 0.01, 0.04, 0.004),
    *(0.004, 0.004, 0.002, 0.006),
)
_PROBLEM_SHARES_STOPPED = (
    *(0.22, 0.17, 0.12, 0.05, 0.06, 0.20, 0.06, 0.02, 0.02, 0.02),
    *(0.01, 0.02, 0.01, 0.02),
)
_DIARY_WEEKS = 4


def baseline_answers(
    simulation: Simulation, household: np.ndarray, day: np.ndarray, rng: np.random.Generator
) -> dict[str, object]:
    """Answer a baseline: the five prior shares, or none of them."""
    shares = simulation.households[household].select(PRIOR_SHARES).to_numpy().copy()
    # those who have their bin already look back at what they did before it
    looks_back = simulation.household_handover_day()[household] <= day
    pull = np.where(looks_back, simulation.town.survey.recalled_to_residual_share, 0.0)[:, None]
    remembered = shares * (1.0 - pull)
    remembered[:, :1] += pull
    reported = report_shares(np.where(pull > 0.0, remembered, shares), rng)
    reported[rng.random(len(household)) < _SHARES_LEFT_EMPTY_SHARE] = np.nan
    return {name: reported[:, place] for place, name in enumerate(PRIOR_SHARES)}


def followup_answers(
    simulation: Simulation, household: np.ndarray, day: np.ndarray, rng: np.random.Generator
) -> dict[str, object]:
    """Answer a follow-up: use, stopping date, feed of the last seven days, the bin."""
    survey, calendar = simulation.town.survey, simulation.calendar
    count = len(household)
    stopped_day = simulation.household_stopped_day()[household]
    given_day = simulation.household_handover_day()[household]
    in_use = stopped_day > day
    says = rng.random(count) >= _USE_LEFT_EMPTY_SHARE
    recalled = recall_stopped_day(survey, calendar, stopped_day, given_day, day, rng)
    tells_date = says & ~in_use & (rng.random(count) < survey.stopped_date_given_share)
    fed = _report_feed(survey, simulation, household, day, rng)
    litres = rng.random(count) < survey.litres_share
    density = simulation.households["caddy_density_kg_per_l"].to_numpy()[household]
    tells_feed = says & in_use
    return {
        "is_in_use": pl.select(pl.when(pl.Series(says)).then(pl.Series(in_use))).to_series(),
        "stopped_date": calendar.dates(np.where(tells_date, recalled, -1)),
        "fed_kg_last_week": np.where(tells_feed & ~litres, heap_kg(fed, survey, rng), np.nan),
        "fed_litres_last_week": np.where(
            tells_feed & litres, heap_litres(fed / density, survey, rng), np.nan
        ),
        **_bin_condition(day - given_day, in_use, says, rng),
    }


def leakage_answers(simulation: Simulation, household: np.ndarray, wave: Wave) -> dict[str, object]:
    """Answer what would have been composted anyway, and what was thrown away after all."""
    if not simulation.town.survey.asks_leakage:
        return dict.fromkeys((ANYWAY, THROWN), np.full(len(household), np.nan))
    rng = stream(simulation.seed, f"leaks {wave.wave_id}")
    homes = simulation.households[household]
    return {name: say_share(homes[name].to_numpy(), rng) for name in (ANYWAY, THROWN)}


def _report_feed(
    survey: Survey,
    simulation: Simulation,
    household: np.ndarray,
    day: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    spread = survey.report_spread
    error = np.exp(spread * rng.standard_normal(len(household)) - spread**2 / 2)
    return simulation.fed_between(household, day - 7, day) * survey.over_report * error


def _bin_condition(
    age_days: np.ndarray, in_use: np.ndarray, says: np.ndarray, rng: np.random.Generator
) -> dict[str, object]:
    count = len(age_days)
    trays = np.minimum(1 + age_days // 130, 3).astype(float)
    trays[~in_use | ~says | (rng.random(count) < 0.15)] = np.nan
    castings = np.round(rng.uniform(2.0, 11.0, count), 1)
    castings[~in_use | ~says | (age_days < 150) | (rng.random(count) < 0.7)] = np.nan
    well = rng.choice(len(PROBLEMS), count, p=_PROBLEM_SHARES)
    badly = rng.choice(len(PROBLEMS), count, p=_PROBLEM_SHARES_STOPPED)
    problem = pl.Series(np.array(PROBLEMS)[np.where(in_use, well, badly)])
    told = pl.Series(rng.random(count) < 0.85)
    return {
        "trays_count": trays,
        "castings_kg": castings,
        "problem": pl.select(pl.when(told).then(problem)).to_series(),
    }


def weigh_diaries(
    simulation: Simulation,
    household: np.ndarray,
    answered_day: np.ndarray,
    may_weigh: np.ndarray,
    rng: np.random.Generator,
) -> pl.DataFrame:
    """Weigh one to four weeks about the week of the answer, at some that use their bin.

    The weighed weeks centre on the week told of, so that neither season nor run-in
    stands between the two.
    """
    survey = simulation.town.survey
    able = np.flatnonzero(may_weigh)
    chosen = rng.permutation(able)[: survey.diaries_count]
    weeks = rng.integers(1, _DIARY_WEEKS + 1, len(chosen))
    starts = answered_day[chosen] - 4 - 7 * weeks // 2 + rng.integers(-2, 4, len(chosen))
    member = np.repeat(household[chosen], weeks)
    week = np.arange(len(member)) - np.repeat(np.cumsum(weeks) - weeks, weeks)
    first_day = np.repeat(starts, weeks) + 7 * week
    if survey.diaries_weighed == "all year":
        half_year = rng.integers(-183, 183, len(member))
        first_day = np.repeat(answered_day[chosen], weeks) + half_year
        last_day = simulation.calendar.piece_edges[-1] - 7
        first_day = np.where(first_day > last_day, first_day - 183, first_day)
    going = simulation.household_stopped_day()[member] >= first_day + 7
    going &= simulation.household_handover_day()[member] <= first_day
    member, first_day = member[going], first_day[going]
    true_kg = simulation.fed_between(member, first_day, first_day + 7)
    weighed = true_kg * (1.0 + survey.weighing_spread * rng.standard_normal(len(member)))
    return pl.DataFrame(
        {
            "household_id": simulation.households["household_id"].gather(member),
            "week_start_date": simulation.calendar.dates(first_day),
            "fed_kg": np.round(weighed / 0.05) * 0.05,
        }
    ).with_columns(pl.col("fed_kg").round(2))


def run_wave(simulation: Simulation, wave: Wave, last_told: np.ndarray) -> dict[str, pl.DataFrame]:
    """Run one round: its samples and answers and, after a follow-up, its weighings.

    `last_told` is as for `draw_responders`, and takes in what this round tells.
    """
    rng = stream(simulation.seed, f"survey {wave.wave_id}")
    sample = draw_sample(simulation, wave, rng)
    household, day = draw_responders(simulation, sample, wave, last_told, rng)
    if wave.wave_kind == "baseline":
        said = baseline_answers(simulation, household, day, rng)
    else:
        said = followup_answers(simulation, household, day, rng)
        said |= leakage_answers(simulation, household, wave)
        in_use = pl.Series(said["is_in_use"])
        state = pl.select(pl.when(in_use).then(1).when(~in_use).then(-1)).to_series()
        told = state.is_not_null().to_numpy()
        last_told[household[told]] = state.drop_nulls().to_numpy()
    who = {
        "wave_id": [wave.wave_id] * len(household),
        "household_id": simulation.households["household_id"].gather(household),
        "answer_date": simulation.calendar.dates(day),
    }
    answers = pl.DataFrame({**who, **said}, nan_to_null=True)
    if wave.wave_kind == "baseline":
        return {"samples": sample, "answers": answers}
    amounts = pl.col("fed_kg_last_week", "fed_litres_last_week").is_not_null()
    fed = answers.select(pl.any_horizontal(amounts)).to_series().to_numpy()
    weighings = weigh_diaries(simulation, household, day, fed, rng)
    return {"samples": sample, "answers": answers, "weighings": weighings}


def survey_tables(simulation: Simulation) -> dict[str, pl.DataFrame]:
    """Write waves, samples, answers and weighings as the council's survey gives them.

    `samples` also holds those whom a round asked without drawing, `is_drawn` false.
    """
    waves = plan_waves(simulation)
    last_told = np.zeros(simulation.households.height, dtype=np.int64)
    rounds = [run_wave(simulation, wave, last_told) for wave in waves]
    stacked = {
        table: pl.concat([part[table] for part in rounds if table in part], how="diagonal_relaxed")
        for table in ("samples", "answers", "weighings")
    }
    # a week weighed for two rounds that follow each other is one week
    stacked["weighings"] = stacked["weighings"].unique(
        ["household_id", "week_start_date"], keep="first", maintain_order=True
    )
    return {"waves": _wave_rows(simulation, waves), **stacked}


def _wave_rows(simulation: Simulation, waves: list[Wave]) -> pl.DataFrame:
    dates = simulation.calendar.dates
    return pl.DataFrame(
        {
            "wave_id": [wave.wave_id for wave in waves],
            "wave_kind": [wave.wave_kind for wave in waves],
            "opens_date": dates(np.array([wave.opens_day for wave in waves])),
            "closes_date": dates(np.array([wave.closes_day for wave in waves])),
            # every round of the towns is one of its own
            "follows_wave_id": pl.Series([None] * len(waves), dtype=pl.String),
        }
    )
