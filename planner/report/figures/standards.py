"""Clauses of the standards that the account's rules follow, beside each rule and figure.

Seen on 2026-11-29: a summary of the GHG Protocol for Project Accounting (2005) whose headings
follow its chapters 1 to 5 (https://altiorem.org/?p=16968), and a public note that cites its
chapter 8 for the baseline procedure. Of the Corporate Standard (2004) the table of contents was
read, which gives chapters 5 and 7 the titles used here. Of ISO 14064-2:2019 previews gave
nothing below clause 3, so that its numbers are from memory, as are chapters 10 and 11 of the
Protocol. No text was read: a verifier holds the standards and checks the numbers there.
"""

from __future__ import annotations

from typing import NamedTuple

ISO, PROJECT = "ISO 14064-2:2019", "GHG Protocol for Project Accounting (2005)"
CORPORATE = "GHG Protocol Corporate Standard (2004)"
SCOPE_3 = "GHG Protocol Scope 3 Standard (2011)"
MEMORY = "source not read"
TITLE = "chapter title read, text not"
SUMMARY = f"ISO: {MEMORY}; Protocol: chapter seen in a summary, text not"
NOTE = f"ISO: {MEMORY}; Protocol: chapter seen in a public note, text not"


class Rule(NamedTuple):
    """A rule, the clauses that it follows, how well they are known, and figures it makes.

    `figures` holds the ids of declarations, or what these begin with before a ``[``.
    """

    says: str
    clauses: str
    known: str
    figures: tuple[str, ...] = ()


RULES = (
    Rule(
        "The baseline is what households would have done without the bin: where scraps went "
        "before, less what would have been composted anyway, with changes that are known to come.",
        f"{ISO}, 6.4; {PROJECT}, chapter 8",
        NOTE,
        (
            "landfill_share",
            "prior_route_share",
            "composted_anyway_share",
            "composted_anyway_t",
            "kept_out_of_landfill_t_by_year",
        ),
    ),
    Rule(
        "Every source of the program, of the baseline and of leakage is a line of its own, with "
        "its sign; a line that is left out says why.",
        f"{ISO}, 6.3, 6.5 and 6.6; {PROJECT}, chapter 5",
        SUMMARY,
        ("account_t_co2e", "making_and_freight_{basis}_t_co2e"),
    ),
    Rule(
        "Leakage is taken off: what was thrown away after all, and what making and moving things "
        "for the program emits elsewhere.",
        f"{ISO}, 6.3, affected sources; {PROJECT}, chapter 5, secondary effects",
        SUMMARY,
        ("thrown_away_share", "thrown_away_t"),
    ),
    Rule(
        "Gases are worked out source by source with published factors, and added up with global "
        "warming potentials over 100 years.",
        f"{ISO}, 6.7",
        MEMORY,
        (
            "landfill_methane_avoided_{basis}_t_co2e",
            "bin_process_gases_{basis}_t_co2e",
            "emissions_kg_co2e_per_t_kept_out",
            "emissions_kg_co2e_per_t_fed",
        ),
    ),
    Rule(
        "Emissions avoided are the baseline less the program and leakage, on each basis apart.",
        f"{ISO}, 6.8; {PROJECT}, chapter 10",
        MEMORY,
        ("emissions_avoided_{basis}_t_co2e", "kept_out_of_landfill_t"),
    ),
    Rule(
        "Routes other than landfill stand apart and are not in the net.",
        f"{PROJECT}, chapter 5, primary effect",
        SUMMARY.partition("; Protocol: ")[2],
        ("other_routes_saved_{basis}_t_co2e",),
    ),
    Rule(
        "A conservative value is given: every factor at the end of its range that lowers the net.",
        f"{ISO}, 4.7; {PROJECT}, chapter 4",
        SUMMARY,
        ("account_conservative_t_co2e",),
    ),
    Rule(
        "Bins count whole in the year in which they are acquired, as capital goods do.",
        f"{SCOPE_3}, category 2",
        MEMORY,
        ("account_quantity", "bin_making_kg_co2e"),
    ),
    Rule(
        "Every figure has its uncertainty, by two approaches.",
        f"{ISO}, 6.9; {CORPORATE}, chapter 7, managing inventory quality",
        f"ISO: {MEMORY}; other: {TITLE}",
        ("approach_1_uncertainty_percent", "approach_2_uncertainty_percent", "variance_share"),
    ),
    Rule(
        "What households do is measured again by surveys, weighed weeks and audits, as planned.",
        f"{ISO}, 6.10; {PROJECT}, chapter 10",
        MEMORY,
        ("fed_t", "bins_in_use"),
    ),
    Rule(
        "Rows, factors, settings and digests behind each figure are kept and can be given out.",
        f"{ISO}, 6.11",
        MEMORY,
    ),
    Rule(
        "A report that was given out is changed only as a restatement of every figure, by cause, "
        "against a materiality threshold.",
        f"{CORPORATE}, chapter 5, tracking emissions over time",
        TITLE,
    ),
    Rule(
        "The report says its dates, what it covers, its method and its sources.",
        f"{ISO}, 6.13; {PROJECT}, chapter 11",
        MEMORY,
    ),
)
"""Each rule of the account once."""


def followed(declared_id: str) -> str:
    """Say which clauses the rule behind a figure follows; empty where no standard has one.

    Parameters
    ----------
    declared_id
        Id as it was declared, or a part of it as ``fed_t[{area_id}]``.

    Examples
    --------
    >>> followed("account_conservative_t_co2e[{basis}.net]")
    'Follows ISO 14064-2:2019, 4.7; GHG Protocol for Project Accounting (2005), chapter 4 (ISO: source not read; Protocol: chapter seen in a summary, text not).'
    >>> followed("program_cost")
    ''
    """  # noqa: E501 - a sentence
    whole = declared_id.partition("[")[0]
    told = [f"{rule.clauses} ({rule.known})" for rule in RULES if whole in rule.figures]
    return f"Follows {'; '.join(told)}." if told else ""
