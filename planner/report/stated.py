"""What the council states of years to come, in words: every page that rests on it prints it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.program import BaselineScenario, Program
    from planner.report.wording import Wording


def stated_assumptions(
    program: Program, wording: Wording, area_names: Mapping[str, str]
) -> tuple[str, ...]:
    """Say each dated scenario of the program file in a sentence."""
    ordered = sorted(program.scenarios, key=lambda one: one.begins)
    return tuple(_said(one, wording, area_names) for one in ordered)


def _said(one: BaselineScenario, wording: Wording, area_names: Mapping[str, str]) -> str:
    where = listing(area_names.get(area, area) for area in one.areas) or paper().say(
        "stated.all_areas"
    )
    parts = []
    if one.leaves_residual_bin_share:
        share = wording.share(one.leaves_residual_bin_share)
        parts.append(paper().say("stated.leaves", share=share, where=where))
    for key, price in (
        ("stated.levy", one.landfill_levy_per_t),
        ("stated.gate_fee", one.gate_fee_per_t),
    ):
        if price is not None:
            parts.append(paper().say(key, price=wording.money(price, 2)))
    day = wording.day(one.begins)
    said = paper().say("stated.assumed", name=one.name, day=day, parts=listing(parts))
    return f"{said} {paper().say('stated.source', source=one.source)}" if one.source else said
