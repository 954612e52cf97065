"""Appendices: method, rules of the words, published factors with sources, files."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.messages import paper, said
from planner.paths import FIGURES_FILE
from planner.report.document import Section
from planner.report.document.saying import points, section, table, text
from planner.report.figures import RULES as FOLLOWED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.factors import Factor
    from planner.report.document import Block, Table
    from planner.report.document.contents import Contents

METHOD = ("in_use", "fed", "kept_out", "emissions", "money", "intervals")
RULES = ("target", "zero", "audit", "plan", "year", "rounding")
"""What words are chosen by: results, by rules that the report itself states."""

DIGITS_SHOWN = 12


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
    rules = points(f"appendix.rule.{one}" for one in RULES)
    headings = [f"appendix.standards.{one}" for one in ("rule", "clauses", "known")]
    followed = [(rule.says, rule.clauses, rule.known) for rule in FOLLOWED]
    clauses = table("standards", "appendix.standards.caption", headings, followed)
    lead = text("appendix.standards.lead")
    return section(
        "method",
        "appendix.method.heading",
        *points(f"appendix.method.{one}" for one in METHOD),
        *map(text, (settings, small, "appendix.method.traced")),
        parts=(
            section("rules", "appendix.rules", *rules),
            section("standards", "appendix.standards", lead, clauses),
        ),
    )


def factors(contents: Contents) -> Section:
    """List the published factors and the settings behind the figures."""
    used, words = contents.register.uses("factor"), paper()
    known = (factor for factor in contents.factor_table if factor.name in used)
    rows = [
        (
            factor.title(words),
            words.significant(factor.value),
            _range(factor),
            words.unit_words(factor.unit),
            _source(contents, factor),
        )
        for factor in sorted(known, key=lambda factor: factor.name)
    ]
    headings = [f"appendix.factors.{one}" for one in ("factor", "value", "range")]
    headings += ["report.unit", "report.account.source"]
    return section(
        "factors",
        "appendix.factors.heading",
        text("appendix.no_false_claim"),
        table("factors", "appendix.factors.caption", headings, rows, numbers=(1, 2)),
        *_settings(contents),
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
    uses = contents.register.uses("program").items()
    if rows := sorted((name, detail) for name, (detail, _) in uses):
        headings = ("appendix.settings.setting", "appendix.factors.value")
        yield table("settings", "appendix.settings.caption", headings, rows)


def records(contents: Contents) -> Section:
    """List the files behind the figures."""
    wording = contents.saying.wording
    columns = ("load_id", "file", "loaded_at")
    loads = contents.quality.loads.select(columns).unique(maintain_order=True)
    rows = [(load_id, file, wording.day(at.date())) for load_id, file, at in loads.iter_rows()]
    headings = [f"appendix.files.{one}" for one in ("load", "file", "taken_in")]
    files = table("files", "appendix.files.caption", headings, rows)
    return section("records", "appendix.records.heading", files, _issues(contents))


def _issues(contents: Contents) -> Block:
    """List the reports that were given out, this one among them if it is."""

    def day(written: str) -> str:
        return contents.saying.wording.day(dt.date.fromisoformat(written))

    issues = [*contents.issues, *([contents.issue] if contents.issue else [])]
    if not issues:
        return text("appendix.issues.none")
    rows = [
        (
            str(one.number),
            day(one.issued_on),
            one.reporting_year,
            said("appendix.issues.to", day=day(one.through_date))
            if one.through_date
            else said("appendix.issues.whole_year"),
            one.version,
            one.outputs.get(FIGURES_FILE, "")[:DIGITS_SHOWN],
        )
        for one in issues
    ]
    headings = ["appendix.issues.issue", "appendix.issues.on", "report.year"]
    headings += [f"appendix.issues.{one}" for one in ("covers", "version", "digest")]
    note = "appendix.issues.note"
    return table("issues", "appendix.issues.caption", headings, rows, note=note)
