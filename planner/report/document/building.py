"""The whole report, section by section."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.document.account import (
    account_details,
    emissions,
    ledger,
    money,
    present_value,
    to_decide,
)
from planner.report.document.advice import advice
from planner.report.document.appendix import factors, method, records
from planner.report.document.chain import castings, chain, chain_details
from planner.report.document.contents import Contents
from planner.report.document.earlier import changes, earlier, restatements
from planner.report.document.model import Document, Section
from planner.report.document.results import areas, months_table, problems_by_supply, results
from planner.report.document.saying import table, text
from planner.report.document.summary import summary
from planner.report.document.sureness import sureness, sureness_details

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Section

DUST = (
    "Dust and compost: compost can carry Legionella and moulds. Wet it before it is handled, "
    "open bags and bins in fresh air and away from the face, wear gloves and a well-fitting "
    "mask, and wash hands after. If you fall ill after handling compost, tell your doctor."
)
LIQUID = (
    "Liquid: what drains from a bin is not tested and may carry germs. Keep it off leaves, herbs "
    "and anything that is eaten raw; pour it, thinned, on the soil of ornamental plants, or back "
    "into the bin."
)
LIFTING = (
    "Lifting: a full tray is heavy. Empty it in parts or lift it in pairs, with a straight back, "
    "and place the bin where nobody has to stoop or climb."
)
BIOSECURITY = (
    "Live worms: order by species, refuse mixed or unknown ones, and never release worms or "
    "unsorted castings in bushland, forest or waterways. Moving live worms, soil or compost may "
    "need a permit."
)
DEFER = (
    "Local health, workplace, biosecurity and waste rules, and the advice of licensed "
    "practitioners, come before anything said here."
)
NOTHING_TO_ADVISE = "The results call for no change."
OF_ADVICE = (
    "Each recommendation follows from the results by the rule next to it. Local plans, staff and "
    "other aims are for the council to weigh."
)


def recommendations(contents: Contents) -> Section:
    """Say what the results call for next year."""
    found = advice(contents)
    if not found:
        return Section("recommendations", "What we recommend", (text(NOTHING_TO_ADVISE),))
    return Section(
        "recommendations",
        "What we recommend for next year",
        (
            text(OF_ADVICE),
            table(
                "recommendations",
                "Recommendations, each with its reason",
                ("What", "Why", "When it is recommended"),
                [(one.short, one.reason, one.rule) for one in found],
            ),
        ),
    )


def cautions(_: Contents) -> Section:
    """Warn of what can hurt."""
    warned = (text(words, kind="caution") for words in (DUST, LIQUID, LIFTING, BIOSECURITY))
    return Section("cautions", "Handling bins, worms and compost with care", (*warned, text(DEFER)))


GLOSSARY = (
    (
        "Audit",
        "Waste bins opened and their contents sorted and weighed, to check what homes say.",
    ),
    ("Castings", "The compost that worms make."),
    (
        "CO2-e",
        "Carbon dioxide equivalent: a greenhouse gas counted as the carbon dioxide that would "
        "warm the climate as much over 100 years.",
    ),
    (
        "Emissions avoided",
        "Methane that landfill will not give off, minus what the program itself emits.",
    ),
    ("Gate fee", "What a landfill charges for each tonne it takes."),
    (
        "Kept out of landfill",
        "Food scraps fed to worms that would otherwise have gone to landfill. Scraps that would "
        "have been composted anyway, or were thrown away after all, do not count.",
    ),
    ("Landfill levy", "The state's charge on each tonne sent to landfill."),
    (
        "Likely range, interval",
        "The method is built so that the range holds the true figure 19 times in 20.",
    ),
    ("Net cost", "What the program costs, minus the levy and gate fee it saves."),
    ("Residual bin", "The kerbside bin for waste that is not recycled or composted."),
)


def glossary(_: Contents) -> Section:
    """Explain the words of the trade that the report cannot do without."""
    return Section(
        "glossary",
        "What the words mean",
        (table("glossary", "Words used in this report", ("Word", "Meaning"), GLOSSARY),),
    )


def details(contents: Contents) -> Section:
    """Gather what a reader may look up and a councillor need not read."""
    parts: tuple[tuple[str, str, tuple[Block, ...]], ...] = (
        ("by_month", "The year by month", (months_table(contents), *contents.pictures("details"))),
        ("by_step", "Bins in use and where scraps went before", chain_details(contents)),
        ("castings", "Castings", castings(contents)),
        ("supplied", "Problems by bin model and delivery", problems_by_supply(contents)),
        ("by_source", "Emissions by source", tuple(account_details(contents))),
        (
            "over_life",
            "Money in detail",
            (ledger(contents), *present_value(contents), *to_decide(contents)),
        ),
        ("by_doubt", "What the ranges rest on", sureness_details(contents)),
        ("by_year", "Earlier years in detail", (*changes(contents), *restatements(contents))),
    )
    found = tuple(Section(key, heading, blocks) for key, heading, blocks in parts if blocks)
    return Section("details", "Appendix: further tables", (), found)


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

BRIEF_KEYS = ("summary",)
PAPER_KEYS, APPENDIX_KEYS = tuple(PAPER), tuple(APPENDICES)
SECTION_KEYS = (*PAPER_KEYS, *APPENDIX_KEYS)

OF_RUNNING = "The year is still running: figures go to {day}, targets are the whole year's."


def build_document(contents: Contents) -> Document:
    """Say everything, once, for every renderer.

    Parameters
    ----------
    contents
        The register, the program file, the list of records and the charts.
    """
    found = (make(contents) for make in (PAPER | APPENDICES).values())
    register, wording = contents.register, contents.saying.wording
    written_at = contents.quality.newest
    return Document(
        title=f"Worm bins in {register.reporting_year}",
        subtitle=_subtitle(contents),
        council=register.council,
        reporting_year=register.reporting_year,
        version=register.version,
        language=wording.language,
        written_at=written_at,
        written_on=wording.day(written_at.date()),
        sections=tuple(section for section in found if section is not None),
    )


def _subtitle(contents: Contents) -> str:
    through, issue = contents.register.through_date, contents.issue
    wording = contents.saying.wording
    state = "Draft, not issued"
    if issue is not None:
        day = wording.day(dt.date.fromisoformat(issue.issued_on))
        state = f"Issue {issue.number} of {day}"
    if not through:
        return f"Year-end report for {contents.label}. {state}."
    day = wording.day(dt.date.fromisoformat(through))
    return f"Report for {contents.label} so far. {OF_RUNNING.format(day=day)} {state}."
