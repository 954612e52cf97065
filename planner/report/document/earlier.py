"""The year beside its plan and earlier years, and what is restated of earlier reports."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import said
from planner.paths import RESTATEMENT_FILE
from planner.report.document import Section
from planner.report.document.saying import side_of_zero, table, text
from planner.report.figures.comparison import COMPARED, row_words
from planner.report.restatement import CAUSES, changed_amount

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document import Block, Statement
    from planner.report.document.contents import Contents
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
            said("report.plan.heading"),
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


ENDS = ("issued", "today")
MOST_ROWS = 30
CHANGES = {
    "above": "report.earlier.more",
    "below": "report.earlier.less",
    "either": "report.earlier.either",
}
SIDES = {
    "above": "report.earlier.higher",
    "below": "report.earlier.lower",
    "either": "report.earlier.no_difference",
}
TODAY = "report.earlier.today"
RESTATED = "report.earlier.restated_lead"


def earlier(contents: Contents) -> Section | None:
    """Set the year beside earlier ones; None where it is the first."""
    blocks = (*_latest(contents), *_since_issue(contents))
    return Section("earlier", said("report.earlier.heading"), blocks) if blocks else None


def _latest(contents: Contents) -> Iterator[Block]:
    labels = list(contents.figures("kept_out_of_landfill_t_of_year"))
    if labels:
        yield text(TODAY, *_latest_change(contents, labels[-1]))


def changes(contents: Contents) -> Iterator[Block]:
    """Set out earlier years as estimated today, and the change since."""
    saying = contents.saying
    labels = list(contents.figures("kept_out_of_landfill_t_of_year"))
    if not labels:
        return
    rows = [
        (
            label,
            row_words(figure_id),
            saying.cell(f"{figure_id}_of_year[{label}]"),
            saying.cell(f"{figure_id}_of_year[{label}]", "spread"),
            saying.cell(f"{figure_id}_change[{label}]"),
            saying.cell(f"{figure_id}_change[{label}]", "spread"),
            _told_apart(contents, f"{figure_id}_change[{label}]"),
        )
        for label in labels
        for figure_id in COMPARED
        if f"{figure_id}_of_year[{label}]" in contents.register
    ]
    yield table(
        "changes",
        "report.earlier.changes",
        (
            "report.year",
            "report.what",
            "report.earlier.then",
            "report.interval",
            "report.earlier.change",
            "report.interval",
            "report.earlier.now_is",
        ),
        rows,
        numbers=(2, 3, 4, 5),
    )


def _told_apart(contents: Contents, figure_id: str) -> str:
    if not contents.saying.knows(figure_id):
        return "report.earlier.still_running"
    return SIDES[side_of_zero(contents.saying, figure_id)]


def _latest_change(contents: Contents, label: str) -> Iterator[Statement]:
    saying, change = contents.saying, f"kept_out_of_landfill_t_change[{label}]"
    if not saying.knows(change):
        return
    yield saying.say(CHANGES[side_of_zero(saying, change)], year=label, change=change)


def restatements(contents: Contents) -> Iterator[Block]:
    """List what today's estimates change of earlier reports, with the reasons."""
    saying = contents.saying
    rows = [
        (
            label,
            row_words(figure_id),
            saying.cell(f"{figure_id}_reported[{label}]"),
            saying.cell(_today(contents, figure_id, label)),
            _reasons(contents, f"{figure_id}_restated[{label}]"),
        )
        for figure_id in COMPARED
        for label in contents.figures(f"{figure_id}_restated")
        if _reads_otherwise(contents, figure_id, label)
    ]
    if rows:
        yield text(RESTATED)
        yield table(
            "restatements",
            "report.earlier.restatements",
            (
                "report.year",
                "report.what",
                "report.earlier.reported_then",
                "report.earlier.estimated_today",
                "report.earlier.reasons",
            ),
            sorted(rows, key=lambda row: str(row[0])),
            numbers=(2, 3),
        )


def _since_issue(contents: Contents) -> Iterator[Block]:
    """List what has changed materially since the year was last issued, by cause."""
    rows = contents.restated
    if rows is None or rows.is_empty():
        return
    material = rows.filter("is_material")
    wording = contents.saying.wording
    share = wording.share(contents.program.reporting.materiality_share)
    yield text(
        said(
            "report.earlier.since",
            rows.height,
            material=material.height,
            share=share,
            file=RESTATEMENT_FILE,
        )
    )
    causes = [name for name in CAUSES if (material[name].abs() > 0.0).any()]
    if material.height:
        yield table(
            "restated",
            "report.earlier.material",
            (
                "report.earlier.figure",
                "report.earlier.as_issued",
                "report.earlier.now",
                *(said(f"report.by.{name.replace(' ', '_')}") for name in causes),
            ),
            [
                (
                    row["label"],
                    *(
                        changed_amount(contents.register, row, name, wording)
                        for name in (*ENDS, *causes)
                    ),
                )
                for row in material.head(MOST_ROWS).iter_rows(named=True)
            ],
            numbers=range(1, 3 + len(causes)),
        )


def _reads_otherwise(contents: Contents, figure_id: str, label: str) -> bool:
    """Whether the rounded numbers differ; a difference below the rounding is not worth a line."""
    today = contents.saying.cell(_today(contents, figure_id, label))
    return today.words != contents.saying.cell(f"{figure_id}_reported[{label}]").words


def _today(contents: Contents, figure_id: str, label: str) -> str:
    return figure_id if label == contents.label else f"{figure_id}_of_year[{label}]"


def _reasons(contents: Contents, figure_id: str) -> str:
    method = contents.register[figure_id].method
    return method.partition(": ")[2].removesuffix(".") or said("reason_why.none")
