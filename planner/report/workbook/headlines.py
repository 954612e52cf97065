"""The figures of the first page, what each means, and the targets they are held against."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.targets import judged
from planner.report.wording import against_budget

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.program import ReportingYear
    from planner.report.wording import Wording

HEADLINES = {
    "bins_given": "Counted in the register of hand-overs.",
    "households_served": "Households that took a bin in the year.",
    "bins_in_use": "Of all bins given, those still fed when the year ended.",
    "retention_12_months": "What to expect of a bin given today, a year from now.",
    "feed_kg_per_bin_week": "What one bin in use took, over the whole year.",
    "fed_t": "All scraps put into bins, wherever they went before.",
    "landfill_share": "How much of the scraps fed was landfilled before.",
    "composted_anyway_share": "What households would have done by now without the program.",
    "thrown_away_share": "What of the scraps fed went to the residual bin after all.",
    "kept_out_of_landfill_t": "Scraps fed that would have been landfilled, less both of these.",
    "kept_out_of_landfill_to_date_t": "The same since the first bin was given.",
    "moved_from_other_routes_t": "Was composted, collected, burnt or fed to animals before.",
    "emissions_avoided_in_year_t_co2e": "By all scraps so far, less bins' gases, making, freight.",
    "emissions_avoided_100_years_t_co2e": "By this year's scraps, less gases, making, freight.",
    "program_cost": "Sum of the ledger, receipts taken off.",
    "avoided_disposal_cost": "Levy and gate fee on the tonnes kept out.",
    "cost_per_t_kept_out": "Cost over tonnes of this year; bins last longer.",
    "cost_per_t_co2e": "Cost of this year over what its scraps avoid.",
}
"""What each means in one line, in the order of the page."""

LATEST_ROUNDS = 4
"""Earlier ones stand on the sheet of how sure the figures are."""

IN_YEAR = "emissions_avoided_in_year_t_co2e"
BELOW_ZERO = "Below zero: landfill methane comes later than the bins' own emissions."

CAUTIONS = (
    "The estimates rest on what households reported about their own bins. An interval holds "
    "the chance of the draw and the spread of published factors, not an error that all "
    "households share.",
    "Biogenic carbon dioxide is not counted, on either side.",
    "The three bases of emissions count some of the same methane. They are never added.",
    "Emissions avoided are no offset and no credit, and nothing here says that worm bins emit "
    "less than other composting.",
)


def meaning(register: FigureRegister, figure_id: str) -> str:
    """Say what a headline figure means."""
    value = register[figure_id].value
    if figure_id == IN_YEAR and value is not None and value < 0.0:
        return BELOW_ZERO
    return HEADLINES[figure_id]


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
        spent = "not known: no ledger line is loaded"
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
        lines.append(f"Share of the households asked that answered, latest rounds: {rounds}.")
    levels = register.parts("surveyed_to_modelled_feed")
    if levels:
        wave, level = list(levels.items())[-1]
        lines.append(
            f"Feed as surveyed over feed as modelled in round {wave}: {wording.figure(level)}. "
            "1 would be full agreement; the model is scaled by it."
        )
    weighed = [
        f"{register[name].label.lower()}: {wording.figure(register[name])}"
        for name in ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
        if name in register
    ]
    if weighed:
        lines.append(f"From diaries and published densities, {'; '.join(weighed)}.")
    return lines
