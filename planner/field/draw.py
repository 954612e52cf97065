"""Who gets a place: stated rules, and a draw among those whom the rules treat alike.

The rules, in order: nobody has two places or a second bin; households with priority come
first, then the others, then those who stayed away without a word; within each, those who
registered earlier. Whoever registered in the same period has the same chance: a number that
SHA-256 makes of the words of the draw and the household's own number puts them in order. The
words fix the draw, so that anybody can make it again with any implementation of SHA-256.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    import datetime as dt

    from planner.field.booking import Places, PlacesRequest
    from planner.program import HandOver, Program

ALGORITHM = (
    "SHA-256 (FIPS 180-4) of the UTF-8 text '<words>|<household_id>', in hexadecimal; within a "
    "group and a period the smallest comes first."
)
GROUPS = ("priority", "others", "stayed away before")
BROUGHT, COLLECTED = "delivery", "pick_up"


@dataclass(frozen=True)
class WaitingLine:
    """The waiting list in the order in which it is served."""

    # household_id, area_id, registered_date, group, period, draw_number, place_in_line,
    # access_need, model_id, event_id (wished for), drop_point_id, place_name (of it), latest_date,
    # event_kind
    ordered: pl.DataFrame
    left_out: pl.DataFrame  # the same of households that stayed away too often


def order_waiting_list(waiting: pl.DataFrame, settings: HandOver) -> WaitingLine:
    """Put the waiting list in the order in which places are given.

    Examples
    --------
    >>> import datetime as dt
    >>> from planner.program import HandOver
    >>> row = {"household_id": "H1", "area_id": "A", "registered_date": dt.date(2025, 1, 5)}
    >>> row |= {"is_priority": True, "access_need": "none", "model_id": None, "event_id": None}
    >>> row |= {"drop_point_id": None, "absent_count": 0, "latest_date": None, "draw_number": "0a"}
    >>> order_waiting_list(pl.DataFrame([row]), HandOver()).ordered["group"].to_list()
    ['priority']
    """
    every = {"day": "1d", "month": "1mo"}.get(settings.same_chance)
    period = (
        pl.col("registered_date").dt.truncate(every)
        if every
        else pl.col("registered_date").min().over(pl.lit(1))
    )
    is_brought = (pl.col("access_need") == "home_delivery") | pl.col("drop_point_id").is_not_null()
    marked = waiting.with_columns(
        pl.when(pl.col("absent_count") > 0)
        .then(pl.lit(GROUPS[2]))
        .when("is_priority")
        .then(pl.lit(GROUPS[0]))
        .otherwise(pl.lit(GROUPS[1]))
        .cast(pl.Enum(GROUPS))
        .alias("group"),
        period.alias("period"),
        pl.when(is_brought).then(pl.lit(BROUGHT)).otherwise(pl.lit(COLLECTED)).alias("event_kind"),
    )
    too_often = pl.col("absent_count") > settings.absences_most
    ordered = marked.filter(~too_often).sort("group", "period", "draw_number", "household_id")
    return WaitingLine(ordered.with_row_index("place_in_line", offset=1), marked.filter(too_often))


def give_places(line: pl.DataFrame, days: pl.DataFrame, area_wait_days: int) -> pl.DataFrame:
    """Give the room that the days have to those first in line, each the day that suits it best.

    Who gets a place follows from the line alone: as many from its head as there is room. On
    which day follows from the wishes and areas of these: first the day wished for, then one in
    the household's own area that is not much later than the earliest with room, then the earliest.

    Parameters
    ----------
    line
        Frame of `Line.ordered`.
    days
        event_id, event_date, event_kind, area_id, room_count [bookings], in order of dates.
    area_wait_days
        Days that one in the household's own area may be later [days].

    Returns
    -------
    DataFrame
        The rows of `line` that get a place, in its order, with the day in `given_event_id`
        and `given_date`.
    """
    given = [_of_kind(line, days, kind, area_wait_days) for kind in (COLLECTED, BROUGHT)]
    return pl.concat(given).sort("place_in_line")


def _of_kind(
    line: pl.DataFrame, days: pl.DataFrame, kind: str, area_wait_days: int
) -> pl.DataFrame:
    days = days.filter((pl.col("event_kind") == kind) & (pl.col("room_count") > 0))
    waiting = line.filter(event_kind=kind).with_columns(
        given_event_id=pl.lit(None, pl.String), given_date=pl.lit(None, pl.Date)
    )
    room = dict(days.select("event_id", "room_count").iter_rows())
    settled = waiting.clear()
    # a day that a household has let go is not offered again, so that heads of the line may be
    # left without one; what room they leave goes to those next in line
    while room and sum(room.values()) and waiting.height:
        chosen = waiting.head(sum(room.values()))
        placed = _placed(chosen, days, room, area_wait_days)
        waiting = waiting.join(chosen, on="household_id", how="anti", maintain_order="left")
        settled = pl.concat([settled, placed])
    return settled


def _placed(
    chosen: pl.DataFrame, days: pl.DataFrame, room: dict[str, int], area_wait_days: int
) -> pl.DataFrame:
    """Give each of the chosen a day, and take its place off the room."""
    found = []
    listed = list(days.select("event_id", "event_date", "area_id").iter_rows())
    for fits in ("wish", "area", "any"):
        # listed in order of dates; recounted since wishes may have filled the earliest
        soonest = min((day for event_id, day, _ in listed if room[event_id]), default=None)
        for event_id, event_date, area_id in listed:
            if fits == "area" and soonest and (event_date - soonest).days > area_wait_days:
                continue
            suited = chosen.filter(_suits(fits, event_id, area_id, event_date)).head(room[event_id])
            room[event_id] -= suited.height
            chosen = chosen.join(suited, on="household_id", how="anti", maintain_order="left")
            found.append(
                suited.with_columns(
                    given_event_id=pl.lit(event_id), given_date=pl.lit(event_date, pl.Date)
                )
            )
    return pl.concat(found)


def _suits(fits: str, event_id: str, area_id: str | None, event_date: dt.date) -> pl.Expr:
    is_new = (pl.col("latest_date") < event_date).fill_null(value=True)
    if fits == "wish":
        return is_new & (pl.col("event_id") == event_id).fill_null(value=False)
    if fits == "area":
        return is_new & pl.lit(area_id is not None) & (pl.col("area_id") == (area_id or ""))
    return is_new


def with_slots(given: pl.DataFrame, booked: pl.DataFrame, slots: tuple[str, ...]) -> pl.DataFrame:
    """Spread the places of each day over its slots, those with access needs first in the day.

    Parameters
    ----------
    given
        Frame of `give_places`.
    booked
        event_id, slot, held_count: places held before.

    Returns
    -------
    DataFrame
        `given` with `slot`: the emptiest slots are filled, the earliest first.
    """
    of_day = pl.col("given_event_id")
    order = given.sort(pl.col("access_need") == "none", "place_in_line")
    total = booked.group_by("event_id").agg(pl.col("held_count").sum())
    counted = order.join(
        total, left_on="given_event_id", right_on="event_id", how="left", maintain_order="left"
    ).with_columns(pl.int_range(pl.len()).over(of_day).alias("number"))
    full = pl.col("held_count").fill_null(0).cast(pl.Int64) + pl.len().over(of_day)
    # a slot takes its even share of the day, less what it holds
    share = (full + len(slots) - 1) // len(slots)
    needed = counted.select(of_day, share.alias("share")).unique(maintain_order=True)
    free = (
        needed.join(pl.DataFrame({"slot": slots}), how="cross")
        .join(
            booked,
            left_on=["given_event_id", "slot"],
            right_on=["event_id", "slot"],
            how="left",
            maintain_order="left",
        )
        .with_columns((pl.col("share") - pl.col("held_count").fill_null(0)).clip(0).alias("free"))
        .with_columns(pl.col("free").cum_sum().over("given_event_id").alias("filled_to"))
        .filter(pl.col("free") > 0)
    )
    starts = free.with_columns((pl.col("filled_to") - pl.col("free")).alias("number"))
    return (
        counted.sort("number")
        .join_asof(
            starts.select("given_event_id", "slot", pl.col("number").cast(pl.Int64)).sort("number"),
            on="number",
            by="given_event_id",
            check_sortedness=False,
        )
        .drop("number", "held_count")
        .sort("place_in_line")
    )


def audit_list(found: Places) -> pl.DataFrame:
    """List everybody in line, with all that the order rests on and what came of it."""
    got = found.given.select("household_id", "given_event_id", "booking_id")
    return found.line.ordered.join(
        got, on="household_id", how="left", maintain_order="left"
    ).select(
        "place_in_line",
        "household_id",
        "group",
        "registered_date",
        "period",
        "draw_number",
        "event_kind",
        "given_event_id",
        "booking_id",
    )


def audit_text(found: Places, program: Program, request: PlacesRequest) -> str:
    """Write what another person needs to make the draw again from the list beside it."""
    settings = program.hand_over
    listed = "\n".join(found.line.ordered["household_id"].sort())
    audit = {
        "drawn_on": request.on_date.isoformat(),
        "words": found.seed_words,
        "algorithm": ALGORITHM,
        "order": ["group", "period", "draw_number", "household_id"],
        "groups": list(GROUPS),
        "same_chance": settings.same_chance,
        "absences_most": settings.absences_most,
        "left_out_for_absences": found.line.left_out["household_id"].to_list(),
        "households_count": found.line.ordered.height,
        "households_sha256": hashlib.sha256(listed.encode()).hexdigest(),
        "households_sha256_is_of": "the household_ids, sorted, joined by line feeds, in UTF-8",
        "room": {
            row["event_id"]: {
                "date": row["event_date"].isoformat(),
                "kind": row["event_kind"],
                "places": row["places_count"],
                "held_before": row["booked_count"],
                "room": row["room_count"],
                "given": row["given_count"],
                "chance_of_more_than_places": round(row["beyond_chance"], 6),
            }
            for row in found.days.iter_rows(named=True)
        },
        "who_comes": {
            "share_expected": round(found.law.expected_share, 6),
            "days_of_record": found.law.days_count,
            "places_of_record": found.law.booked_count,
            "stated_share": program.ordering.show_up_share,
            "chance_of_more_than_places_most": settings.beyond_places_chance_most,
        },
    }
    return json.dumps(audit, indent=1, ensure_ascii=False) + "\n"
