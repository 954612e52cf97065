"""What is said of a grant to its funder: delivered, achieved, paid, and with what cautions."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.document.model import Document, Section, Shown, Statement
from planner.report.document.saying import Saying, points, table, text
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.acquittal import Acquittal
    from planner.report.document.model import Block

ONE_DAY = dt.timedelta(days=1)
CENTS = 2

OF_YEAR = (
    "These are results of whole reporting years, not of the grant's own days. They also count "
    "bins that were given outside the grant's period. Do not claim them for the grant's own bins "
    "alone, and do not add up the years."
)
NO_AREAS = (
    "The ledger does not say which area a line is for. The lines are those of the whole program."
)
NOT_SHOWN = "Too few households are behind the number of bins to show it."
INVENTED = "The council, its funders and all its records are invented."
INVENTED_MARK = "(invented)"


def acquittal_document(acquittal: Acquittal) -> Document:
    """Say what a grant paid for, once, for the Word document and the page."""
    grant, wording = acquittal.grant, acquittal.wording
    saying = Saying(acquittal.register, wording)
    made = (
        Section("short", "In short", tuple(_short(acquittal, saying))),
        Section("grant", "The grant", (_terms(acquittal),)),
        Section("delivered", "What was delivered", tuple(_delivered(acquittal, saying))),
        Section("achieved", "What it achieved", tuple(_achieved(acquittal, saying))),
        Section("ledger", "What was paid", tuple(_ledger(acquittal))),
        Section("cautions", "Cautions", points(_cautions(acquittal))),
    )
    last = wording.day(grant.before_date - ONE_DAY)
    return Document(
        title=f"Grant acquittal: {grant.funder.name}",
        subtitle=f"Grant {grant.funder.grant_reference}. Records up to {last}.",
        council=acquittal.register.council,
        reporting_year=_period(acquittal),
        version=acquittal.register.version,
        language=wording.tag,
        written_at=acquittal.written_at,
        written_on=wording.day(acquittal.written_at.date()),
        sections=made,
    )


def _period(acquittal: Acquittal) -> str:
    funder, day = acquittal.grant.funder, acquittal.wording.day
    return f"{day(funder.first_day)} to {day(funder.last_day)}"


def _money(acquittal: Acquittal, figure_id: str) -> Shown:
    """Show a sum to the cent and without its sign, as an account has it."""
    value = abs(acquittal.register[figure_id].value or 0.0)
    return Shown(figure_id, "amount", acquittal.wording.money(value, CENTS))


def _is_overspent(acquittal: Acquittal) -> bool:
    return (acquittal.register["unspent"].value or 0.0) < 0.0


def _granted(acquittal: Acquittal) -> str:
    return acquittal.wording.money(acquittal.grant.funder.granted, CENTS)


def _share(acquittal: Acquittal) -> str:
    """Write the share of the bins, with a decimal where it has one."""
    share = acquittal.grant.funder.share
    return acquittal.wording.share(share, 0 if round(share, 2) == share else 1)


def _where(acquittal: Acquittal) -> str:
    names = acquittal.grant.area_names.values()
    return f" in {listing(names)}" if names else ""


def _short(acquittal: Acquittal, saying: Saying) -> Iterator[Block]:
    is_over, share = _is_overspent(acquittal), acquittal.grant.funder.share
    spent, left = (_money(acquittal, name) for name in ("charged", "unspent"))
    yield text(
        Statement((f"{_granted(acquittal)} was granted and ", spent, " was spent from it.")),
        Statement(("It is overspent by ", left, ".") if is_over else (left, " is unspent.")),
        kind="lead",
    )
    if saying.knows("bins_given", "households_served"):
        of_them = "all" if share == 1.0 else _share(acquittal)
        told = (
            "{bins_given:amount} given{where} to {households_served:amount} in the grant's period"
        )
        said = saying.say(f"{told}; the grant paid for {of_them} of them.", where=_where(acquittal))
        yield text(said, kind="point")
    for year in acquittal.years:
        kept = f"of_year[{year.reporting_year}, kept_out_of_landfill_t]"
        if saying.knows(kept):
            words = (
                f"In {year.reporting_year} all bins kept {{{kept}}} of food scraps out of landfill."
            )
            yield text(saying.say(words), kind="point")


def _terms(acquittal: Acquittal) -> Block:
    funder = acquittal.grant.funder
    paid = [one.replace("_", " ") for one in funder.categories]
    rows = [
        ("Funder", funder.name),
        ("Reference", funder.grant_reference),
        ("Period", _period(acquittal)),
        ("Granted", _granted(acquittal)),
        ("Bins", f"{_share(acquittal)} of those given{_where(acquittal)}"),
        ("May pay for", listing(paid, most=len(paid)) if paid else "any cost of the program"),
    ]
    return table("grant", "Terms of the grant", ("What", "Terms"), rows)


def _delivered(acquittal: Acquittal, saying: Saying) -> Iterator[Block]:
    known = [one for one in ("bins_given", "bins_of_grant", "households_served")
             if one != "bins_of_grant" or acquittal.grant.funder.share < 1.0]  # fmt: skip
    rows: list[tuple[Statement | str, ...]] = [
        (acquittal.register[one].label, saying.cell(one)) for one in known
    ]
    caption = f"Given{_where(acquittal)} in the grant's period"
    note = "" if saying.knows("bins_given") else NOT_SHOWN
    yield table("delivered", caption, ("What", "Number"), rows, numbers=(1,), note=note)


def _achieved(acquittal: Acquittal, saying: Saying) -> Iterator[Block]:
    is_part = acquittal.grant.funder.share < 1.0
    share = _share(acquittal)
    yield text(OF_YEAR)
    if is_part:
        yield text(
            f"The grant paid for {share} of the bins, so {share} of each result is set next to it."
        )
    rows: list[tuple[Statement | str, ...]] = [
        (
            figure.part.partition(", ")[0],
            figure.label,
            saying.say(f"{{{figure.id}}}"),
            *([saying.say(f"{{of_grant[{figure.part}]}}")] if is_part else []),
        )
        for figure in acquittal.register.parts("of_year").values()
    ]
    headings = ("Year", "What", "All bins", f"{share} of it")[: 3 + is_part]
    numbers = range(2, len(headings))
    note = "In brackets: the 95% interval."
    yield table("achieved", "Results by reporting year", headings, rows, numbers=numbers, note=note)


def _ledger(acquittal: Acquittal) -> Iterator[Block]:
    wording, grant = acquittal.wording, acquittal.grant
    rows: list[tuple[Statement | str, ...]] = [
        (wording.day(day), number, category.replace("_", " "), wording.money(amount, CENTS))
        for number, day, category, amount in grant.lines.iter_rows()
    ]
    rows.append(("Sum", "", "", Statement((_money(acquittal, "ledger_lines_sum"),))))
    end = "Overspent" if _is_overspent(acquittal) else "Unspent"
    sums: list[tuple[Statement | str, ...]] = [
        ("Sum of the lines", Statement((_money(acquittal, "ledger_lines_sum"),))),
        (f"Charged to the grant: {_share(acquittal)}",
         Statement((_money(acquittal, "charged"),))),
        ("Granted", _granted(acquittal)),
        (end, Statement((_money(acquittal, "unspent"),))),
    ]  # fmt: skip
    yield table("sums", "The grant's account", ("What", "Amount"), sums, numbers=(1,),
                has_total=True)  # fmt: skip
    headings = ("Date", "Ledger line", "What for", "Amount")
    yield table("lines", "Ledger lines", headings, rows, numbers=(3,), has_total=True)


def _cautions(acquittal: Acquittal) -> Iterator[str]:
    grant, day = acquittal.grant, acquittal.wording.day
    funder, last = grant.funder, grant.before_date - ONE_DAY
    if last < funder.last_day:
        yield (
            f"The grant runs to {day(funder.last_day)}; records reach {day(last)}. This is an "
            "account so far."
        )
    for year in acquittal.years:
        if year.through_date:
            through = day(dt.date.fromisoformat(year.through_date))
            yield f"{year.reporting_year} is not over: its tonnes count up to {through}."
    yield (
        "The tonnes are estimates from what households report and what was weighed. The year's "
        "report says how sure they are."
    )
    if any((one.value or 0.0) < 0.0 for one in acquittal.register.parts("of_year").values()):
        yield "Emissions below zero: landfill methane comes later than the bins' own emissions."
    if funder.areas:
        yield NO_AREAS
    yield "Co-payments of households are not taken off the lines."
    yield from _others(acquittal)
    if any(INVENTED_MARK in one for one in (grant.program.council.name, funder.name)):
        yield INVENTED


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
        yield (
            f"Other grants may pay for some of the same lines: {listing(o.name for o in same)}. "
            "Check that no line is charged beyond its amount."
        )
