"""What the council states of years to come, in words: every page that rests on it prints it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.program import BaselineScenario, Program
    from planner.report.wording import Wording


def stated_assumptions(
    program: Program, wording: Wording, area_names: Mapping[str, str]
) -> tuple[str, ...]:
    """Say each dated scenario of the program file in a sentence.

    Parameters
    ----------
    program, wording
        The program file, and how numbers and days are written.
    area_names
        Name of each area by its id.
    """
    ordered = sorted(program.scenarios, key=lambda one: one.begins)
    return tuple(_said(one, wording, area_names) for one in ordered)


def _said(one: BaselineScenario, wording: Wording, area_names: Mapping[str, str]) -> str:
    where = listing(area_names.get(area, area) for area in one.areas) or "all areas"
    parts = []
    if one.leaves_residual_bin_share:
        share = wording.share(one.leaves_residual_bin_share)
        parts.append(f"{share} of the scraps that went to the waste bin go elsewhere in {where}")
    for name, price in (("levy", one.landfill_levy_per_t), ("gate fee", one.gate_fee_per_t)):
        if price is not None:
            parts.append(f"the {name} is {wording.money(price, 2)} for a tonne")
    source = f" Source: {one.source}." if one.source else ""
    day = wording.day(one.begins)
    return f"Assumed, {one.name}: from {day} on {listing(parts)}.{source}"
