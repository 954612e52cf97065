"""The year beside its plan and earlier years, and what is restated of earlier reports."""

from __future__ import annotations

from collections.abc import Iterator

from planner.messages import said
from planner.paths import RESTATEMENT_FILE
from planner.report.document import Block, Section
from planner.report.document.contents import Contents
from planner.report.document.saying import Saying, section, side_of_zero, table, text
from planner.report.figures.comparison import COMPARED, row_words
from planner.report.restatement import CAUSES, changed_amount

INTERVAL = "report.interval"
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
            *saying.cells(f"planned[{name}]"),
            *saying.cells(name),
            against_plan(saying, name) or "report.plan.not_told",
        )
        for name in names
    ]
    headings = ("report.what", "report.plan.planned", INTERVAL, "report.result", INTERVAL)
    made = table(
        "planned",
        "report.plan.caption",
        (*headings, "report.plan.result_is"),
        rows,
        numbers=(1, 2, 3, 4),
        note="report.plan.rule",
    )
    judged = against_plan(saying, MAIN)
    main = [saying.say(f"{judged}.main")] if judged else []
    return (section("planned", "report.plan.heading", text("report.plan.lead", *main), made),)


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
        return "report.plan.inside"
    is_above = value > plan_high
    is_clear = low > plan_high if is_above else high < plan_low
    side = "report.plan.above" if is_above else "report.plan.below"
    return side if is_clear else f"{side}_unclear"


def _row_name(contents: Contents, figure_id: str) -> str:
    figure = contents.register[figure_id]
    unit = contents.saying.wording.unit(figure)
    return f"{figure.label}, {unit}" if unit else figure.label


def earlier(contents: Contents) -> Section | None:
    """Set the year beside earlier ones; None where it is the first."""
    blocks = (*_latest(contents), *_since_issue(contents))
    return section("earlier", "report.earlier.heading", *blocks) if blocks else None


def _latest(contents: Contents) -> Iterator[Block]:
    for label in list(contents.figures(f"{MAIN}_of_year"))[-1:]:
        saying, change = contents.saying, f"{MAIN}_change[{label}]"
        told = []
        if saying.knows(change):
            key = f"report.earlier.change_{side_of_zero(saying, change)}"
            told = [saying.say(key, year=label, change=change)]
        yield text("report.earlier.today", *told)


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
            *saying.cells(f"{figure_id}_of_year[{label}]"),
            *saying.cells(f"{figure_id}_change[{label}]"),
            f"report.earlier.side_{side_of_zero(saying, f'{figure_id}_change[{label}]')}"
            if saying.knows(f"{figure_id}_change[{label}]")
            else "report.earlier.still_running",
        )
        for label in labels
        for figure_id in COMPARED
        if f"{figure_id}_of_year[{label}]" in contents.register
    ]
    headings = ["report.year", "report.what", "report.earlier.then", INTERVAL]
    headings += ["report.earlier.change", INTERVAL, "report.earlier.now_is"]
    yield table("changes", "report.earlier.changes", headings, rows, numbers=(2, 3, 4, 5))


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
        # a difference below the rounding is not worth a line
        if saying.cell(_today(contents, figure_id, label)).words
        != saying.cell(f"{figure_id}_reported[{label}]").words
    ]
    if rows:
        yield text("report.earlier.restated_lead")
        columns = ("reported_then", "estimated_today", "reasons")
        headings = ("report.year", "report.what", *(f"report.earlier.{one}" for one in columns))
        rows.sort(key=lambda row: str(row[0]))
        caption = "report.earlier.restatements"
        yield table("restatements", caption, headings, rows, numbers=(2, 3))


def _since_issue(contents: Contents) -> Iterator[Block]:
    rows = contents.restated
    if rows is None or rows.is_empty():
        return
    material = rows.filter("is_material")
    wording = contents.saying.wording
    share = wording.share(contents.program.reporting.materiality_share)
    words = said(
        "report.earlier.since", rows.height,
        material=material.height, share=share, file=RESTATEMENT_FILE,
    )  # fmt: skip
    yield text(words)
    causes = [name for name in CAUSES if (material[name].abs() > 0.0).any()]
    columns, register = ("issued", "today", *causes), contents.register
    if material.height:
        changed = [
            (row["label"], *(changed_amount(register, row, name, wording) for name in columns))
            for row in material.head(30).iter_rows(named=True)
        ]
        headings = [f"report.earlier.{one}" for one in ("figure", "as_issued", "now")]
        headings += [f"report.by.{name.replace(' ', '_')}" for name in causes]
        numbers = range(1, 1 + len(columns))
        yield table("restated", "report.earlier.material", headings, changed, numbers=numbers)


def _today(contents: Contents, figure_id: str, label: str) -> str:
    return figure_id if label == contents.label else f"{figure_id}_of_year[{label}]"


def _reasons(contents: Contents, figure_id: str) -> str:
    method = contents.register[figure_id].method
    return method.partition(": ")[2].removesuffix(".") or said("reason_why.none")
