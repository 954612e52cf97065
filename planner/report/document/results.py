"""Results of the year: against targets, in figures, by month and by area."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Section, Statement
from planner.report.document.pictures import pictures
from planner.report.document.planned import planned
from planner.report.document.saying import table, text
from planner.report.wording import absent, against_budget, listing

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Table

HEADINGS = ("What", "Result", "95% interval", "Unit")
NUMBERS = (1, 2)

YEAR_FIGURES = (
    "bins_given",
    "households_served",
    "bins_in_use",
    "retention_12_months",
    "feed_kg_per_bin_week",
    "fed_t",
    "landfill_share",
    "kept_out_of_landfill_t",
    "kept_out_of_landfill_to_date_t",
    "moved_from_other_routes_t",
)
"""Those of the table of the year, in order."""

MONTH_FIGURES = (
    "bins_given_in_month",
    "bins_in_use_at_month_end",
    "fed_t_in_month",
    "kept_out_of_landfill_t_in_month",
)
AREA_FIGURES = (
    *("bins_given", "bins_in_use", "fed_t"),
    *("landfill_share", "kept_out_of_landfill_t"),
)
AREA_HEADINGS = (
    *("Area", "Bins given", "Bins in use", "Fed, t", "Landfilled before"),
    *("Kept out, t", "95% interval"),
)
RESULT_WORDS = {
    "met": "met",
    "close to": "close: the interval spans the target",
    "missed": "missed",
}
MOST_HIDDEN = 12


def results(contents: Contents) -> Section:
    """Say what the year achieved."""
    start, end = contents.months
    wording = contents.saying.wording
    blocks: list[Block] = [
        text(
            f"The reporting year runs from {wording.day(start)} to {wording.day(end)}. "
            "Each estimate stands with its 95% interval; counts and sums of the ledger have none."
        ),
        *_targets(contents),
        figure_table(contents, "year", "The year in figures", YEAR_FIGURES),
        _months(contents),
        *pictures(contents, "results"),
    ]
    return Section("results", "Results of the year", tuple(blocks), planned(contents))


def figure_table(
    contents: Contents, key: str, caption: str, figure_ids: Iterable[str], note: str = ""
) -> Table:
    """Make a table with a row a figure: label, result, interval, unit; unknown ids are left out.

    Where no figure has a unit, neither has the table a column of units.
    """
    saying = contents.saying
    rows = [
        (
            Statement((contents.register[name].label,)),
            saying.cell(name),
            saying.cell(name, "spread"),
            saying.unit(name),
        )
        for name in figure_ids
        if name in contents.register
    ]
    width = len(HEADINGS) if any(row[-1].words for row in rows) else len(HEADINGS) - 1
    cut = [row[:width] for row in rows]
    return table(key, caption, HEADINGS[:width], cut, numbers=NUMBERS, note=note)


def _targets(contents: Contents) -> Iterator[Table]:
    rows = [*_target_rows(contents)]
    if rows:
        yield table(
            "targets",
            "Results against targets and budget",
            ("What", "Target", "Result", "Judgement"),
            rows,
            numbers=(1, 2),
        )


def _target_rows(contents: Contents) -> Iterator[tuple[Statement | str, ...]]:
    saying = contents.saying
    for figure_id in ("bins_given", "kept_out_of_landfill_t"):
        target = f"{figure_id}_target"
        if not saying.knows(target):
            continue
        figure = contents.register[figure_id]
        result = contents.result(figure_id)
        yield (
            figure.label,
            saying.say(f"{{{target}:amount}}"),
            saying.say(f"{{{figure_id}}}"),
            RESULT_WORDS[result] if result else absent(figure),
        )
    if saying.knows("budget"):
        cost = contents.register["program_cost"]
        judged = "not known: no ledger line is loaded"
        if cost.value is not None:
            judged = against_budget(cost.value, saying.value("budget"))
        yield cost.label, saying.cell("budget"), saying.cell("program_cost"), judged


def _months(contents: Contents) -> Table:
    saying, wording = contents.saying, contents.saying.wording
    start, end = contents.months
    first, last = f"{start:%Y-%m}", f"{end:%Y-%m}"
    of_year = [
        month
        for month in contents.figures("kept_out_of_landfill_t_in_month")
        if first <= month <= last
    ]
    return table(
        "months",
        "Month by month",
        ("Month", "Bins given", "Bins in use at its end", "Fed, t", "Kept out, t", "95% interval"),
        [
            (
                wording.month(month),
                *(saying.cell(f"{name}[{month}]") for name in MONTH_FIGURES),
                saying.cell(f"kept_out_of_landfill_t_in_month[{month}]", "spread"),
            )
            for month in of_year
        ],
        numbers=(1, 2, 3, 4, 5),
    )


def areas(contents: Contents) -> Section | None:
    """Say how the areas stand; None where there are none."""
    by_area = contents.figures("kept_out_of_landfill_t")
    if not by_area:
        return None
    saying, names = contents.saying, contents.area_names
    order = sorted(by_area, key=lambda a: (-(by_area[a].value or -1.0), names.get(a, a)))
    shown = [area_id for area_id in order if by_area[area_id].value is not None]
    hidden = [names.get(area_id, area_id) for area_id in order if area_id not in set(shown)]
    rows: list[tuple[Statement | str, ...]] = [
        (
            names.get(area_id, area_id),
            *(saying.cell(f"{name}[{area_id}]") for name in AREA_FIGURES),
            saying.cell(f"kept_out_of_landfill_t[{area_id}]", "spread"),
        )
        for area_id in shown
    ]
    told = "Not shown, because counts are small or would give small ones away"
    note = f"{told}: {listing(hidden, MOST_HIDDEN)}." if hidden else ""
    blocks: tuple[Block, ...] = (
        text(
            "Each area's interval also holds the chance of few households. Areas whose intervals "
            "overlap cannot be ranked with confidence."
        ),
        *pictures(contents, "areas"),
        table(
            "areas",
            "Areas, those that kept most out of landfill first",
            AREA_HEADINGS,
            rows,
            numbers=(1, 2, 3, 4, 5, 6),
            note=note,
        ),
    )
    return Section("areas", "Areas", blocks)
