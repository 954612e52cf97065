"""Appendices: method, rules of the words, published factors with sources, files."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.paths import FIGURES_FILE
from planner.report.document.judging import RULES
from planner.report.document.model import Section
from planner.report.document.saying import points, table, text
from planner.report.figures.standards import RULES as FOLLOWED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.factors import Factor
    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Table

METHOD = (
    "Bins in use: bins given × the share still in use at their age, from follow-up answers under "
    "survey weights.",
    "Scraps fed: bins in use × what worms can take at that age and season × the feed that "
    "households report, corrected by those that weigh, and scaled to match each survey.",
    "Kept out of landfill: scraps fed × the share that went to the waste bin before × the share "
    "of that waste which is landfilled. What was composted or collected before is not counted.",
    "Emissions avoided: first-order decay of the scraps kept out, by month, after the IPCC "
    "Guidelines, volume 5, chapter 3, minus the methane and nitrous oxide of the bins by the "
    "factors of chapter 4, and minus what making bins, transport and leakage emit.",
    "Money: the ledger, and the levy and gate fee saved on the tonnes kept out.",
    "Intervals: survey error by replicate weights and factor error by draws from each factor's "
    "stated range, in one matrix of draws through every figure; the middle 95% of the draws is "
    "the interval.",
)
DIGITS_SHOWN = 12
NO_FALSE_CLAIM = "A factor marked “source not read” was not checked against the document it cites."


def method(contents: Contents) -> Section:
    """Say how the figures came about."""
    chosen, privacy = contents.program.method, contents.program.privacy
    settings = (
        f"Edition {chosen.edition.replace('_', ' ').upper()}, global warming potentials "
        f"{chosen.gwp_set.upper()} over 100 years, "
        f"{contents.saying.wording.number(chosen.draws_count)} draws from seed {chosen.seed}, "
        f"planner version {contents.register.version}. The same records, program file, version "
        "and earlier reports give the same figures to the last digit."
    )
    small = (
        f"Counts of fewer than {privacy.small_cell_threshold} households are not shown, nor what "
        "would give them away; estimates by area are withheld with them."
    )
    traced = (
        "Every number of this report carries the name of its figure: as a bookmark in the Word "
        "document, as an attribute in the web page. `planner explain` leads from it to method, "
        "records, files and factors, and the workbook holds it in full."
    )
    return Section(
        "method",
        "Appendix: method",
        (*points(METHOD), text(settings), text(small), text(traced)),
        (
            Section("rules", "Rules behind the words", points(RULES)),
            Section("standards", "Standards that the rules follow", tuple(_standards())),
        ),
    )


def _standards() -> Iterator[Block]:
    """Set the clauses of the standards next to each rule."""
    yield text(
        "For a verifier. The account is made after these clauses; nobody has verified it. The "
        "last column says how well we know each clause."
    )
    yield table(
        "standards",
        "Rules of the account and the clauses that they follow",
        ("Rule", "Clauses", "Known from"),
        [(rule.says, rule.clauses, rule.known) for rule in FOLLOWED],
    )


def factors(contents: Contents) -> Section:
    """List the published factors and the settings behind the figures."""
    inputs = [item for figure in contents.register for item in figure.inputs]
    names = sorted({item.name for item in inputs if item.kind == "factor"})
    by_name = {factor.name: factor for factor in contents.factor_table}
    known = [by_name[name] for name in names if name in by_name]
    blocks: tuple[Block, ...] = (
        text(NO_FALSE_CLAIM),
        _factor_table(contents, known),
        *_settings(contents),
    )
    return Section("factors", "Appendix: published factors and settings", blocks)


def _factor_table(contents: Contents, used: list[Factor]) -> Table:
    return table(
        "factors",
        "Published factors behind the figures",
        ("Factor", "Value", "Range", "Unit", "Source"),
        [
            (
                factor.name.replace("_", " ").replace("/", ", "),
                f"{factor.value:g}",
                _range(factor),
                factor.unit.replace("_", " "),
                _source(contents, factor),
            )
            for factor in used
        ],
        numbers=(1, 2),
    )


def _range(factor: Factor) -> str:
    low, high = factor.limits
    return "" if low == high else f"{low:g} to {high:g}"


def _source(contents: Contents, factor: Factor) -> str:
    source = contents.factor_table.source(factor.source_id)
    place = f", {factor.source_place}" if factor.source_place else ""
    memory = " (source not read)" if factor.seen == "memory" else ""
    assumed = "Assumed. " if factor.evidence == "assumed" else ""
    return f"{assumed}{source.citation}{place}{memory}"


def _settings(contents: Contents) -> Iterator[Table]:
    settings = {
        item.name: item.detail
        for figure in contents.register
        for item in figure.inputs
        if item.kind == "program"
    }
    if settings:
        yield table(
            "settings",
            "Settings of the program file",
            ("Setting", "Value"),
            sorted(settings.items()),
        )


def records(contents: Contents) -> Section:
    """List the files behind the figures."""
    wording = contents.saying.wording
    columns = ("load_id", "file", "loaded_at")
    loads = contents.quality.loads.select(columns).unique(maintain_order=True)
    files = table(
        "files",
        "Files behind the figures",
        ("Load", "File", "Taken in on"),
        [(load_id, file, wording.day(at.date())) for load_id, file, at in loads.iter_rows()],
    )
    return Section("records", "Appendix: records", (files, *_issues(contents)))


def _issues(contents: Contents) -> Iterator[Block]:
    """List the reports that were given out, this one among them if it is."""
    issues = [*contents.issues, *([contents.issue] if contents.issue else [])]
    if not issues:
        yield text("No report has been issued yet: this is a draft.")
        return
    wording = contents.saying.wording
    yield table(
        "issues",
        "Reports that were given out",
        ("Issue", "Issued on", "Year", "Covers", "Version", "Digest of its figures"),
        [
            (
                str(one.number),
                wording.day(dt.date.fromisoformat(one.issued_on)),
                one.reporting_year,
                f"to {wording.day(dt.date.fromisoformat(one.through_date))}"
                if one.through_date
                else "the whole year",
                one.version,
                one.outputs.get(FIGURES_FILE, "")[:DIGITS_SHOWN],
            )
            for one in issues
        ],
        note="Each is kept as it was in the folder issued, with digests of all it rests on.",
    )
