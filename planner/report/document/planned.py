"""What was planned for the year beside what came of it, where a plan was made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Section
from planner.report.document.saying import table, text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Statement
    from planner.report.document.saying import Saying

HEADINGS = ("What", "Planned", "95% interval", "Result", "95% interval", "The result is")
NUMBERS = (1, 2, 3, 4)
RULE = (
    "A result is inside the plan where it lies within the planned range. It is above or below "
    "the plan where the two ranges do not overlap, and “not clearly” so where they do."
)
INSIDE = "inside the plan"
MAIN = "kept_out_of_landfill_t"
MAIN_WORDS = {
    INSIDE: "Scraps kept out of landfill are as planned",
    "above the plan": "More scraps were kept out of landfill than planned",
    "above the plan, not clearly": "More scraps were kept out of landfill than planned, though "
    "not clearly more",
    "below the plan": "Fewer scraps were kept out of landfill than planned",
    "below the plan, not clearly": "Fewer scraps were kept out of landfill than planned, though "
    "not clearly fewer",
}


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
            against_plan(saying, name) or "not told",
        )
        for name in names
    ]
    caption = "Each figure of the plan beside its result"
    return (
        Section(
            "planned",
            "Plan and result",
            (
                text("The plan for the year and its result:", *_main(saying)),
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
    return f"{'above' if is_above else 'below'} the plan{'' if is_clear else ', not clearly'}"


def _row_name(contents: Contents, figure_id: str) -> str:
    figure = contents.register[figure_id]
    unit = contents.saying.wording.unit(figure)
    return f"{figure.label}, {unit}" if unit else figure.label


def _main(saying: Saying) -> Iterator[Statement]:
    judged = against_plan(saying, MAIN)
    if judged:
        yield saying.say(
            f"{MAIN_WORDS[judged]}: {{planned[{MAIN}]}} planned, {{{MAIN}}} measured.",
        )
