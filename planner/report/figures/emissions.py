"""Figures of emissions avoided: each line of the account with sign and range, on three bases.

The bases are never added together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.emissions.account import APART, IN_NET, OTHER_ROUTES
from planner.emissions.activity import BASES
from planner.emissions.propagation import conservative_basis
from planner.emissions.timeline import by_month_kg, of_landfill_kg
from planner.messages import paper, said
from planner.report.activity import with_most_leakage
from planner.report.disclosure.parts import HIDDEN
from planner.report.figures import LISTS
from planner.report.figures.giveaway import basis_words
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.program import Emissions
    from planner.report.figures.writer import Writer

LINES = (*IN_NET, *OTHER_ROUTES, *APART)
NET = "net"
NOT_THERE = {
    "collection_saved": "why.collection_not_counted",
    "other_residual_treatment": "why.treatment_not_counted",
    "kerbside_organics": "why.treatment_not_counted",
}
"""Why a line is not there; any other is not shown unless the program file asks for it."""


def add_emissions(out: Writer) -> None:
    """Add the account with its net on each basis, and the decay by year and month."""
    for basis in BASES:
        words = words_of_basis(out.year.program.emissions, basis)
        _add_lines(out, basis, words)
        _add_sums(out, basis, words)
        _add_conservative(out, basis, words)
        _add_landfills(out, basis, words)
    _add_years(out)
    _add_months(out)


def words_of_basis(choices: Emissions, basis: str) -> dict[str, str]:
    """Fill what lines rest on: their scraps, and what the treatments of a program do."""
    return {
        "basis": basis,
        "basis_words": basis_words(basis),
        "kept_out": f"kept_out_of_landfill_{'' if basis == '100_years' else 'to_date_'}t",
        "fed": "fed_to_date_t" if basis == "to_date" else "fed_t",
        "by_residual": LISTS.get(f"list:{choices.residual_treatment}", ""),
        "by_kerbside": LISTS.get(f"list:{choices.kerbside_treatment}", ""),
    }


def line_words(line: str) -> str:
    """Name a line of the account, or its net."""
    return said(f"line.{line}")


def _add_lines(out: Writer, basis: str, words: dict[str, str]) -> None:
    lines = out.year.emissions.basis(basis).lines
    for name in LINES:
        declared, why = (
            f"account_t_co2e[{{basis}}.{name}]",
            NOT_THERE.get(name, "why.apart_not_shown"),
        )
        out.put(declared, lines.get(name), words, why=why, line=line_words(name))


def _add_sums(out: Writer, basis: str, words: dict[str, str]) -> None:
    account = out.year.emissions.basis(basis)

    def there(names: tuple[str, ...]) -> str:
        return " ".join(f"account_t_co2e[{basis}.{n}]" for n in names if n in account.lines)

    apart = ("landfill_methane", "bin_methane", "bin_nitrous_oxide")
    rest = tuple(name for name in IN_NET if name not in apart)
    net, making = account.net_t_co2e, account.making_and_freight_t_co2e
    whole = f"account_t_co2e[{{basis}}.{NET}]"
    out.put(whole, net, words, lines=there(IN_NET), line=line_words(NET))
    out.put("making_and_freight_{basis}_t_co2e", making, words, lines=there(rest))
    other_routes = account.other_routes_t_co2e
    out.put("other_routes_saved_{basis}_t_co2e", other_routes, words, lines=there(OTHER_ROUTES))
    out.put("landfill_methane_avoided_{basis}_t_co2e", account.methane_avoided_t_co2e, words)
    out.put("bin_process_gases_{basis}_t_co2e", account.bin_gases_t_co2e, words)
    mean = paper().significant(float(net[1:].mean()), 3)
    out.put("emissions_avoided_{basis}_t_co2e", net, words, mean=mean)


def _add_conservative(out: Writer, basis: str, words: dict[str, str]) -> None:
    rows, choices = out.year.emission_factors.rows, out.year.program.emissions
    account, ends = conservative_basis(with_most_leakage(out.year), rows, choices, basis)
    # factors by their ids, as the list of factors has them
    told = "; ".join(f"{name} {paper().significant(value)}" for name, value in ends.items())
    known = {**account.lines, NET: account.net_t_co2e}
    for name in (*IN_NET, NET):
        if name in known:
            declared = f"account_conservative_t_co2e[{{basis}}.{name}]"
            out.put(declared, float(known[name][0]), words, ends=f"{told}.", line=line_words(name))


def _add_landfills(out: Writer, basis: str, words: dict[str, str]) -> None:
    """Add each landfill's methane, where waste goes to several."""
    factors, activity = out.year.emission_factors, out.year.activity
    if not out.year.program.further_landfills:
        return
    for landfill in factors.landfills:
        methane = of_landfill_kg(activity.kept_out_kg, landfill, basis, activity.year_start)
        methane_t = methane * factors["methane_gwp100"] / KG_PER_T
        declared = "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]"
        share = paper().share(landfill.share_of_landfilled_waste)
        out.put(declared, methane_t, words, landfill=landfill.name, share=share)


def _add_years(out: Writer) -> None:
    by_year = out.year.emissions.methane_by_year_t_co2e
    for year in range(by_year.shape[1]):
        name = "landfill_methane_avoided_by_year_t_co2e[{year}]"
        on = said("said.years_on", year) if year else said("said.in_the_year_itself")
        out.put(name, by_year[:, year], year=year, years_on=on)


def _add_months(out: Writer) -> None:
    """Add the methane of each month of the year, hidden where the month's scraps are."""
    factors, activity = out.year.emission_factors, out.year.activity
    by_month = by_month_kg(activity, factors) * factors["methane_gwp100"][:, None] / KG_PER_T
    months = out.year.diversion.cohorts.months[activity.year_start :]
    for place, day in enumerate(months):
        month = f"{day:%Y-%m}"
        shown_id = f"kept_out_of_landfill_t_in_month[{month}]"
        is_hidden = shown_id in out.register and out.register[shown_id].value is None
        found = None if is_hidden else by_month[:, place]
        declared = "landfill_methane_avoided_in_month_t_co2e[{month}]"
        out.put(declared, found, why=HIDDEN, month=month)
