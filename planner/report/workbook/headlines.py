"""The figures of the first page, what each means, and the targets they are held against."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.targets import judged
from planner.report.wording import against_budget, labelled

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.program import ReportingYear
    from planner.report.wording import Wording

HEADLINES = {
    "bins_given": "book.meaning.bins_given",
    "households_served": "book.meaning.households_served",
    "bins_in_use": "book.meaning.bins_in_use",
    "retention_12_months": "book.meaning.retention_12_months",
    "feed_kg_per_bin_week": "book.meaning.feed_kg_per_bin_week",
    "fed_t": "book.meaning.fed_t",
    "landfill_share": "book.meaning.landfill_share",
    "composted_anyway_share": "book.meaning.composted_anyway_share",
    "thrown_away_share": "book.meaning.thrown_away_share",
    "kept_out_of_landfill_t": "book.meaning.kept_out_of_landfill_t",
    "kept_out_of_landfill_to_date_t": "book.meaning.kept_out_of_landfill_to_date_t",
    "moved_from_other_routes_t": "book.meaning.moved_from_other_routes_t",
    "emissions_avoided_in_year_t_co2e": "book.meaning.emissions_avoided_in_year_t_co2e",
    "emissions_avoided_100_years_t_co2e": "book.meaning.emissions_avoided_100_years_t_co2e",
    "program_cost": "book.meaning.program_cost",
    "avoided_disposal_cost": "book.meaning.avoided_disposal_cost",
    "cost_per_t_kept_out": "book.meaning.cost_per_t_kept_out",
    "cost_per_t_co2e": "book.meaning.cost_per_t_co2e",
}
"""What each means in one line, in the order of the page."""

LATEST_ROUNDS = 4
"""Earlier ones stand on the sheet of how sure the figures are."""

IN_YEAR = "emissions_avoided_in_year_t_co2e"
BELOW_ZERO = "book.below_zero"

CAUTIONS = (
    "book.care.estimates",
    "book.care.biogenic",
    "book.care.bases",
    "book.care.no_offset",
)


def meaning(register: FigureRegister, figure_id: str) -> str:
    """Say what a headline figure means."""
    value = register[figure_id].value
    if figure_id == IN_YEAR and value is not None and value < 0.0:
        return paper().say(BELOW_ZERO)
    return paper().say(HEADLINES[figure_id])


def target_rows(
    register: FigureRegister, year: ReportingYear, wording: Wording
) -> list[tuple[str, str, str, str]]:
    """Results against what the council has set: what, target, result, judgement."""
    rows = []
    for figure_id, target in (
        ("bins_given", year.bins_given_target),
        ("kept_out_of_landfill_t", year.kept_out_of_landfill_t_target),
    ):
        if target is None:
            continue
        figure = register[figure_id]
        places = 0 if float(target).is_integer() else 1
        wanted = f"{wording.number(target, places)} {wording.unit(figure)}"
        found = judged(register, figure_id, target, wording)
        rows.append((figure.label, wanted, wording.figure(figure), found))
    cost = register["program_cost"]
    if year.budget is not None:
        spent = paper().say("report.targets.no_ledger")
        if cost.value is not None:
            spent = against_budget(cost.value, year.budget)
        rows.append((cost.label, wording.money(year.budget), wording.figure(cost), spent))
    return rows


def sureness_lines(register: FigureRegister, wording: Wording) -> list[str]:
    """Say in a few lines what the intervals rest on."""
    lines = []
    response = register.parts("response_share")
    if response:
        latest = list(response.items())[-LATEST_ROUNDS:]
        rounds = "; ".join(f"{wave} {wording.amount(f)}" for wave, f in latest)
        lines.append(paper().say("book.sure.response", rounds=rounds))
    levels = register.parts("surveyed_to_modelled_feed")
    if levels:
        wave, level = list(levels.items())[-1]
        lines.append(paper().say("book.sure.feed", wave=wave, level=wording.figure(level)))
    weighed = [
        labelled(register[name].label.lower(), wording.figure(register[name]))
        for name in ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
        if name in register
    ]
    if weighed:
        lines.append(paper().say("book.sure.weighed", weighed="; ".join(weighed)))
    return lines
