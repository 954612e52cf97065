"""Appendices: method, rules of the words, published factors with sources, files."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.messages import paper, said
from planner.paths import FIGURES_FILE
from planner.report.document import Section
from planner.report.document.saying import points, table, text
from planner.report.figures import RULES as FOLLOWED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.factors import Factor
    from planner.report.document import Block, Table
    from planner.report.document.contents import Contents

METHOD = (
    "appendix.method.in_use",
    "appendix.method.fed",
    "appendix.method.kept_out",
    "appendix.method.emissions",
    "appendix.method.money",
    "appendix.method.intervals",
)
RULES = (
    "appendix.rule.target",
    "appendix.rule.zero",
    "appendix.rule.audit",
    "appendix.rule.plan",
    "appendix.rule.year",
    "appendix.rule.rounding",
)
"""What words are chosen by: results, by rules that the report itself states."""

DIGITS_SHOWN = 12
NO_FALSE_CLAIM = "appendix.no_false_claim"


def method(contents: Contents) -> Section:
    """Say how the figures came about."""
    chosen, privacy = contents.program.method, contents.program.privacy
    settings = said(
        "appendix.method.settings",
        edition=chosen.edition.replace("_", " ").upper(),
        gwp=chosen.gwp_set.upper(),
        draws=contents.saying.wording.number(chosen.draws_count),
        seed=str(chosen.seed),
        version=contents.register.version,
    )
    small = said("appendix.method.small", number=privacy.small_cell_threshold)
    traced = "appendix.method.traced"
    return Section(
        "method",
        said("appendix.method.heading"),
        (*points(METHOD), text(settings), text(small), text(traced)),
        (
            Section("rules", said("appendix.rules"), points(RULES)),
            Section(
                "standards",
                said("appendix.standards"),
                tuple(_standards()),
            ),
        ),
    )


def _standards() -> Iterator[Block]:
    """Set the clauses of the standards next to each rule."""
    yield text("appendix.standards.lead")
    yield table(
        "standards",
        "appendix.standards.caption",
        ("appendix.standards.rule", "appendix.standards.clauses", "appendix.standards.known"),
        [(rule.says, rule.clauses, rule.known) for rule in FOLLOWED],
    )


def factors(contents: Contents) -> Section:
    """List the published factors and the settings behind the figures."""
    used = contents.register.uses("factor")
    known = sorted(
        (factor for factor in contents.factor_table if factor.name in used),
        key=lambda factor: factor.name,
    )
    blocks: tuple[Block, ...] = (
        text(NO_FALSE_CLAIM),
        _factor_table(contents, known),
        *_settings(contents),
    )
    return Section("factors", said("appendix.factors.heading"), blocks)


def _factor_table(contents: Contents, used: list[Factor]) -> Table:
    return table(
        "factors",
        "appendix.factors.caption",
        (
            "appendix.factors.factor",
            "appendix.factors.value",
            "appendix.factors.range",
            "report.unit",
            "report.account.source",
        ),
        [
            (
                factor.title(paper()),
                paper().significant(factor.value),
                _range(factor),
                paper().unit_words(factor.unit),
                _source(contents, factor),
            )
            for factor in used
        ],
        numbers=(1, 2),
    )


def _range(factor: Factor) -> str:
    words, (low, high) = paper(), factor.limits
    limits = {"low": words.significant(low), "high": words.significant(high)}
    return "" if low == high else words.say("number.from_to", **limits)


def _source(contents: Contents, factor: Factor) -> str:
    source = contents.factor_table.source(factor.source_id)
    place = f", {factor.place(paper())}" if factor.source_place else ""
    parts = [f"{source.cited(paper())}{place}"]
    if factor.seen == "memory":
        parts.append(said("appendix.factors.not_read"))
    if factor.evidence == "assumed":
        parts.insert(0, said("appendix.factors.assumed"))
    return " ".join(parts)


def _settings(contents: Contents) -> Iterator[Table]:
    settings = contents.register.uses("program")
    if settings:
        yield table(
            "settings",
            "appendix.settings.caption",
            ("appendix.settings.setting", "appendix.factors.value"),
            sorted((name, detail) for name, (detail, _) in settings.items()),
        )


def records(contents: Contents) -> Section:
    """List the files behind the figures."""
    wording = contents.saying.wording
    columns = ("load_id", "file", "loaded_at")
    loads = contents.quality.loads.select(columns).unique(maintain_order=True)
    files = table(
        "files",
        "appendix.files.caption",
        ("appendix.files.load", "appendix.files.file", "appendix.files.taken_in"),
        [(load_id, file, wording.day(at.date())) for load_id, file, at in loads.iter_rows()],
    )
    return Section("records", said("appendix.records.heading"), (files, *_issues(contents)))


def _issues(contents: Contents) -> Iterator[Block]:
    """List the reports that were given out, this one among them if it is."""
    issues = [*contents.issues, *([contents.issue] if contents.issue else [])]
    if not issues:
        yield text("appendix.issues.none")
        return
    wording = contents.saying.wording
    yield table(
        "issues",
        "appendix.issues.caption",
        (
            "appendix.issues.issue",
            "appendix.issues.on",
            "report.year",
            "appendix.issues.covers",
            "appendix.issues.version",
            "appendix.issues.digest",
        ),
        [
            (
                str(one.number),
                wording.day(dt.date.fromisoformat(one.issued_on)),
                one.reporting_year,
                said("appendix.issues.to", day=wording.day(dt.date.fromisoformat(one.through_date)))
                if one.through_date
                else said("appendix.issues.whole_year"),
                one.version,
                one.outputs.get(FIGURES_FILE, "")[:DIGITS_SHOWN],
            )
            for one in issues
        ],
        note="appendix.issues.note",
    )
