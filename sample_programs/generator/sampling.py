"""Whom each survey round asks, and who of them answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation

_LEAST_PER_STRATUM = 6
_LEAST_STREETS = 2
_LEAST_FRAME = 30
_PEOPLE_USUAL = 2.4


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
    waves.sort(key=lambda wave: wave.opens_day)
    followups = [wave for wave in waves if wave.wave_kind == "followup"]
    kept = followups if survey.followups_count is None else followups[-survey.followups_count :]
    return [wave for wave in waves if wave.wave_kind == "baseline" or wave in kept]


def frame_of(simulation: Simulation, wave: Wave) -> np.ndarray:
    """Places of the households from which a round is drawn: those that may be contacted.

    A baseline asks those registered in its reporting year before it opens; a follow-up
    asks those that were given a bin before it opens, whether they kept it or not.
    """
    may = simulation.households["may_contact"].to_numpy()
    if wave.wave_kind == "baseline":
        registered = simulation.households["registered_day"].to_numpy()
        starts = simulation.calendar.year_edges[wave.year]
        return np.flatnonzero(may & (registered >= starts) & (registered < wave.opens_day))
    return np.flatnonzero(may & (simulation.household_handover_day() < wave.opens_day))


def allocate(
    sizes: np.ndarray, asked_count: float, least_count: int = _LEAST_PER_STRATUM
) -> np.ndarray:
    """Share a sample over strata in proportion, with a least count in each.

    Examples
    --------
    >>> allocate(np.array([200, 100, 3]), 60).tolist()
    [40, 20, 3]
    """
    fair = np.rint(asked_count * sizes / sizes.sum()).astype(int)
    return np.minimum(sizes, np.maximum(fair, least_count))


def draw_sample(simulation: Simulation, wave: Wave, rng: np.random.Generator) -> pl.DataFrame:
    """Draw a round's stratified sample; adds `household_index`, `stratum_index`, `is_drawn`.

    Streets are drawn within strata and everybody in them is asked. A round that asks
    everyone draws nobody: `is_drawn` is false and nothing of it goes into samples.
    """
    survey = simulation.town.survey
    baseline = wave.wave_kind == "baseline"
    in_streets = survey.drawn == "streets" and not baseline
    members = frame_of(simulation, wave)
    described = simulation.households[members].select(
        "household_id",
        household_index=pl.Series(members),
        stratum=pl.concat_str(list(survey.stratify_by), separator=" "),
        street=pl.format("street {}", pl.col("street_index") + 1),
    )
    code = np.unique(described["stratum"].to_numpy(), return_inverse=True)[1]
    unit = np.arange(len(members))
    if in_streets:
        street = simulation.households["street_index"].to_numpy()[members]
        unit = np.unique(np.stack([code, street]), axis=1, return_inverse=True)[1].ravel()
    asked = survey.baseline_asked_count if baseline else survey.followup_asked_count
    chosen, probability = _draw_units(code, unit, asked, in_streets, rng)
    if survey.drawn == "everyone":
        chosen, probability = np.full(len(members), True), np.ones(len(members))
    return described.with_columns(
        wave_id=pl.lit(wave.wave_id),
        cluster_id=pl.col("street") if in_streets else pl.lit(None, dtype=pl.String),
        stratum_index=pl.Series(code),
        inclusion_probability=pl.Series(probability),
        is_drawn=pl.lit(survey.drawn != "everyone"),
    ).filter(pl.Series(chosen))


def _draw_units(
    code: np.ndarray,
    unit: np.ndarray,
    asked_count: int,
    in_streets: bool,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Draw units by chance within strata: who is in one drawn, and with what probability."""
    units, first = np.unique(unit, return_index=True)
    unit_code = code[first]
    sizes = np.bincount(unit_code)
    least = _LEAST_STREETS if in_streets else _LEAST_PER_STRATUM
    drawn = allocate(sizes, asked_count * len(units) / len(unit), least)
    order = np.lexsort((rng.random(len(units)), unit_code))
    place = np.empty(len(units), dtype=int)
    place[order] = np.arange(len(units)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    probability = np.round(drawn / sizes, 8)
    return (place < drawn[unit_code])[unit], probability[code]


def draw_responders(
    simulation: Simulation,
    sample: pl.DataFrame,
    wave: Wave,
    last_told: np.ndarray,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Draw who answers and when: places in `households`, and day numbers.

    `last_told` holds what each household told of its bin in earlier rounds, of shape
    (households,): 1 in use, -1 stopped, 0 nothing.
    """
    survey = simulation.town.survey
    household = sample["household_index"].to_numpy()
    stratum = sample["stratum_index"].to_numpy()
    effect = survey.response_spread * rng.standard_normal(stratum.max() + 1)
    in_use = simulation.household_stopped_day()[household] > wave.opens_day
    dwelling = simulation.households["dwelling_index"].to_numpy()[household]
    log_odds = np.log(survey.response_share / (1.0 - survey.response_share))
    log_odds = log_odds + effect[stratum] + np.array(survey.response_by_dwelling)[dwelling]
    people = simulation.households["people_count"].to_numpy()[household]
    log_odds = log_odds + survey.response_by_person * (people - _PEOPLE_USUAL)
    if wave.wave_kind == "followup":
        log_odds = log_odds + survey.response_use_link * in_use
        held_years = (wave.opens_day - simulation.household_handover_day()[household]) / 365.25
        log_odds = log_odds + survey.response_by_year_held * held_years
        told = last_told[household]
        log_odds = log_odds + survey.response_told_stopped * (told < 0)
        log_odds = log_odds + survey.response_told_in_use * (told > 0)
    responds = rng.random(len(household)) < 1.0 / (1.0 + np.exp(-log_odds))
    day = rng.integers(wave.opens_day, wave.closes_day + 1, len(household))
    return household[responds], day[responds]
