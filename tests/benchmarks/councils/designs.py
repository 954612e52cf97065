"""The designs of the study: how a council's survey is drawn, answered and weighed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from sample_programs.generator import TOWNS, Town, varied

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
    holds
        Whether what the estimates assume is true of it.
    """

    name: str
    words: str
    change: Callable[[Town], Town] = lambda town: town
    town: str = "port_marrow"
    holds: bool = True

    def council(self, seed: int) -> Town:
        """Draw a council's town."""
        return self.change(varied(TOWNS[self.town], seed))


def _survey(**changed: object) -> Callable[[Town], Town]:
    return lambda town: replace(town, survey=replace(town.survey, **changed))


def _stopping(**changed: object) -> Callable[[Town], Town]:
    return lambda town: replace(town, stopping=replace(town.stopping, **changed))


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
    Design("one_round", "one follow-up a year", _survey(followup_months=(10,))),
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
    ),
    Design(
        "use_mild",
        "users likelier to answer (odds 1.65 times)",
        _survey(response_use_link=0.5),
        holds=False,
    ),
    Design(
        "use_strong",
        "users much likelier to answer (odds 4.5 times)",
        _survey(response_use_link=1.5),
        holds=False,
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
)
