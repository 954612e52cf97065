"""What is said of a year that runs."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.messages import said
from planner.report.document import Document
from planner.report.document.saying import points, section, table, text
from planner.report.document.summary import AHEAD, ON_TRACK
from planner.report.wording import labelled

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.report.document import Block, Picture, Statement
    from planner.report.document.contents import Contents
    from planner.report.progress import Field

COMMITTEE = ("committee",)
"""Key of the section that stands alone as the half-page."""

MOST_DAYS = 8
NOTHING_DUE = "progress.nothing_due"


def progress_document(
    contents: Contents, field: Field, pictures: Sequence[Picture], end_date: dt.date
) -> Document:
    """Say how the year to a day is doing: the half-page first, then what stands behind it."""
    wording, register = contents.saying.wording, contents.register
    through = wording.day(dt.date.fromisoformat(register.through_date))
    subtitle = [said("progress.subtitle", day=through)]
    if field.stays:
        subtitle.append(said("progress.office_alone"))
    lead, told = text(*field.stays, *_short(contents), kind="lead"), _points(contents, field)
    made = (
        section("committee", "progress.in_short", lead, *points(told)),
        section("pace", "progress.pace", *pictures, *_chances(contents)),
        section("days", "progress.days", *_days(contents, field)),
        section("stock", "progress.stock", *_stock(contents, field)),
        section("money", "progress.spending", *_money(contents)),
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


def _money(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    if saying.knows("program_cost", "budget", "budget_remaining", "budget_spent_share"):
        yield text(saying.say("progress.budget"))


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
        yield text(NOTHING_DUE)
    last = day(end_date - dt.timedelta(days=1))
    yield text(said("progress.year_ends", day=last))


def _sum(frame: pl.DataFrame, name: str) -> int:
    return int(frame[name].sum() or 0)
