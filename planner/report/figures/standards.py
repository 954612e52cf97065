"""Clauses of the standards that the account's rules follow, beside each rule and figure.

Seen on 2026-11-29: a summary of the GHG Protocol for Project Accounting (2005) whose headings
follow its chapters 1 to 5 (https://altiorem.org/?p=16968), and a public note that cites its
chapter 8 for the baseline procedure. Of the Corporate Standard (2004) the table of contents was
read, which gives chapters 5 and 7 the titles used here. Of ISO 14064-2:2019 previews gave
nothing below clause 3, so that its numbers are from memory, as are chapters 10 and 11 of the
Protocol. No text was read: a verifier holds the standards and checks the numbers there.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.messages import paper

TITLES = {
    "iso": "ISO 14064-2:2019",
    "project": "GHG Protocol for Project Accounting (2005)",
    "corporate": "GHG Protocol Corporate Standard (2004)",
    "scope_3": "GHG Protocol Scope 3 Standard (2011)",
}
"""Titles of the standards, which are names and the same in every language."""


@dataclass(frozen=True)
class Rule:
    """A rule, how well the clauses that it follows are known, and figures it makes.

    `figures` holds the ids of declarations, or what these begin with before a ``[``.
    """

    name: str
    how_known: str
    figures: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """The rule in words."""
        return paper().say(f"rule.{self.name}.says")

    @property
    def clauses(self) -> str:
        """Clauses of the standards that it follows."""
        return paper().say(f"rule.{self.name}.clauses", **TITLES)

    @property
    def known(self) -> str:
        """How well these are known."""
        return paper().say(f"rule.known.{self.how_known}")


RULES = (
    Rule(
        "baseline",
        "note",
        (
            "landfill_share",
            "prior_route_share",
            "composted_anyway_share",
            "composted_anyway_t",
            "kept_out_of_landfill_t_by_year",
        ),
    ),
    Rule("lines", "summary", ("account_t_co2e", "making_and_freight_{basis}_t_co2e")),
    Rule("leakage", "summary", ("thrown_away_share", "thrown_away_t")),
    Rule(
        "gases",
        "memory",
        (
            "landfill_methane_avoided_{basis}_t_co2e",
            "bin_process_gases_{basis}_t_co2e",
            "emissions_kg_co2e_per_t_kept_out",
            "emissions_kg_co2e_per_t_fed",
        ),
    ),
    Rule("net", "memory", ("emissions_avoided_{basis}_t_co2e", "kept_out_of_landfill_t")),
    Rule("other_routes", "chapter", ("other_routes_saved_{basis}_t_co2e",)),
    Rule("conservative", "summary", ("account_conservative_t_co2e",)),
    Rule("capital", "memory", ("account_quantity", "bin_making_kg_co2e")),
    Rule(
        "uncertainty",
        "uncertainty",
        ("approach_1_uncertainty_percent", "approach_2_uncertainty_percent", "variance_share"),
    ),
    Rule("measured_again", "memory", ("fed_t", "bins_in_use")),
    Rule("kept", "memory"),
    Rule("restated", "title"),
    Rule("dates", "memory"),
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
    return paper().say("rule.follows", clauses="; ".join(told)) if told else ""
