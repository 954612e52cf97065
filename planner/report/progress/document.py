"""What is said of a year that runs."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.report.document import Document, Section
from planner.report.document.saying import points, table, text
from planner.report.document.summary import AHEAD, ON_TRACK
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.report.document import Contents, Picture
    from planner.report.document.model import Block, Statement
    from planner.report.progress.making import Field

COMMITTEE = ("committee",)
"""Key of the section that stands alone as the half-page."""

MOST_DAYS = 8
ROUNDS = {"followup": "follow-up"}
NOTHING_DUE = "No hand-over day is planned for the rest of the year, and no survey round is open."


def progress_document(
    contents: Contents, field: Field, pictures: Sequence[Picture], end_date: dt.date
) -> Document:
    """Say how the year is doing: the half-page first, then what stands behind it.

    Parameters
    ----------
    contents
        Figures and records of the year so far.
    field
        Hand-over days, stock and what is to come.
    pictures
        Chart of the pace.
    end_date
        First day after the year.
    """
    wording, register = contents.saying.wording, contents.register
    through = wording.day(dt.date.fromisoformat(register.through_date))
    apart = " For the office alone." if field.stays else ""
    made = (
        Section("committee", "In short", (text(*field.stays, *_short(contents), kind="lead"),
                *points(_points(contents, field)))),
        Section("pace", "Pace against the target", (*pictures, *_chances(contents))),
        Section("days", "Hand-over days", tuple(_days(contents, field))),
        Section("stock", "Stock", tuple(_stock(contents, field))),
        Section("money", "Spending", tuple(_money(contents))),
        Section("records", "Surveys and records", tuple(_records(contents))),
        Section("due", "What is due", tuple(_due(contents, field, end_date))),
    )  # fmt: skip
    written_at = contents.quality.newest
    return Document(
        title=f"Progress in {register.reporting_year}",
        subtitle=f"The year so far, to {through}. Draft, not issued.{apart}",
        council=register.council,
        reporting_year=register.reporting_year,
        version=register.version,
        language=wording.tag,
        written_at=written_at,
        written_on=wording.day(written_at.date()),
        sections=tuple(section for section in made if section.blocks),
    )


def _short(contents: Contents) -> Iterator[Statement]:
    saying = contents.saying
    yield saying.say(
        "So far in {year} the worm bins kept {kept_out_of_landfill_t} of food scraps out of "
        "landfill.",
        year=contents.label,
    )
    if saying.knows(AHEAD, ON_TRACK):
        yield saying.say(
            f"By the end of the year we expect {{{AHEAD}}}. The chance of reaching the target of "
            f"{{kept_out_of_landfill_t_target:amount}} is {{{ON_TRACK}:chance}}."
        )


def _points(contents: Contents, field: Field) -> Iterator[Statement | str]:
    saying = contents.saying
    if saying.knows("bins_given"):
        yield saying.say("{bins_given:amount} given out so far.")
    came, absent = (_sum(field.turnout, name) for name in ("came_count", "absent_count"))
    if came + absent >= contents.program.privacy.small_cell_threshold:
        share = saying.wording.share(absent / (came + absent))
        yield f"{share} of those who booked a place did not come."
    if saying.knows("program_cost", "budget"):
        yield saying.say("{program_cost:amount} spent of a budget of {budget:amount}.")
    refused = contents.quality.refusals["rows_count"].sum()
    if refused:
        yield f"{refused:,} rows of the files are refused and do not count until they are fixed."


def _chances(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    rows = [
        (
            contents.register[f"forecast_{name}"].label.partition(": ")[2].capitalize(),
            saying.cell(f"{name}_target"),
            saying.say(f"{{forecast_{name}}}"),
            saying.say(f"{{on_track_share[{name}]:chance}}"),
        )
        for name in ("bins_given", "kept_out_of_landfill_t")
        if saying.knows(f"forecast_{name}", f"{name}_target", f"on_track_share[{name}]")
    ]
    if rows:
        headings = ("Target", "Set at", "Expected at year's end", "Chance of reaching it")
        yield table("chances", "Targets of the year", headings, rows, numbers=(1, 2, 3))


def _days(contents: Contents, field: Field) -> Iterator[Block]:
    if field.turnout.is_empty():
        return
    day, least = contents.saying.wording.day, contents.program.privacy.small_cell_threshold
    shown = field.turnout.filter(pl.col("came_count") + pl.col("absent_count") >= least)
    rows = [
        (day(date), f"{came:,}", f"{absent:,}")
        for date, came, absent in shown.tail(MOST_DAYS)
        .select("event_date", "came_count", "absent_count")
        .iter_rows()
    ]
    if rows:
        headings = ("Day", "Came", "Did not come")
        yield table("turnout", "The latest hand-over days", headings, rows, numbers=(1, 2))


def _stock(contents: Contents, field: Field) -> Iterator[Block]:
    number = contents.saying.wording.number
    rows = [
        (_item(kind, item), number(stock), number(coming))
        for kind, item, stock, coming in field.stock.select(
            "item_kind", "stock_item", "in_stock_quantity", "outstanding_quantity"
        ).iter_rows()
    ]
    if rows:
        headings = ("Item", "In stock", "On order")
        note = "Bins in pieces, worms and bedding in kilograms, by the latest counts."
        yield table("stock", "What is in store", headings, rows, numbers=(1, 2), note=note)


def _item(kind: str, item: str) -> str:
    """Name an item of stock; what there is one kind of needs no second name."""
    return kind if item == kind else f"{kind}: {item}".replace("_", " ")


def _money(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    if saying.knows("program_cost", "budget", "budget_remaining", "budget_spent_share"):
        yield text(
            saying.say(
                "{program_cost:amount} of {budget:amount} is spent ({budget_spent_share:number}); "
                "{budget_remaining:amount} is left."
            )
        )


def _records(contents: Contents) -> Iterator[Block]:
    quality, wording = contents.quality, contents.saying.wording
    waves = quality.waves.sort("opens_date").tail(1)
    for kind, opens, asked, answers in waves.select(
        "wave_kind", "opens_date", "asked_count", "answers_count"
    ).iter_rows():
        of_asked = f" of {asked:,} asked" if asked else ""
        yield text(
            f"The latest {ROUNDS.get(kind, kind)} survey opened on {wording.day(opens)}: "
            f"{answers:,}{of_asked} have answered."
        )
    refused = quality.refusals["rows_count"].sum()
    words = f"{refused:,} rows are refused. Fix them and load the files again."
    yield text(words if refused else "No row is refused.")


def _due(contents: Contents, field: Field, end_date: dt.date) -> Iterator[Block]:
    day = contents.saying.wording.day
    days = [
        (day(date), f"{places:,}", f"{booked:,}")
        for date, places, booked in field.coming.head(MOST_DAYS)
        .select("event_date", "places_count", "booked_count")
        .iter_rows()
    ]
    if days:
        headings = ("Day", "Places", "Booked")
        yield table("coming", "Hand-over days to come", headings, days, numbers=(1, 2))
    else:
        yield text(NOTHING_DUE)
    last = day(end_date - dt.timedelta(days=1))
    found = [f"the year ends on {last}; the report follows"]
    if contents.quality.refusals.height:
        found.insert(0, "refused rows are to be fixed")
    yield text(f"Also due: {listing(found)}.")


def _sum(frame: pl.DataFrame, name: str) -> int:
    return int(frame[name].sum() or 0)
