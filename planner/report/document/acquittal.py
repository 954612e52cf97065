"""What is said of a grant to its funder: delivered, achieved, paid, and with what cautions."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import TYPE_CHECKING

from planner.messages import said
from planner.report.document import Block, Document, Shown, Statement
from planner.report.document.saying import Saying, points, section, table, text
from planner.report.wording import listing
from planner.rounding import CENTS
from planner.units import ONE_DAY

if TYPE_CHECKING:
    from planner.report.acquittal import Acquittal


def acquittal_document(acquittal: Acquittal) -> Document:
    """Say what a grant paid for, once, for the Word document and the page."""
    grant, wording = acquittal.grant, acquittal.wording
    saying = Saying(acquittal.register, wording)
    made = (
        section("short", "acquittal.in_short", *_short(acquittal, saying)),
        section("grant", "acquittal.grant", _terms(acquittal)),
        section("delivered", "acquittal.delivered", _delivered(acquittal, saying)),
        section("achieved", "acquittal.achieved", *_achieved(acquittal, saying)),
        section("ledger", "acquittal.paid", *_ledger(acquittal)),
        section("cautions", "acquittal.cautions", *points(_cautions(acquittal))),
    )
    last = wording.day(grant.before_date - ONE_DAY)
    return Document.of(
        said("acquittal.title", funder=grant.funder.name),
        said("acquittal.subtitle", reference=grant.funder.grant_reference, day=last),
        acquittal.register.council,
        _period(acquittal),
        made,
        wording,
        acquittal.written_at,
    )


def _period(acquittal: Acquittal) -> str:
    funder, day = acquittal.grant.funder, acquittal.wording.day
    return said("number.from_to", low=day(funder.first_day), high=day(funder.last_day))


def _money(acquittal: Acquittal, figure_id: str) -> Shown:
    value = abs(acquittal.register[figure_id].value or 0.0)
    return Shown(figure_id, "amount", acquittal.wording.money(value, CENTS))


def _is_overspent(acquittal: Acquittal) -> bool:
    return (acquittal.register["unspent"].value or 0.0) < 0.0


def _granted(acquittal: Acquittal) -> str:
    return acquittal.wording.money(acquittal.grant.funder.granted, CENTS)


def _share(acquittal: Acquittal) -> str:
    return acquittal.wording.rate(acquittal.grant.funder.share)


def _where(acquittal: Acquittal) -> str:
    names = acquittal.grant.area_names.values()
    return said("acquittal.where", areas=listing(names)) if names else ""


def _short(acquittal: Acquittal, saying: Saying) -> Iterator[Block]:
    is_over, share = _is_overspent(acquittal), acquittal.grant.funder.share
    spent, left = (_money(acquittal, name) for name in ("charged", "unspent"))
    yield text(
        saying.say("acquittal.spent", granted=_granted(acquittal), spent=spent),
        saying.say("acquittal.overspent_by" if is_over else "acquittal.unspent_is", left=left),
        kind="lead",
    )
    if saying.knows("bins_given", "households_served"):
        of_them = said("acquittal.all") if share == 1.0 else _share(acquittal)
        where = _where(acquittal)
        yield text(saying.say("acquittal.given", where=where, share=of_them), kind="point")
    for year in acquittal.years:
        kept = f"of_year[{year.reporting_year}, kept_out_of_landfill_t]"
        if saying.knows(kept):
            told = saying.say("acquittal.kept_out", year=year.reporting_year, kept=kept)
            yield text(told, kind="point")


def _terms(acquittal: Acquittal) -> Block:
    funder, share, where = acquittal.grant.funder, _share(acquittal), _where(acquittal)
    paid = [said(f"category.{one}") for one in funder.categories]
    rows = [
        ("acquittal.funder", funder.name),
        ("acquittal.reference", funder.grant_reference),
        ("acquittal.period", _period(acquittal)),
        ("acquittal.granted", _granted(acquittal)),
        ("acquittal.bins", said("acquittal.share_of_given", share=share, where=where)),
        ("acquittal.may_pay", listing(paid, most=len(paid)) if paid else "acquittal.any_cost"),
    ]
    return table("grant", "acquittal.terms_caption", ("report.what", "acquittal.terms"), rows)


def _delivered(acquittal: Acquittal, saying: Saying) -> Block:
    rows = [
        (acquittal.register[one].label, saying.cell(one))
        for one in ("bins_given", "bins_of_grant", "households_served")
        if one != "bins_of_grant" or acquittal.grant.funder.share < 1.0
    ]
    caption = said("acquittal.given_caption", where=_where(acquittal))
    note = "" if saying.knows("bins_given") else "acquittal.not_shown"
    headings = ("report.what", "acquittal.number")
    return table("delivered", caption, headings, rows, numbers=(1,), note=note)


def _achieved(acquittal: Acquittal, saying: Saying) -> Iterator[Block]:
    is_part = acquittal.grant.funder.share < 1.0
    share = _share(acquittal)
    yield text("acquittal.of_year")
    if is_part:
        yield text(said("acquittal.paid_share", share=share))
    rows: list[tuple[Statement | str, ...]] = [
        (
            figure.part.partition(", ")[0],
            figure.label,
            saying.say(f"{{{figure.id}}}"),
            *([saying.say(f"{{of_grant[{figure.part}]}}")] if is_part else []),
        )
        for figure in acquittal.register.parts("of_year").values()
    ]
    headings = ["report.year", "report.what", "acquittal.all_bins"]
    headings += [said("acquittal.of_it", share=share)] * is_part
    numbers, note = range(2, len(headings)), "acquittal.in_brackets"
    yield table("achieved", "acquittal.by_year", headings, rows, numbers=numbers, note=note)


def _ledger(acquittal: Acquittal) -> Iterator[Block]:
    wording, grant = acquittal.wording, acquittal.grant
    spent, charged, left = (
        Statement((_money(acquittal, name),)) for name in ("ledger_lines_sum", "charged", "unspent")
    )
    rows: list[tuple[Statement | str, ...]] = [
        (wording.day(day), number, said(f"category.{category}"), wording.money(amount, CENTS))
        for number, day, category, amount in grant.lines.iter_rows()
    ]
    rows.append(("acquittal.sum", "", "", spent))
    end = "acquittal.overspent" if _is_overspent(acquittal) else "acquittal.unspent"
    sums: list[tuple[Statement | str, ...]] = [
        ("acquittal.sum_of_lines", spent),
        (said("acquittal.charged", share=_share(acquittal)), charged),
        ("acquittal.granted", _granted(acquittal)),
        (end, left),
    ]
    headings = ("report.what", "acquittal.amount")
    yield table("sums", "acquittal.account", headings, sums, numbers=(1,), has_total=True)
    columns = ("acquittal.date", "acquittal.line", "acquittal.what_for", "acquittal.amount")
    yield table("lines", "acquittal.lines", columns, rows, numbers=(3,), has_total=True)


def _cautions(acquittal: Acquittal) -> Iterator[str]:
    grant, day = acquittal.grant, acquittal.wording.day
    funder, last = grant.funder, grant.before_date - ONE_DAY
    if last < funder.last_day:
        yield (said("acquittal.so_far", end=day(funder.last_day), day=day(last)))
    for year in acquittal.years:
        if year.through_date:
            through = day(dt.date.fromisoformat(year.through_date))
            yield said("acquittal.not_over", year=year.reporting_year, through=through)
    yield ("acquittal.estimates")
    if any((one.value or 0.0) < 0.0 for one in acquittal.register.parts("of_year").values()):
        yield "acquittal.below_zero"
    if funder.areas:
        yield "acquittal.no_areas"
    yield "acquittal.copayments"
    yield from _others(acquittal)
    if any("(invented)" in one for one in (grant.program.council.name, funder.name)):
        yield "acquittal.invented"


def _others(acquittal: Acquittal) -> Iterator[str]:
    """Name grants to which the same ledger lines may be charged beyond their whole amount."""
    funder = acquittal.grant.funder
    same = [
        one
        for one in acquittal.grant.program.funders
        if one != funder
        and one.first_day <= funder.last_day
        and funder.first_day <= one.last_day
        and (not one.categories or not funder.categories
             or set(one.categories) & set(funder.categories))
    ]  # fmt: skip
    if sum(one.share for one in same) + funder.share > 1.0:
        yield (said("acquittal.others", names=listing(o.name for o in same)))
