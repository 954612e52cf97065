"""Survey rounds as the council runs them: samples, answers with their faults, diaries."""

from __future__ import annotations

from dataclasses import dataclass
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
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation
    from sample_programs.generator.towns import Survey

_LEAST_PER_STRATUM = 6
_LEAST_FRAME = 30
_USE_LEFT_EMPTY_SHARE = 0.02
_SHARES_LEFT_EMPTY_SHARE = 0.06
_PROBLEM_SHARES = (0.58, 0.12, 0.05, 0.07, 0.05, 0.03, 0.03, 0.01, 0.04, 0.02)
_PROBLEM_SHARES_STOPPED = (0.22, 0.17, 0.12, 0.05, 0.06, 0.20, 0.06, 0.02, 0.02, 0.08)
_DIARY_WEEKS = 4


@dataclass(frozen=True)
class Wave:
    """A survey round in day numbers."""

    wave_id: str
    wave_kind: str
    year: int
    opens_day: int
    closes_day: int


def plan_waves(simulation: Simulation) -> list[Wave]:
    """Set a baseline and the follow-ups of every reporting year, in order of opening."""
    survey, calendar = simulation.town.survey, simulation.calendar
    waves = []
    for year, block in enumerate(simulation.town.years):
        rounds = [("B1", "baseline", survey.baseline_month)]
        rounds += [(f"F{n}", "followup", m) for n, m in enumerate(survey.followup_months, 1)]
        for code, kind, month in rounds:
            opens = calendar.day(year, month, 10)
            closes = opens + survey.open_days - 1
            wave = Wave(f"{block.label}-{code}", kind, year, opens, closes)
            if len(frame_of(simulation, wave)) >= _LEAST_FRAME:
                waves.append(wave)
    return sorted(waves, key=lambda wave: wave.opens_day)


def frame_of(simulation: Simulation, wave: Wave) -> np.ndarray:
    """Places of the households from which a round is drawn.

    A baseline asks those registered in its reporting year before it opens; a follow-up
    asks those that were given a bin before it opens, whether they kept it or not.
    """
    if wave.wave_kind == "baseline":
        registered = simulation.households["registered_day"].to_numpy()
        starts = simulation.calendar.year_edges[wave.year]
        return np.flatnonzero((registered >= starts) & (registered < wave.opens_day))
    return np.flatnonzero(simulation.household_handover_day() < wave.opens_day)


def allocate(sizes: np.ndarray, asked_count: int) -> np.ndarray:
    """Share a sample over strata in proportion, with a least count in each.

    Examples
    --------
    >>> allocate(np.array([200, 100, 3]), 60).tolist()
    [40, 20, 3]
    """
    fair = np.rint(asked_count * sizes / sizes.sum()).astype(int)
    return np.minimum(sizes, np.maximum(fair, _LEAST_PER_STRATUM))


def draw_sample(simulation: Simulation, wave: Wave, rng: np.random.Generator) -> pl.DataFrame:
    """Draw a round's stratified sample; adds `household_index` and `stratum_index`."""
    survey = simulation.town.survey
    baseline = wave.wave_kind == "baseline"
    asked = survey.baseline_asked_count if baseline else survey.followup_asked_count
    members = frame_of(simulation, wave)
    described = simulation.households[members].select(
        "household_id",
        household_index=pl.Series(members),
        stratum=pl.concat_str(list(survey.stratify_by), separator=" "),
    )
    code = np.unique(described["stratum"].to_numpy(), return_inverse=True)[1]
    sizes = np.bincount(code)
    drawn = allocate(sizes, asked)
    order = np.lexsort((rng.random(len(code)), code))
    place = np.empty(len(code), dtype=int)
    place[order] = np.arange(len(code)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    probability = np.round(drawn / sizes, 8)
    return described.with_columns(
        wave_id=pl.lit(wave.wave_id),
        cluster_id=pl.lit(None, dtype=pl.String),
        stratum_index=pl.Series(code),
        inclusion_probability=pl.Series(probability[code]),
    ).filter(pl.Series(place < drawn[code]))


def draw_responders(
    simulation: Simulation, sample: pl.DataFrame, wave: Wave, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Draw who answers and when: places in `households`, and day numbers."""
    survey = simulation.town.survey
    household = sample["household_index"].to_numpy()
    stratum = sample["stratum_index"].to_numpy()
    effect = survey.response_spread * rng.standard_normal(stratum.max() + 1)
    in_use = simulation.household_stopped_day()[household] > wave.opens_day
    log_odds = np.log(survey.response_share / (1.0 - survey.response_share))
    log_odds = log_odds + effect[stratum]
    if wave.wave_kind == "followup":
        log_odds = log_odds + survey.response_use_link * in_use
    responds = rng.random(len(household)) < 1.0 / (1.0 + np.exp(-log_odds))
    day = rng.integers(wave.opens_day, wave.closes_day + 1, len(household))
    return household[responds], day[responds]


def baseline_answers(
    simulation: Simulation, household: np.ndarray, rng: np.random.Generator
) -> dict[str, object]:
    """Answer a baseline: the five prior shares, or none of them."""
    true_shares = simulation.households[household].select(PRIOR_SHARES).to_numpy()
    reported = report_shares(true_shares, rng)
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
        "fed_kg_last_week": np.where(tells_feed & ~litres, heap_kg(fed, rng), np.nan),
        "fed_litres_last_week": np.where(
            tells_feed & litres, heap_litres(fed / density, rng), np.nan
        ),
        **_bin_condition(day - given_day, in_use, says, rng),
    }


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


def run_wave(simulation: Simulation, wave: Wave) -> dict[str, pl.DataFrame]:
    """Run one round: its samples and answers and, after a follow-up, its weighings."""
    rng = stream(simulation.seed, f"survey {wave.wave_id}")
    sample = draw_sample(simulation, wave, rng)
    household, day = draw_responders(simulation, sample, wave, rng)
    if wave.wave_kind == "baseline":
        said = baseline_answers(simulation, household, rng)
    else:
        said = followup_answers(simulation, household, day, rng)
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
    """Write waves, samples, answers and weighings as the council's survey gives them."""
    waves = plan_waves(simulation)
    rounds = [run_wave(simulation, wave) for wave in waves]
    stacked = {
        table: pl.concat([part[table] for part in rounds if table in part], how="diagonal_relaxed")
        for table in ("samples", "answers", "weighings")
    }
    return {"waves": _wave_rows(simulation, waves), **stacked}


def _wave_rows(simulation: Simulation, waves: list[Wave]) -> pl.DataFrame:
    dates = simulation.calendar.dates
    return pl.DataFrame(
        {
            "wave_id": [wave.wave_id for wave in waves],
            "wave_kind": [wave.wave_kind for wave in waves],
            "opens_date": dates(np.array([wave.opens_day for wave in waves])),
            "closes_date": dates(np.array([wave.closes_day for wave in waves])),
        }
    )
