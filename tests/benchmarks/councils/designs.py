"""The designs of the study: how a council's survey is drawn, answered and weighed.

The estimates take a year's mean feed to be that of the surveyed weeks, give or take a
published spread, ±15% for one round. A council of the study therefore asks in months of its
own and has a mild season of its own, which peaks on any day and strays as far. The designs
`hot_summers`, `hot_any_month` and `one_autumn` show what comes of a stronger season.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sample_programs.generator import TOWNS, Town, varied
from sample_programs.generator.streams import stream

DAYS_A_YEAR, LAST_MONTH = 365.25, 11
MILD_SWINGS = (0.03, 0.13)
"""Swings of a cosine; a week's standard deviation about the year is 6% of it over councils,
as is that of the published spread, triangular between -15 and +15%."""

MID_WINTER_DAY, HEAT_DAY = 196.0, 20.0
"""Days of the year south of the equator, where Port Marrow lies."""

FEW, EVERYBODY = 120, 10_000
"""Households asked in a round, where the number is varied; all where there are fewer."""


@dataclass(frozen=True)
class Design:
    """A kind of council.

    Parameters
    ----------
    name
        Short name for the command line and the results.
    words
        What the table says of it.
    change
        Makes the town from one with its own habits, drawn by chance.
    town
        Name of the sample town that it is like.
    rounds_a_year
        Follow-up rounds.
    has_own_season, has_own_months
        Whether season, and months of asking, differ between councils; else they are the
        sample town's.
    holds
        Whether what the estimates assume is true of it.
    silent_called_share
        Share of the silent of the newest follow-up that are drawn to be called.
    """

    name: str
    words: str
    change: Callable[[Town], Town] = lambda town: town
    town: str = "port_marrow"
    rounds_a_year: int = 2
    has_own_season: bool = True
    has_own_months: bool = True
    holds: bool = True
    silent_called_share: float = 0.0

    def seed(self, place: int) -> int:
        """Seed of one of the design's councils, which no other design shares."""
        return zlib.crc32(f"{self.name} {place}".encode())

    def council(self, seed: int) -> Town:
        """Draw a council's town."""
        town = varied(TOWNS[self.town], seed)
        rng = stream(seed, "season and rounds")
        if self.has_own_season:
            town = _with_own_season(town, rng)
        if self.has_own_months:
            town = _in_any_months(town, self.rounds_a_year, rng)
        return self.change(town)


def _with_own_season(town: Town, rng: np.random.Generator) -> Town:
    """Let feed swing mildly and peak on any day."""
    feeding = replace(
        town.feeding,
        season_peak_day=rng.uniform(0.0, DAYS_A_YEAR),
        season_swing=rng.uniform(*MILD_SWINGS),
        heat_dip=0.0,
    )
    return replace(town, feeding=feeding)


def _in_any_months(town: Town, rounds_a_year: int, rng: np.random.Generator) -> Town:
    """Let rounds open in any months but the first and the last, which run into other years."""
    months = np.sort(rng.choice(np.arange(1, LAST_MONTH), rounds_a_year, replace=False))
    return replace(
        town, survey=replace(town.survey, followup_months=tuple(int(month) for month in months))
    )


def _survey(**changed: object) -> Callable[[Town], Town]:
    return lambda town: replace(town, survey=replace(town.survey, **changed))


def _stopping(**changed: object) -> Callable[[Town], Town]:
    return lambda town: replace(town, stopping=replace(town.stopping, **changed))


def _habits(**parts: dict[str, object]) -> Callable[[Town], Town]:
    """Change several parts of a town."""
    return lambda town: replace(
        town, **{name: replace(getattr(town, name), **changed) for name, changed in parts.items()}
    )


def _differing(town: Town) -> Town:
    """Let areas differ in who gives up, what is fed and what went to the residual bin."""
    return _habits(
        stopping={"area_spread": 0.35},
        feeding={"area_spread": 0.15},
        routes={"area_spread": 0.15},
    )(town)


def _in_areas(count: int) -> Callable[[Town], Town]:
    """Cut a town whose areas differ into more areas, each a part of one of its own."""

    def cut(town: Town) -> Town:
        parts = -(-count // len(town.areas))
        counts = ("houses_count", "townhouses_count", "apartments_count", "residents_count")
        areas = [
            replace(
                area,
                area_id=f"{area.area_id}{part}",
                area_name=f"{area.area_name} {part}",
                **{name: getattr(area, name) // parts for name in counts},
            )
            for part in range(1, parts + 1)
            for area in town.areas
        ]
        return _differing(replace(town, areas=tuple(areas[:count])))

    return cut


def _in_streets(town: Town) -> Town:
    alike = replace(town.streets, feed_correlation=0.15, hazard_spread=0.4)
    return replace(_survey(drawn="streets")(town), streets=alike)


def _heaped(town: Town) -> Town:
    coarse = {"heaped_share": 1.0, "heap_step_kg": 1.0, "heaped_fives_share": 0.8}
    return _survey(over_report=1.6, report_spread=0.5, **coarse)(town)


DESIGNS = (
    Design("stratified", "areas as strata"),
    Design(
        "area_dwelling",
        "areas and dwellings as strata",
        _survey(stratify_by=("area_id", "dwelling")),
    ),
    Design("streets", "whole streets drawn, neighbours alike", _in_streets),
    Design("census", "everybody asked, nobody drawn", _survey(drawn="everyone")),
    Design(
        "response_by_area",
        "response unequal between areas",
        _survey(response_spread=0.9),
    ),
    Design(
        "response_by_dwelling",
        "response unequal between dwellings",
        _survey(response_by_dwelling=(0.4, -0.3, -1.2)),
    ),
    Design("heaped", "whole kilograms and fives of litres, 60% too much", _heaped),
    Design("no_diaries", "no weighed diaries", _survey(diaries_count=0)),
    Design(
        "early_dropout",
        "a third give up in the first months",
        _stopping(early_share=0.33, early_median_days=45.0, late_shape=0.3),
    ),
    Design(
        "late_dropout",
        "few give up early, many after a year",
        _stopping(
            never_set_up_share=0.02, early_share=0.02, late_shape=6.0, late_scale_days=6_000.0
        ),
    ),
    Design("few", f"{FEW} households asked a round", _survey(followup_asked_count=FEW)),
    Design(
        "many",
        "everybody drawn, 70% answer",
        _survey(followup_asked_count=EVERYBODY, response_share=0.7),
    ),
    Design(
        "villages",
        "a small council: about 320 bins, one round a year",
        _survey(response_use_link=0.0),
        town="valdorra",
        rounds_a_year=1,
    ),
    Design(
        "told_stopped",
        "those who told that they had stopped answer seven times less (odds)",
        _survey(response_told_stopped=-math.log(7.0)),
    ),
    Design(
        "last_state",
        "odds of answering twice as high after telling of use, half after telling of none",
        _survey(response_told_in_use=math.log(2.0), response_told_stopped=-math.log(2.0)),
    ),
    Design(
        "response_by_size",
        "odds of answering 1.6 times as high with each person at home",
        _survey(response_by_person=math.log(1.6)),
    ),
    Design(
        "response_by_cohort",
        "odds of answering halve with each year since the hand-over",
        _survey(response_by_year_held=-math.log(2.0)),
    ),
    Design(
        "winter_stopping",
        "four in five who give up do so about mid-winter",
        _stopping(season_share=0.8, season_peak_day=MID_WINTER_DAY),
    ),
    Design(
        "heat_stopping",
        "four in five who give up do so in the heat",
        _stopping(season_share=0.8, season_peak_day=HEAT_DAY),
    ),
    Design(
        "never_set_up",
        "a fifth never set up, the rest lognormal with a long tail",
        _stopping(never_set_up_share=0.2, early_share=0.0, late_lognormal=(700.0, 1.2)),
    ),
    Design(
        "areas_differ",
        "areas differ: hazard by 35%, feed and residual bin by 15%",
        _differing,
    ),
    Design("areas_12", "the same in twelve areas", _in_areas(12)),
    Design("areas_40", "the same in forty areas", _in_areas(40)),
    Design(
        "feed_by_route",
        "big feeders threw far more away before",
        _habits(routes={"feed_link": 0.5}),
    ),
    Design(
        "recall",
        "asked after the hand-over, 30% of what went elsewhere is remembered as thrown away",
        _survey(recalled_to_residual_share=0.3),
    ),
    Design(
        "diaries_all_year",
        "diaries weighed on any days of the year",
        _survey(diaries_weighed="all year"),
    ),
    Design(
        "two_rounds", "two rounds in all, one a year", _survey(followups_count=2), rounds_a_year=1
    ),
    Design("three_rounds", "three rounds in all, one a year", rounds_a_year=1),
    Design("five_rounds", "five rounds in all", _survey(followups_count=5)),
    Design(
        "use_mild",
        "users likelier to answer (odds 1.65 times)",
        _survey(response_use_link=0.5),
        holds=False,
    ),
    Design(
        "use_mild_called",
        "the same, half of the silent of the newest round called",
        _survey(response_use_link=0.5),
        holds=False,
        silent_called_share=0.5,
    ),
    Design(
        "use_strong",
        "users much likelier to answer (odds 4.5 times)",
        _survey(response_use_link=1.5),
        holds=False,
    ),
    Design(
        "use_strong_called",
        "the same, half of the silent of the newest round called",
        _survey(response_use_link=1.5),
        holds=False,
        silent_called_share=0.5,
    ),
    Design(
        "no_contact",
        "those not to be contacted give up twice as readily",
        _stopping(no_contact_hazard=2.0),
        holds=False,
    ),
    Design(
        "no_diaries_biased",
        "no weighed diaries, 60% too much reported",
        _survey(diaries_count=0, over_report=1.6),
        holds=False,
    ),
    Design(
        "hot_summers",
        "feed falls by a third in the heat, rounds in mild months alone",
        has_own_season=False,
        has_own_months=False,
        holds=False,
    ),
    Design(
        "hot_any_month",
        "feed falls by a third in the heat, rounds in any months",
        has_own_season=False,
        holds=False,
    ),
    Design(
        "one_autumn",
        "villages that ask once a year, when feed is low",
        _survey(response_use_link=0.0),
        town="valdorra",
        has_own_season=False,
        has_own_months=False,
        holds=False,
    ),
)
