"""What was planned for the year beside what came of it, where a plan was made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.document.model import Section
from planner.report.document.saying import table, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Statement
    from planner.report.document.saying import Saying

HEADINGS = (
    "report.what",
    "report.plan.planned",
    "report.interval",
    "report.result",
    "report.interval",
    "report.plan.result_is",
)
NUMBERS = (1, 2, 3, 4)
RULE = "report.plan.rule"
INSIDE = "report.plan.inside"
MAIN = "kept_out_of_landfill_t"


def planned(contents: Contents) -> tuple[Section, ...]:
    """Set the plan beside the results; nothing where no plan of the year was made."""
    names = list(contents.figures("planned"))
    if not names:
        return ()
    saying = contents.saying
    rows = [
        (
            _row_name(contents, name),
            saying.cell(f"planned[{name}]"),
            saying.cell(f"planned[{name}]", "spread"),
            saying.cell(name),
            saying.cell(name, "spread"),
            against_plan(saying, name) or "report.plan.not_told",
        )
        for name in names
    ]
    caption = "report.plan.caption"
    return (
        Section(
            "planned",
            paper().say("report.plan.heading"),
            (
                text("report.plan.lead", *_main(saying)),
                table("planned", caption, HEADINGS, rows, numbers=NUMBERS, note=RULE),
            ),
        ),
    )


def against_plan(saying: Saying, figure_id: str) -> str | None:
    """Judge a figure by the interval that was planned for it; None where either has no value.

    Inside: the value lies within the planned interval. Above or below: the whole interval of
    the figure lies beyond the planned one. Not clearly: the value is beyond, and the two overlap.
    """
    plan_id = f"planned[{figure_id}]"
    if not saying.knows(plan_id, figure_id):
        return None
    (plan_low, plan_high), (low, high) = saying.limits(plan_id), saying.limits(figure_id)
    value = saying.value(figure_id)
    if plan_low <= value <= plan_high:
        return INSIDE
    is_above = value > plan_high
    is_clear = low > plan_high if is_above else high < plan_low
    side = "report.plan.above" if is_above else "report.plan.below"
    return side if is_clear else f"{side}_unclear"


def _row_name(contents: Contents, figure_id: str) -> str:
    figure = contents.register[figure_id]
    unit = contents.saying.wording.unit(figure)
    return f"{figure.label}, {unit}" if unit else figure.label


def _main(saying: Saying) -> Iterator[Statement]:
    judged = against_plan(saying, MAIN)
    if judged:
        yield saying.say(f"{judged}.main")
