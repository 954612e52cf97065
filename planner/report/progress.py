"""Write the progress of a year that runs: page, Word document, half a page, chart of the pace."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.figures import FigureRegister
from planner.messages import said
from planner.report import style
from planner.report.charts.drawing import (
    Drawing,
    is_narrow,
    name_target,
    pictured,
    tick_words,
    with_white_edge,
)
from planner.report.document import Block, Document, Picture, Statement
from planner.report.document.contents import Contents
from planner.report.document.saying import points, section, table, text
from planner.report.document.summary import AHEAD, ON_TRACK
from planner.report.page import write_page
from planner.report.replacing import replacing_folder
from planner.report.targets import chance_of
from planner.report.word.placeholders import PART_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.wording import Wording, labelled
from planner.store.opening import open_store
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from matplotlib.axes import Axes


PROGRESS_FOLDER = "progress"
PAGE, WORD, HALF_PAGE = "progress.html", "progress.docx", "committee.docx"
MAIN = "kept_out_of_landfill_t"


@dataclass(frozen=True)
class Field:
    """Rows of the records as they stand."""

    turnout: pl.DataFrame  # query turnout_by_event: who came and who did not, by day held
    coming: pl.DataFrame  # query upcoming_events: days to come in the year
    stock: pl.DataFrame  # query stock_reconciled
    stays: tuple[str, ...] = ()  # why the page must stay in the office; empty where it may leave it


def read_field(
    folder: Path, contents: Contents, before_date: dt.date, stays: tuple[str, ...]
) -> Field:
    """Read the rows before the first day that is not recorded, and the days to come in the year."""
    _, end_date = contents.program.months(contents.label)
    with open_store(folder, read_only=True) as store:
        return Field(
            store.query("turnout_by_event", before_date=before_date),
            store.query("upcoming_events", from_date=before_date, before_date=end_date),
            store.query("stock_reconciled", as_of=before_date),
            stays,
        )


def write_progress(
    folder: Path, contents: Contents, field: Field, forecast_t: Numbers | None
) -> tuple[Path, ...]:
    """Write the page, the document and the half-page.

    The forecast are draws of the year's tonnes, shape (1 + draws_count,); None where there are
    no estimates yet.
    """
    start, end = contents.program.months(contents.label)
    pictures: tuple[Picture, ...] = ()
    if forecast_t is not None:
        target = contents.block.kept_out_of_landfill_t_target
        pace = Pace(contents.register, start, forecast_t, target)
        drawing = pace_drawing(pace, _title(contents), contents.saying.wording)
        pictures = (pictured(drawing),)
    document = progress_document(contents, field, pictures, end)
    keys = tuple(section.key for section in document.sections)
    with replacing_folder(folder / PROGRESS_FOLDER) as new:
        # the figures say of which year the folder is: without them nothing is put in its place
        contents.register.write(new)
        write_page(new / PAGE, document)
        write_word(new / WORD, document, contents.register, PART_TEMPLATE, keys)
        write_word(new / HALF_PAGE, document, contents.register, PART_TEMPLATE, ("committee",))
    return tuple(folder / PROGRESS_FOLDER / name for name in (PAGE, WORD, HALF_PAGE))


def _title(contents: Contents) -> str:
    """Say how the year stands to its target, or what is expected where it has none."""
    register, wording = contents.register, contents.saying.wording
    ahead = wording.figure(register[f"forecast_{MAIN}"])
    words = {"ahead": ahead, "year": contents.label}
    chance = chance_of(register, MAIN)
    if chance is None or chance.value is None:
        return said("progress.chart.title", **words)
    return said("progress.chart.title_with_chance", **words, chance=wording.chance(chance.value))


FAN = ((2.5, 97.5, style.BAND), (10.0, 90.0, style.BAND_80), (25.0, 75.0, style.BAND_50))
"""Low and high percentile of each band of the fan, the widest first, and its colour."""


class Pace(NamedTuple):
    """What the chart is drawn of."""

    register: FigureRegister  # tonnes of each month recorded
    start: dt.date  # first day of the year
    forecast_t: Numbers  # draws of the year's total, shape (1 + draws_count,)
    target_t: float | None  # target of the year; None where there is none


def pace_drawing(pace: Pace, title: str, wording: Wording) -> Drawing:
    """Chart tonnes added up by month, with a fan to the year's end.

    The fan is exact at the end of the year; on the way there it widens evenly.
    """
    so_far = _so_far(pace)

    def plot(axes: Axes) -> None:
        months = np.arange(len(so_far))
        _plot_fan(axes, pace, len(so_far) - 1, so_far[-1])
        axes.plot(months, so_far, color=style.MAIN, linewidth=2.6)
        axes.annotate(
            said("progress.chart.so_far", tonnes=wording.number(so_far[-1], so_far[-1] < 10.0)),
            (months[-1], so_far[-1]),
            (8, -10),
            textcoords="offset points",
            ha="left",
            weight="bold",
        )
        _label_axes(axes, pace, wording)

    words = said(
        "progress.chart.alt",
        title=title,
        tonnes=wording.number(so_far[-1], 1),
        months=len(so_far) - 1,
    )
    caption = said("progress.chart.fan")
    if pace.target_t is not None:
        caption += " " + said("progress.chart.dashed")
    return Drawing("pace", title, caption, words, plot, section="pace")


def _so_far(pace: Pace) -> list[float]:
    first = f"{pace.start:%Y-%m}"
    months = pace.register.parts("kept_out_of_landfill_t_in_month")
    of_year = [one.value or 0.0 for month, one in months.items() if month >= first]
    return list(accumulate(of_year, initial=0.0))


def _plot_fan(axes: Axes, pace: Pace, now: int, tonnes: float) -> None:
    ends = [now, MONTHS_PER_YEAR]
    for low, high, colour in FAN:
        least, most = np.percentile(pace.forecast_t[1:], (low, high))
        axes.fill_between(ends, [tonnes, least], [tonnes, most], facecolor=colour, **style.WITHIN)
    axes.plot(ends, [tonnes, pace.forecast_t[0]], color=style.INK, linewidth=1.2)


def _label_axes(axes: Axes, pace: Pace, wording: Wording) -> None:
    most = float(np.percentile(pace.forecast_t[1:], 97.5))
    if pace.target_t is not None:
        looks: dict[str, Any] = {"color": style.ACCENT, "linewidth": 2, "linestyle": "--"}
        line = [0.0, pace.target_t]
        axes.plot([0, MONTHS_PER_YEAR], line, path_effects=with_white_edge(2.0), **looks)
        words = said("progress.chart.target", target=wording.number(pace.target_t, 0))
        name_target(axes, words, MONTHS_PER_YEAR, pace.target_t)
    shown = range(0, MONTHS_PER_YEAR + 1, 4 if is_narrow(axes) else 2)
    axes.set_xticks(shown, [_month(pace.start, place, wording) for place in shown])
    axes.set_xlim(0, MONTHS_PER_YEAR)
    axes.set_ylim(0.0, max(most, pace.target_t or 0.0) * 1.1 or 1.0)
    axes.set_ylabel(said("progress.chart.axis"))
    axes.yaxis.set_major_formatter(lambda tick, _: tick_words(tick, wording))


def _month(start: dt.date, place: int, wording: Wording) -> str:
    month = start.month - 1 + place
    return wording.month(f"{start.year + month // 12}-{month % 12 + 1:02d}").replace(" ", "\n")


MOST_DAYS = 8


def progress_document(
    contents: Contents, field: Field, pictures: Sequence[Picture], end_date: dt.date
) -> Document:
    """Say how the year to a day is doing: the half-page first, then what stands behind it."""
    wording, register = contents.saying.wording, contents.register
    subtitle = [said("progress.subtitle", day=contents.through)]
    if field.stays:
        subtitle.append(said("progress.office_alone"))
    lead, told = text(*field.stays, *_short(contents), kind="lead"), _points(contents, field)
    has_budget = contents.saying.knows("program_cost", "budget_remaining", "budget_spent_share")
    money = [text(contents.saying.say("progress.budget"))] if has_budget else []
    made = (
        section("committee", "progress.in_short", lead, *points(told)),
        section("pace", "progress.pace", *pictures, *_chances(contents)),
        section("days", "progress.days", *_days(contents, field)),
        section("stock", "progress.stock", *_stock(contents, field)),
        section("money", "progress.spending", *money),
        section("records", "progress.records", *_records(contents)),
        section("due", "progress.due", *_due(contents, field, end_date)),
    )
    year, written_at = register.reporting_year, contents.quality.newest
    words = (said("progress.title", year=year), " ".join(subtitle), register.council)
    return Document.of(*words, year, made, wording, written_at)


def _short(contents: Contents) -> Iterator[Statement | str]:
    saying = contents.saying
    if not saying.knows("kept_out_of_landfill_t"):
        yield said("progress.no_tonnes")
        return
    yield saying.say("progress.kept_out", year=contents.label)
    if saying.knows(AHEAD, ON_TRACK):
        yield saying.say("progress.expected", AHEAD=AHEAD, ON_TRACK=ON_TRACK)


def _points(contents: Contents, field: Field) -> Iterator[Statement | str]:
    saying = contents.saying
    if saying.knows("bins_given"):
        yield saying.say("progress.bins")
    came, absent = (_sum(field.turnout, name) for name in ("came_count", "absent_count"))
    if came + absent >= contents.program.privacy.small_cell_threshold:
        share = saying.wording.share(absent / (came + absent))
        yield said("progress.absent", share=share)
    if saying.knows("program_cost", "budget"):
        yield saying.say("progress.spent")
    refused = _sum(contents.quality.refusals, "rows_count")
    if refused:
        yield said("progress.refused", refused)


def _chances(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    rows = [
        (
            said(f"progress.of.{name}"),
            saying.say(f"{{{name}_target}}"),
            saying.say(f"{{forecast_{name}}}"),
            saying.say(f"{{on_track_share[{name}]:chance}}"),
        )
        for name in ("bins_given", "kept_out_of_landfill_t")
        if saying.knows(f"forecast_{name}", f"{name}_target", f"on_track_share[{name}]")
    ]
    if rows:
        columns = ("target", "set_at", "expected_at_end", "chance")
        headings = [f"progress.{one}" for one in columns]
        yield table("chances", "progress.targets", headings, rows, numbers=(1, 2, 3))


def _days(contents: Contents, field: Field) -> Iterator[Block]:
    if field.turnout.is_empty():
        return
    day, number = contents.saying.wording.day, contents.saying.wording.number
    least = contents.program.privacy.small_cell_threshold
    shown = field.turnout.filter(pl.col("came_count") + pl.col("absent_count") >= least)
    latest = shown.tail(MOST_DAYS).select("event_date", "came_count", "absent_count")
    rows = [(day(date), number(came), number(absent)) for date, came, absent in latest.iter_rows()]
    if rows:
        headings = ("progress.day", "progress.came", "progress.did_not_come")
        yield table("turnout", "progress.latest_days", headings, rows, numbers=(1, 2))


def _stock(contents: Contents, field: Field) -> Iterator[Block]:
    number = contents.saying.wording.number
    columns = ("item_kind", "stock_item", "in_stock_quantity", "outstanding_quantity")
    rows = [
        (_item(contents, kind, item), number(stock), number(coming))
        for kind, item, stock, coming in field.stock.select(columns).iter_rows()
    ]
    if rows:
        headings = ("progress.item", "progress.in_stock", "progress.on_order")
        note = "progress.stock_note"
        yield table("stock", "progress.in_store", headings, rows, numbers=(1, 2), note=note)


def _item(contents: Contents, kind: str, item: str) -> str:
    """Name an item of stock; what there is one kind of needs no second name."""
    models = {one.model_id: one.model_name for one in contents.program.bin_models}
    name = said(f"category.{kind}")
    return name if item == kind else labelled(name, models.get(item, item.replace("_", " ")))


def _records(contents: Contents) -> Iterator[Block]:
    quality, wording = contents.quality, contents.saying.wording
    waves = quality.waves.sort("opens_date").tail(1)
    for kind, opens, asked, answers in waves.select(
        "wave_kind", "opens_date", "asked_count", "answers_count"
    ).iter_rows():
        key = f"progress.{kind}_{'open' if asked else 'all'}"
        day, told = wording.day(opens), {"asked": asked} if asked else {}
        yield text(said(key, day=day, answers=answers, **told))
    refused = _sum(quality.refusals, "rows_count")
    words = said("progress.refused_rows", refused)
    yield text(words if refused else "progress.none_refused")


def _due(contents: Contents, field: Field, end_date: dt.date) -> Iterator[Block]:
    day, number = contents.saying.wording.day, contents.saying.wording.number
    coming = field.coming.head(MOST_DAYS).select("event_date", "places_count", "booked_count")
    days = [(day(on), number(places), number(booked)) for on, places, booked in coming.iter_rows()]
    if days:
        # what was booked on a day gone by is not held any more: no column of noughts then
        width = 3 if _sum(field.coming, "booked_count") else 2
        headings = ("progress.day", "progress.places", "progress.booked")[:width]
        cut = [row[:width] for row in days]
        yield table("coming", "progress.days_to_come", headings, cut, numbers=range(1, width))
    else:
        yield text("progress.nothing_due")
    last = day(end_date - dt.timedelta(days=1))
    yield text(said("progress.year_ends", day=last))


def _sum(frame: pl.DataFrame, name: str) -> int:
    return int(frame[name].sum() or 0)
