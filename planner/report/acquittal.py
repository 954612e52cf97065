"""What a grant paid for: bins, tonnes and ledger lines of its own period, for its funder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import polars as pl

from planner import __version__
from planner.errors import ProgramError, ReportError
from planner.figures import Figure, FigureRegister, Input
from planner.messages import said, say
from planner.paths import ACQUITTAL_FOLDER, file_stem
from planner.program import Funder, Program, label_of_date
from planner.report.disclosure.parts import HIDDEN, Span, stretches, tell_of_few, tells_apart
from planner.report.document.acquittal import acquittal_document
from planner.report.inputs import WordedFigures
from planner.report.page import write_page
from planner.report.replacing import replacing_folder
from planner.report.word.placeholders import PART_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.wording import Wording
from planner.report.year import recorded_whole_before
from planner.rounding import CENTS
from planner.store.opening import Store
from planner.units import ONE_DAY

WORD, PAGE = "acquittal.docx", "acquittal.html"
KEPT_OUT, AVOIDED = "kept_out_of_landfill_t", "emissions_avoided_in_year_t_co2e"


@dataclass(frozen=True)
class Grant:
    """A grant, and what the records hold of its period."""

    # the program file, and the grant's block of it
    program: Program
    funder: Funder
    # first day that does not count: after the grant's period, or not recorded yet
    before_date: dt.date
    labels: tuple[str, ...]  # reporting years that the period touches, as far as they are recorded
    lines: pl.DataFrame  # query ledger_lines, of the categories that the grant may pay for
    # bins given in the grant's areas, and households that took them
    bins_count: int
    households_count: int
    is_close: bool  # whether these, read beside what else is published, tell of a few households
    area_names: Mapping[str, str]  # names of the grant's areas by area_id
    months: tuple[Span, ...]  # of the years that the period touches
    others: tuple[Span, ...]  # what other grants of the program count
    counts: pl.DataFrame  # bins given in the stretches of days into which all these cut the time

    @property
    def span(self) -> Span:
        """The days and areas of which the grant counts the bins."""
        return Span(tuple(self.funder.areas), self.funder.first_day, self.before_date)

    @property
    def spent(self) -> float:
        """Sum of the ledger lines [currency]."""
        return float(self.lines["amount"].sum())


def find_funder(program: Program, name: str) -> Funder:
    """Find a funder by name or reference, in any case; a ProgramError names those there are."""
    for one in program.funders:
        if name.casefold() in (one.name.casefold(), one.grant_reference.casefold()):
            return one
    known = "; ".join(
        say("grant.one", name=one.name, reference=one.grant_reference) for one in program.funders
    )
    there = say("grant.known", known=known) if known else say("grant.add")
    raise ProgramError(say("grant.no_funder", name=name, there=there))


def read_grant(store: Store, program: Program, funder: Funder, as_of: dt.date | None) -> Grant:
    """Count what the records hold of a grant's period.

    Raises
    ------
    ProgramError
        An area is not known, or the program file lacks a reporting year.
    ReportError
        Nothing is recorded in the period.
    """
    first, after = funder.first_day, funder.last_day + ONE_DAY
    latest = as_of or store.query("latest_record").item()
    recorded = recorded_whole_before(latest) if isinstance(latest, dt.date) else first
    before = min(after, recorded)
    names = dict(store.query("bins_by_area", from_date=first, before_date=after)
                 .select("area_id", "area_name").iter_rows())  # fmt: skip
    if unknown := sorted(set(funder.areas) - set(names)):
        given = {"funder": funder.name, "area": unknown[0], "known": ", ".join(names)}
        raise ProgramError(say("grant.area", **given))
    lines = store.query("ledger_lines", from_date=first, before_date=before)
    if funder.categories:
        lines = lines.filter(pl.col("category").is_in(funder.categories))
    bins, households = _given(store, funder.areas, first, before)
    if before <= first or (lines.is_empty() and not bins):
        days = {"first": first, "last": funder.last_day}
        raise ReportError(say("grant.nothing", funder=funder.name, **days))
    labels = _years(program, first, before)
    is_close = _is_close(store, program, funder, before, labels)
    shown = {area: names[area] for area in funder.areas}
    months, others = _months(program, labels), _others(program, funder, labels, recorded)
    counts = _counts(store, (*months, *others, Span(tuple(funder.areas), first, before)))
    return Grant(
        program, funder, before, labels, lines, bins, households, is_close, shown, months, others,
        counts,
    )  # fmt: skip


def _months(program: Program, labels: Sequence[str]) -> tuple[Span, ...]:
    spans = []
    for start, end in map(program.months, labels):
        days = pl.date_range(start, end, "1mo", eager=True).to_list()
        spans += [Span((), *ends) for ends in pairwise(days)]
    return tuple(spans)


def _others(
    program: Program, funder: Funder, labels: Sequence[str], recorded: dt.date
) -> tuple[Span, ...]:
    """Find what other grants count of the same years, as far as they are recorded."""
    start = program.months(labels[0])[0]
    ends = (
        (one, one.first_day, min(one.last_day + ONE_DAY, recorded))
        for one in program.funders
        if one != funder
    )
    return tuple(
        Span(tuple(one.areas), max(first, start), last)
        for one, first, last in ends
        if start <= first < last
    )


def _counts(store: Store, spans: Iterable[Span]) -> pl.DataFrame:
    found = [
        store.query("bins_by_area", from_date=first, before_date=before).select(
            pl.lit(first).alias("first"), pl.lit(before).alias("before"), "area_id",
            pl.col("bins_given_in_year").alias("count"),
        )
        for first, before in stretches(spans)
    ]  # fmt: skip
    return pl.concat(found)


def _years(program: Program, first: dt.date, before: dt.date) -> tuple[str, ...]:
    start = program.council.reporting_year_first_month
    days = pl.date_range(first, before - ONE_DAY, "1d", eager=True)
    labels = tuple(dict.fromkeys(label_of_date(day, start) for day in days))
    for label in labels:
        program.months(label)
    return labels


def _given(store: Store, areas: Sequence[str], first: dt.date, before: dt.date) -> tuple[int, int]:
    """Count bins given in areas, all unless named, and the households that took them."""
    if before <= first:
        return 0, 0
    rows = store.query("bins_by_area", from_date=first, before_date=before)
    if areas:
        rows = rows.filter(pl.col("area_id").is_in(areas))
    served = rows["households_served_in_year"].sum()
    return int(rows["bins_given_in_year"].sum()), int(served)


def _is_close(
    store: Store, program: Program, funder: Funder, before: dt.date, labels: Sequence[str]
) -> bool:
    """Whether a reader could subtract the counts from published ones and find a few households.

    Published are counts of areas by year, of the town by month, and those of other grants.
    """
    first, areas = funder.first_day, funder.areas
    of_years = [program.months(label) for label in labels]
    whole = [(start, end) for start, end in of_years if first <= start and end <= before]
    month, after = first.replace(day=1), _month_after(before)
    begun = month if month == first else _month_after(first)
    spans = [(of_years[0][0], of_years[-1][1]), (month, after), (begun, before.replace(day=1))]
    spans += [(whole[0][0], whole[-1][1])] if whole else []
    beside = [(areas, *span) for span in spans]
    if areas:
        beside += [((), first, before), ((), month, after)]
        named = {area for one in program.funders for area in one.areas}
        rest = store.query("bins_by_area", from_date=first, before_date=before)["area_id"]
        beside += [((*areas, *(set(rest) - named)), first, before)]
    for one in program.funders:
        lies_in = set(areas) <= set(one.areas) or set(one.areas) <= set(areas)
        if one != funder and (lies_in or not areas or not one.areas):
            beside.append((one.areas, one.first_day, min(one.last_day + ONE_DAY, before)))
    given = _given(store, areas, first, before)
    others = list(zip(*(_given(store, *span) for span in beside), strict=True))
    threshold = program.privacy.small_cell_threshold
    return any(tells_apart(*pair, threshold) for pair in zip(given, others, strict=True))


def _month_after(day: dt.date) -> dt.date:
    """First of the next month; the day itself where it is the first of one."""
    return day if day.day == 1 else (day.replace(day=28) + 4 * ONE_DAY).replace(day=1)


@dataclass(frozen=True)
class Acquittal:
    """A grant and the figures of the reporting years that it touches, ready to be said."""

    grant: Grant  # what the records hold
    years: tuple[FigureRegister, ...]  # figures of each year, as its report says them
    written_at: dt.datetime  # when the newest records were loaded

    @cached_property
    def wording(self) -> Wording:
        """How the council's country writes numbers."""
        return Wording.of(self.grant.program)

    @cached_property
    def register(self) -> FigureRegister:
        """Figures of the acquittal: those of the years, and the grant's part of each."""
        grant, funder = self.grant, self.grant.funder
        made = FigureRegister(
            grant.program.council.name,
            f"{funder.first_day} to {funder.last_day}",
            __version__,
            self.years[-1].loads,
        )
        self._add_counts(made)
        charged, currency = grant.spent * funder.share, grant.program.council.currency
        rests_on = (Input("query", "ledger_lines"), Input("program", "funders"))
        figures = WordedFigures(made, "grant.figure.")
        for name, amount in (
            ("ledger_lines_sum", grant.spent),
            ("charged", charged),
            ("unspent", funder.granted - charged),
        ):
            amount_to_cents = round(amount, CENTS)
            figures.put(name, name, amount_to_cents, currency, f"{name}_method", *rests_on)
        areas = self.grant.funder.areas
        names = [f"{KEPT_OUT}[{area}]" for area in areas] if areas else [KEPT_OUT, AVOIDED]
        for year in self.years:
            for name in names:
                figure, of = year[name], f"{year.reporting_year}, {name}"
                made.add(replace(figure, id=f"of_year[{of}]"))
                made.add(_times(figure, funder.share, f"of_grant[{of}]"))
        return made

    def _add_counts(self, made: FigureRegister) -> None:
        grant, areas = self.grant, self.grant.funder.areas
        shown = [f"bins_given[{area}]" for area in areas] or ["bins_given"]
        # what a year's report hides of an area would be told by the grant's own count
        is_hidden = any(self._hides(year, name) for year in self.years for name in shown)
        is_hidden |= grant.is_close or self._tells_of_few()
        of_grant = grant.bins_count * grant.funder.share
        for name, count, unit in (
            ("bins_given", grant.bins_count, "bins"),
            ("bins_of_grant", round(of_grant, 1), "bins"),
            ("households_served", grant.households_count, "households"),
        ):
            value = None if is_hidden else float(count)
            label = said(f"grant.figure.{name}")
            method = said(HIDDEN if is_hidden else "grant.counted")
            made.put(name, label, value, unit, method, [Input("query", "bins_by_area")])

    def _hides(self, year: FigureRegister, name: str) -> bool:
        return (found := year.find(name)) is None or found.value is None

    def _tells_of_few(self) -> bool:
        """Whether the grant's count tells of a few bins beside all that is published of the years.

        What a year's report does not say of months or areas is taken as known, but for what it
        hides: an auditor or a council has them from elsewhere.
        """
        grant = self.grant
        hidden = {
            month
            for year in self.years
            for month, figure in year.parts("bins_given_in_month").items()
            if figure.value is None
        }
        published = [one for one in grant.months if f"{one.first:%Y-%m}" not in hidden]
        for year in self.years:
            days = grant.program.months(year.reporting_year)
            areas = [(), *((area,) for area in year.parts("bins_given"))]
            published += [
                Span(some, *days)
                for some in areas
                if not self._hides(year, f"bins_given[{some[0]}]" if some else "bins_given")
            ]
        threshold = grant.program.privacy.small_cell_threshold
        published += [*grant.others, grant.span]
        return tell_of_few(grant.counts, published, grant.months, threshold)


def _times(figure: Figure, share: float, figure_id: str) -> Figure:
    value, low, high, mean = (
        None if end is None else end * share
        for end in (figure.value, figure.low, figure.high, figure.mean)
    )
    method = figure.method
    if figure.value is not None:
        method = said("grant.times", method=method)
    return replace(figure, id=figure_id, method=method, value=value, low=low, high=high, mean=mean)


def write_acquittal(folder: Path, acquittal: Acquittal) -> tuple[Path, ...]:
    """Write the Word document, the page and the figures of an acquittal."""
    document = acquittal_document(acquittal)
    keys = tuple(section.key for section in document.sections)
    target = folder / ACQUITTAL_FOLDER / file_stem(acquittal.grant.funder.grant_reference)
    with replacing_folder(target) as new:
        acquittal.register.write(new)
        write_word(new / WORD, document, acquittal.register, PART_TEMPLATE, keys)
        write_page(new / PAGE, document)
    return target / WORD, target / PAGE
