"""The whole report, section by section."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator

from planner.factors import Factor
from planner.messages import paper, said
from planner.paths import FIGURES_FILE
from planner.report.document import Block, Document, Section, Table
from planner.report.document.account import (
    account_details,
    emissions,
    ledger,
    money,
    present_value,
    to_decide,
)
from planner.report.document.advice import advice
from planner.report.document.contents import Contents
from planner.report.document.earlier import changes, earlier, restatements
from planner.report.document.results import (
    CHAIN_DETAILS,
    areas,
    castings,
    chain,
    months_table,
    problems_by_supply,
    results,
)
from planner.report.document.saying import points, section, table, text
from planner.report.document.summary import counted, summary
from planner.report.document.sureness import SURENESS_DETAILS, sureness
from planner.report.figures import RULES as FOLLOWED

CARE = ("dust", "liquid", "lifting", "worms")


def recommendations(contents: Contents) -> Section:
    """Say what the results call for next year."""
    rows = [(one.short, one.reason, one.rule) for one in advice(contents)]
    key, caption = "recommendations", "report.advice.caption"
    if not rows:
        return section(key, "report.advice.heading_none", text("report.advice.none"))
    headings = ("report.advice.what", "report.why", "report.advice.when")
    advised = table(key, caption, headings, rows)
    return section(key, "report.advice.heading", text("report.advice.lead"), advised)


def cautions(_: Contents) -> Section:
    """Warn of what can hurt."""
    warned = (text(f"report.care.{one}", kind="caution") for one in CARE)
    return section("cautions", "report.care.heading", *warned, text("report.care.defer"))


GLOSSARY = "audit castings co2 avoided gate_fee kept_out levy range net_cost residual"


def glossary(_: Contents) -> Section:
    """Explain the words of the trade that the report cannot do without."""
    rows = [(f"report.word.{word}", f"report.word.{word}.means") for word in GLOSSARY.split()]
    headings = ("report.glossary.word", "report.glossary.meaning")
    words = table("glossary", "report.glossary.caption", headings, rows)
    return section("glossary", "report.glossary.heading", words)


def details(contents: Contents) -> Section:
    """Gather what a reader may look up and a councillor need not read."""
    over_life = (ledger(contents), *present_value(contents), *to_decide(contents))
    parts: tuple[tuple[str, str, tuple[Block, ...]], ...] = (
        ("by_month", "appendix.by_month", (months_table(contents), *contents.pictures("details"))),
        ("by_step", "appendix.by_step", _all(CHAIN_DETAILS, contents)),
        ("castings", "report.word.castings", castings(contents)),
        ("supplied", "appendix.supplied", problems_by_supply(contents)),
        ("by_source", "appendix.by_source", tuple(account_details(contents))),
        ("over_life", "appendix.over_life", over_life),
        ("by_doubt", "appendix.by_doubt", _all(SURENESS_DETAILS, contents)),
        ("by_year", "appendix.by_year", (*changes(contents), *restatements(contents))),
    )
    found = (section(key, heading, *blocks) for key, heading, blocks in parts if blocks)
    return section("details", "appendix.details", parts=found)


def _all(
    makers: Iterable[Callable[[Contents], Iterable[Block]]], contents: Contents
) -> tuple[Block, ...]:
    return tuple(block for make in makers for block in make(contents))


METHOD = ("in_use", "fed", "kept_out", "emissions", "money", "intervals")
RULES = ("target", "zero", "audit", "plan", "year", "rounding")
"""What words are chosen by: results, by rules that the report itself states."""


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
            one.outputs.get(FIGURES_FILE, "")[:12],
        )
        for one in issues
    ]
    headings = ["appendix.issues.issue", "appendix.issues.on", "report.year"]
    headings += [f"appendix.issues.{one}" for one in ("covers", "version", "digest")]
    note = "appendix.issues.note"
    return table("issues", "appendix.issues.caption", headings, rows, note=note)


PAPER: dict[str, Callable[[Contents], Section | None]] = {
    "summary": summary,
    "results": results,
    "areas": areas,
    "chain": chain,
    "emissions": emissions,
    "money": money,
    "sureness": sureness,
    "earlier": earlier,
    "recommendations": recommendations,
    "cautions": cautions,
    "glossary": glossary,
}
"""What makes each section of the main paper, in order; the first stands alone as the brief."""

APPENDICES: dict[str, Callable[[Contents], Section | None]] = {
    "details": details,
    "method": method,
    "factors": factors,
    "records": records,
}
"""What makes each appendix, in order."""

OF_COUNTS: dict[str, Callable[[Contents], Section | None]] = {
    "summary": counted,
    "results": results,
    "areas": areas,
    "money": money,
    "cautions": cautions,
    "details": details,
    "records": records,
}
"""What makes each section of a year of which no tonnes can be estimated."""

BRIEF_KEYS = ("summary",)
PAPER_KEYS, APPENDIX_KEYS = tuple(PAPER), tuple(APPENDICES)
SECTION_KEYS = (*PAPER_KEYS, *APPENDIX_KEYS)


def build_document(contents: Contents) -> Document:
    """Say everything, once, for every renderer."""
    makers = PAPER | APPENDICES if contents.has_tonnes else OF_COUNTS
    found = (make(contents) for make in makers.values())
    register, year = contents.register, contents.register.reporting_year
    return Document.of(
        said("report.title", year=year),
        _subtitle(contents),
        register.council,
        year,
        (section for section in found if section is not None),
        contents.saying.wording,
        contents.quality.newest,
    )


def _subtitle(contents: Contents) -> str:
    issue, say_day = contents.issue, contents.saying.wording.day
    state = said("report.draft")
    if issue is not None:
        day = say_day(dt.date.fromisoformat(issue.issued_on))
        state = said("report.issue", number=issue.number, day=day)
    if not contents.is_running:
        return said("report.subtitle", year=contents.label, state=state)
    running = said("report.of_running", day=contents.through)
    return said("report.subtitle_so_far", year=contents.label, running=running, state=state)
