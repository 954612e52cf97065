"""Figures of the ledger: program cost, budget, co-payments from two sides, work in kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.figures import Input
from planner.money import copayments, in_kind_cost
from planner.report.disclosure import HIDDEN, hides_part
from planner.report.inputs import of_figures, of_key, of_query

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.money import Copayments
    from planner.report.year import Year

OF_PROGRAM_FILE = "From the program file."
NO_LEDGER = "No ledger line is loaded up to the end of the year."
NO_BUDGET = "The budget of the year is nothing."
NO_IN_KIND = "The program file has no [[in_kind]] block for the year."
RECEIPTS = "A receipt is a negative line, so co-payments received are taken off the cost."
NOT_A_COST = (
    "Hand-overs say what households paid or owed on the day; the ledger alone counts in the "
    "program's cost."
)

IN_KIND = {
    "in_kind_hours": (
        "Hours that no ledger line pays for",
        "Sum over the program file's pieces of work.",
    ),
    "in_kind_cost": (
        "Worth of the hours that no ledger line pays for",
        "Hours × rate of each piece of work. Not in the program cost.",
    ),
    "program_cost_with_in_kind": (
        "Program cost in the year with work in kind",
        "The ledger and the worth of hours not paid for.",
    ),
}
"""Label and method of each figure of work in kind."""


def add_ledger(register: FigureRegister, year: Year) -> None:
    """Add the ledger's figures, in the council's currency."""
    _add_costs(register, year)
    _add_budget(register, year)
    _add_copayments(register, year)
    _add_in_kind(register, year)


def _add_costs(register: FigureRegister, year: Year) -> None:
    currency = year.program.council.currency
    inputs = (of_query("costs_by_category", year.counts.costs),)
    method = f"Sum of {year.cost.lines_count:,} ledger lines; receipts are negative lines."
    known = year.cost.lines_count > 0
    for figure_id, words, column, amount in (
        ("program_cost", "in the year", "amount_in_year", year.cost.in_year),
        ("program_cost_to_date", "to date", "amount_to_date", year.cost.to_date),
    ):
        label, value = f"Program cost {words}", amount if known else None
        register.add_exact(
            figure_id, label, value, currency, method if known else NO_LEDGER, inputs
        )
        for category, part in year.counts.costs.select("category", column).iter_rows():
            name, of_part = f"{figure_id}[{category}]", f"{label}: {category.replace('_', ' ')}"
            register.add_exact(name, of_part, part, currency, method, inputs)


def _add_budget(register: FigureRegister, year: Year) -> None:
    currency, budget = year.program.council.currency, year.reporting_year.budget
    if budget is None:
        return
    key = of_key("reporting_years.budget", budget)
    register.add_exact("budget", "Budget of the year", budget, currency, OF_PROGRAM_FILE, (key,))
    known = year.cost.lines_count > 0
    running = " The year is still running." if year.counts.is_running else ""
    both = of_figures("program_cost", "budget")
    register.add_exact(
        "budget_remaining",
        "Budget of the year less program cost",
        budget - year.cost.in_year if known else None,
        currency,
        f"Below zero, more was spent than the budget.{running}" if known else NO_LEDGER,
        both,
    )
    share = year.cost.in_year / budget if known and budget else None
    method = f"Program cost over budget.{running}" if budget else NO_BUDGET
    register.add_exact(
        "budget_spent_share",
        "Share of the budget that was spent",
        share,
        "share",
        method if known else NO_LEDGER,
        both,
    )


def _add_copayments(register: FigureRegister, year: Year) -> None:
    in_year, to_date = (
        copayments(year.counts.costs, year.counts.copayments, period)
        for period in ("in_year", "to_date")
    )
    threshold = year.program.privacy.small_cell_threshold
    hides = hides_part(in_year.payers_count, in_year.bins_count, threshold)
    hides_to_date = any(
        hides_part(part, whole, threshold)
        for part, whole in (
            (to_date.payers_count, to_date.bins_count),
            (in_year.payers_count, to_date.payers_count),
        )
    )
    _add_copayments_of(register, year, "", "in the year", in_year, hides=hides)
    _add_copayments_of(register, year, "_to_date", "to date", to_date, hides=hides or hides_to_date)


def _add_copayments_of(
    register: FigureRegister, year: Year, suffix: str, words: str, sums: Copayments, *, hides: bool
) -> None:
    currency, has_ledger = year.program.council.currency, year.cost.lines_count > 0
    by_ledger, by_bins = f"copayments_in_ledger{suffix}", f"copayments_at_handover{suffix}"
    register.add_exact(
        by_ledger,
        f"Co-payments received by the ledger {words}",
        sums.in_ledger if has_ledger else None,
        currency,
        f"Its lines of copayments_received, the sign turned. {RECEIPTS}"
        if has_ledger
        else NO_LEDGER,
        (of_query("costs_by_category", year.counts.costs),),
    )
    register.add_exact(
        by_bins,
        f"Co-payments by the hand-overs {words}",
        None if hides else sums.at_handover,
        currency,
        HIDDEN if hides else f"Sum over the bins given. {NOT_A_COST}",
        () if hides else (Input("query", "copayments_at_handover"),),
    )
    known = has_ledger and not hides
    register.add_exact(
        f"copayments_difference{suffix}",
        f"Co-payments of the ledger less those of the hand-overs {words}",
        sums.difference if known else None,
        currency,
        _difference_words(sums, hides=hides, has_ledger=has_ledger),
        of_figures(by_ledger, by_bins) if known else (),
    )


def _difference_words(sums: Copayments, *, hides: bool, has_ledger: bool) -> str:
    """Say what the two sides of the co-payments differ by, and where to look."""
    if hides or not has_ledger:
        return HIDDEN if hides else NO_LEDGER
    if round(sums.difference, 2) == 0.0:
        return "Ledger and hand-overs agree."
    if sums.in_ledger < 0.0:
        return (
            "The ledger's lines of copayments_received add up to a cost: receipts have a minus. "
            "`planner check` names the lines."
        )
    if sums.in_ledger == 0.0:
        return "The ledger holds no receipt, so the program's cost has none taken off."
    less = "less" if sums.difference < 0.0 else "more"
    return (
        f"The ledger holds {less} than the hand-overs say: look for payments booked in another "
        f"year, together or under another category, refunds, and bins given free. {NOT_A_COST}"
    )


def _add_in_kind(register: FigureRegister, year: Year) -> None:
    currency, label = year.program.council.currency, year.reporting_year.reporting_year
    works = [work for work in year.program.in_kind if work.reporting_year == label]
    hours, worth = in_kind_cost((work.hours, work.rate_per_hour) for work in works)
    keys = tuple(
        of_key(f"in_kind.{work.work}", f"{work.hours:g} hours at {work.rate_per_hour:g}")
        for work in works
    )
    both = of_figures("program_cost", "in_kind_cost")
    whole = year.cost.in_year + worth if year.cost.lines_count else None
    for (figure_id, (words, method)), value, unit, inputs in zip(
        IN_KIND.items(),
        (hours, worth, whole),
        ("hours", currency, currency),
        (keys, keys, both),
        strict=True,
    ):
        if not works:
            register.add_exact(figure_id, words, None, unit, NO_IN_KIND, ())
            continue
        told = NO_LEDGER if value is None else method
        register.add_exact(figure_id, words, value, unit, told, inputs)
