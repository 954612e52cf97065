"""The one picture of the brief: years kept out of landfill, with target and plan."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.program.giveaway import next_label
from planner.report import style
from planner.report.charts.drawing import Drawing, is_narrow, row_spots, tick_words, with_white_edge
from planner.report.targets import verdict
from planner.report.wording import Wording, labelled, listing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TOTAL = "kept_out_of_landfill_t"
MIDDLE = (("middle_range_t[80]", style.BAND_80), ("middle_range_t[50]", style.BAND_50))
PLAN = "next_plan_kept_out_t"
BAR = 0.56


class Row(NamedTuple):
    """A year: its words, its figure, and whether it is the one reported."""

    words: str
    figure: Figure
    is_this: bool = False


def headline_drawing(
    register: FigureRegister, target_t: float | None, wording: Wording
) -> Drawing | None:
    """Chart of the years and of the plan; None where the year has no tonnes."""
    if register[TOTAL].value is None:
        return None
    rows = list(_rows(register))

    def plot(axes: Axes) -> None:
        for place, row in enumerate(rows):
            _plot_row(axes, len(rows) - 1 - place, row, register, target_t, wording)
        most = max([*((row.figure.high or row.figure.value or 0.0) for row in rows), target_t or 0])
        axes.set_xlim(0.0, most * 1.34 or 1.0)
        axes.set_ylim(-0.6, len(rows) - 0.4)
        names = [row.words.replace(" ", "\n", 1) if is_narrow(axes) else row.words for row in rows]
        axes.set_yticks(range(len(rows)), names[::-1])
        axes.tick_params(axis="y", length=0)
        axes.set_xlabel(said("chart.headline.axis"))
        axes.xaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))

    return Drawing(
        "headline",
        _title(register, target_t, wording),
        _caption(register, target_t),
        _alt_text(rows, target_t, wording),
        plot,
        0.27 * len(rows) + 0.52,
        "summary",
        row_spots({row.words: row.figure for row in rows}, wording),
    )


def _rows(register: FigureRegister) -> Iterator[Row]:
    for label, figure in register.parts(f"{TOTAL}_of_year").items():
        if figure.value is not None:
            yield Row(label, figure)
    label = register.reporting_year
    words = said("chart.headline.so_far", year=label) if register.through_date else label
    yield Row(words, register[TOTAL], is_this=True)
    if PLAN in register:
        yield Row(said("chart.headline.plan", year=next_label(label)), register[PLAN])


def _plot_row(
    axes: Axes,
    place: int,
    row: Row,
    register: FigureRegister,
    target_t: float | None,
    wording: Wording,
) -> None:
    value = row.figure.value or 0.0
    low = value if row.figure.low is None else row.figure.low
    high = value if row.figure.high is None else row.figure.high
    bands = [(low, high, style.BAND)]
    if row.is_this:
        bands += [
            (register[name].low or value, register[name].high or value, colour)
            for name, colour in MIDDLE
            if name in register
        ]
    for start, end, colour in bands:
        axes.barh(place, end - start, BAR, left=start, color=colour, **style.WITHIN)
    if row.is_this and target_t is not None:
        looks: dict[str, Any] = {"color": style.ACCENT, "linewidth": 3.0}
        axes.vlines(
            target_t, place - 0.45, place + 0.45, path_effects=with_white_edge(3.0), **looks
        )
    axes.vlines(value, place - BAR / 2, place + BAR / 2, color=style.INK, linewidth=2.2)
    words = wording.figure(row.figure)
    if row.is_this and target_t:
        target = wording.number(target_t, 0 if float(target_t).is_integer() else 1)
        words += ", " + said("chart.headline.target", target=target)
    # right of the target's line too, which would cross the words
    end = max(high, target_t) if row.is_this and target_t else high
    axes.annotate(
        words.replace(" (", "\n(").replace(", ", ",\n") if is_narrow(axes) else words,
        (end, place),
        (6, 0),
        textcoords="offset points",
        va="center",
        weight="bold" if row.is_this else "normal",
    )


def _title(register: FigureRegister, target_t: float | None, wording: Wording) -> str:
    total = register[TOTAL]
    found = said("chart.headline.title", amount=wording.amount(total), year=register.reporting_year)
    parts = []
    result = None if target_t is None else verdict(register, TOTAL, target_t)
    if result:
        parts.append(said(f"report.judged.{result}"))
    if PLAN in register:
        amount = wording.amount(register[PLAN])
        coming = next_label(register.reporting_year)
        parts.append(said("chart.headline.expects", year=coming, amount=amount))
    return labelled(found, "; ".join(parts)) if parts else found


def _caption(register: FigureRegister, target_t: float | None) -> str:
    words = said("chart.headline.caption")
    if MIDDLE[0][0] in register:
        words += " " + said("chart.headline.darker")
    if target_t is not None:
        words += " " + said("chart.headline.orange")
    return words


def _alt_text(rows: list[Row], target_t: float | None, wording: Wording) -> str:
    named = listing((f"{row.words} {wording.figure(row.figure)}" for row in rows), len(rows))
    words = said("chart.headline.alt", years=named)
    if target_t is not None:
        target = wording.number(target_t, 1)
        words += " " + said("chart.headline.target_of_year", target=target)
    return words
