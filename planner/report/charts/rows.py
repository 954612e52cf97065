"""Charts of one figure in its parts: prior routes, gross to net, account, cohorts, drivers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.charts.drawing import Drawing, row_spots
from planner.report.charts.ranges import (
    plot_bars,
    plot_ranges,
    rows_in_words,
    rows_inches,
    with_value,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from matplotlib.axes import Axes

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording

    Plot = Callable[[Axes, Mapping[str, Figure], str, Wording], None]

INTERVALS = "Lines show the 95% interval."
ROUTES = {
    "residual_bin": "residual bin",
    "garden_compost": "garden compost",
    "kerbside_organics": "kerbside organics",
    "animals": "animals",
    "other": "other",
}
STEPS = {
    "given": "given: every bin at a full feed",
    "set_up": "set up",
    "in_use": "still in use",
    "fed": "fed",
    "from_residual_bin": "from the residual bin",
    "landfilled": "landfilled without the program",
    "not_composted_anyway": "not composted anyway",
    "kept_out": "not thrown away: kept out of landfill",
}
ACCOUNT = {
    "landfill_methane": "landfill methane avoided",
    "bin_methane": "methane of the bins",
    "bin_nitrous_oxide": "nitrous oxide of the bins",
    "bin_plastic": "plastic of the bins",
    "bin_disposal": "end of the bins",
    "bedding": "bedding",
    "worm_supply": "worms",
    "freight": "freight",
    "household_trips": "households' trips",
    "collection_saved": "collection saved",
    "net": "net",
}
SOURCES = {
    "survey": "what households do, from the survey",
    "interactions": "sources acting together",
    "food_degradable_carbon_share": "carbon in food scraps",
    "food_decomposing_carbon_share": "share of it that decays in a landfill",
    "food_decay_rate_per_year": "speed of decay in a landfill",
    "methane_correction_factor": "how airless the landfill is",
    "methane_share_of_gas": "methane in landfill gas",
    "captured_multiplier": "gas captured by wells",
    "oxidised_share": "methane oxidised in the cover",
    "delay_months": "delay before decay begins",
    "compost_methane_g_per_kg": "methane of the bins",
    "compost_nitrous_oxide_g_per_kg": "nitrous oxide of the bins",
    "contents_binned_share": "contents binned after all",
    "would_have_composted_anyway_share": "scraps composted anyway",
    "methane_gwp100": "warming potential of methane",
    "nitrous_oxide_gwp100": "warming potential of nitrous oxide",
    "bin_plastic_virgin_kg_co2e_per_kg": "making of new plastic",
    "bin_plastic_recycled_kg_co2e_per_kg": "making of recycled plastic",
    "household_trip_km": "length of households' trips",
    "worm_supply_kg_co2e_per_kg": "breeding of the worms",
    "bedding_kg_co2e_per_kg": "making of the bedding",
    "supplier_km": "distance of the supplier",
    "delivery_km": "distance of delivery",
    "recalled_residual_share_difference": "what is remembered of the time before the bin",
    "year_to_surveyed_weeks_multiplier": "feed of the year over that of surveyed weeks",
}
MOST_DRIVERS = 8
LEAST_SHARE = 0.005


def routes_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of where the scraps went before: the finding is the residual bin's share."""
    parts = _named(register, "prior_route_share", ROUTES)
    if "residual bin" not in parts:
        return None
    share = wording.figure(parts["residual bin"])
    return _rows(
        "prior_routes",
        "chain",
        f"{share} of the scraps went to the residual bin before",
        "Only scraps that went to the residual bin count as kept out of landfill.",
        "Chart of where food scraps went before the giveaway",
        parts,
        "share of the scraps",
        plot_ranges,
        wording,
    )


def chain_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of gross to net: the finding is what is left of the gross."""
    parts = _named(register, "gross_to_net", STEPS)
    if len(parts) < len(STEPS):
        return None
    gross, net = parts[STEPS["given"]], parts[STEPS["kept_out"]]
    caption = f"Tonnes in {register.reporting_year}; each bar is what is left after one more step."
    if "gross_claim_t" in register and register["gross_claim_t"].value is not None:
        claim = wording.amount(register["gross_claim_t"])
        caption += f" A rule of thumb for compost bins leaves these steps out and claims {claim}."
    return _rows(
        "gross_to_net",
        "chain",
        f"Of {wording.amount(gross)} that all bins given could take, {wording.figure(net)} "
        "was kept out of landfill",
        caption,
        "Chart of the steps from bins given to tonnes kept out of landfill",
        parts,
        "tonnes in the year",
        plot_bars,
        wording,
    )


def account_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the emissions account over 100 years: the finding is the net."""
    lines = {name: f"100_years.{name}" for name in ACCOUNT}
    parts = with_value(register.parts("account_t_co2e"))
    shown = {ACCOUNT[n]: parts[part] for n, part in lines.items() if parts.get(part)}
    if ACCOUNT["net"] not in shown:
        return None
    net = shown[ACCOUNT["net"]]
    return _rows(
        "emissions_account",
        "emissions",
        _account_finding(net, wording),
        f"From the scraps of {register.reporting_year}. Bars to the right are emissions "
        "avoided, bars to the left emissions caused; the last bar is the total.",
        "Chart of the emissions account over 100 years",
        shown,
        "tonnes CO2-e, avoided with a plus",
        plot_bars,
        wording,
    )


def cohorts_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of bins in use by the year in which they were given."""
    years = with_value(register.parts("bins_in_use_by_year_given"))
    parts = {f"given in {label}": figure for label, figure in years.items()}
    if not parts or register["bins_in_use"].value is None:
        return None
    whole = wording.figure(register["bins_in_use"])
    newest = list(years)[-1]
    return _rows(
        "bins_in_use_by_cohort",
        "details",
        f"{whole} in use at the end of {register.reporting_year}, "
        f"{wording.plain(years[newest])} of them given in {newest}",
        "Bins of each year's households that are in use, by the retention curve.",
        "Chart of bins in use at the end of the year by the year in which they were given",
        parts,
        "bins in use",
        plot_bars,
        wording,
    )


def drivers_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of what drives the uncertainty of the emissions avoided."""
    shares = with_value(register.parts("variance_share"))
    ranked = sorted(shares.items(), key=lambda item: -(item[1].value or 0.0))
    drawn = {
        SOURCES.get(name, name.replace("_", " ")): figure
        for name, figure in ranked[:MOST_DRIVERS]
        if (figure.value or 0.0) >= LEAST_SHARE
    }
    if not drawn:
        return None
    first, most = next(iter(drawn.items()))
    return _rows(
        "variance_shares",
        "sureness",
        f"What we know least is {first}: {wording.share(most.value or 0.0)} of the uncertainty of "
        "the emissions avoided",
        "How much of the uncertainty (variance) of the emissions avoided over 100 years would go "
        "if we knew this one thing. Smaller ones are in the workbook.",
        "Chart of what drives the uncertainty of the emissions avoided over 100 years",
        drawn,
        "share of the variance",
        plot_bars,
        wording,
    )


def audit_drawing(register: FigureRegister, wording: Wording) -> Drawing | None:
    """Chart of the audited and the surveyed change: the finding is whether they agree."""
    names = {
        "audit_food_kg_per_household_week_change": "kerbside audit",
        "survey_food_kg_per_household_week_change": "survey",
        "audit_less_survey_food_kg_per_household_week": "audit less survey",
    }
    parts = {words: register[name] for name, words in names.items() if name in register}
    if len(with_value(parts)) < len(names):
        return None
    gap = parts["audit less survey"]
    agrees = (gap.low or 0.0) <= 0.0 <= (gap.high or 0.0)
    return _rows(
        "audit_and_survey",
        "sureness",
        _audit_finding(parts["kerbside audit"], agrees=agrees),
        "Change in food in the residual bin in streets with worm bins, minus the change in streets "
        "without. Audit and survey agree if the interval of their difference includes zero.",
        "Chart of the change of food in the residual bin by audit and by survey",
        parts,
        "kg per household and week; below zero, less food in the residual bin",
        plot_ranges,
        wording,
    )


def _audit_finding(audited: Figure, *, agrees: bool) -> str:
    if not agrees:
        return "Audit and survey do not agree on the food taken out of the residual bin"
    if (audited.low or 0.0) <= 0.0 <= (audited.high or 0.0):
        return "The audit fits what the survey says, but is too small to prove it"
    return "Audit and survey agree on the food taken out of the residual bin"


def _named(register: FigureRegister, figure_id: str, names: Mapping[str, str]) -> dict[str, Figure]:
    parts = with_value(register.parts(figure_id))
    return {words: parts[name] for name, words in names.items() if name in parts}


def _account_finding(net: Figure, wording: Wording) -> str:
    found = f"{wording.figure(net)} avoided over 100 years"
    if net.high is not None and net.high < 0.0:
        return f"{found}: the program emits more than it avoids"
    if net.low is not None and net.high is not None and net.low <= 0.0:
        return f"{found}: whether it is above zero is not sure"
    return found


def _rows(
    name: str,
    section: str,
    title: str,
    caption: str,
    subject: str,
    figures: Mapping[str, Figure],
    unit: str,
    plot: Plot,
    wording: Wording,
) -> Drawing:
    has_intervals = any(figure.low is not None for figure in figures.values())
    return Drawing(
        name,
        title,
        f"{caption} {INTERVALS}" if has_intervals else caption,
        f"{subject}. {rows_in_words(figures, wording)}.",
        lambda axes: plot(axes, figures, unit, wording),
        rows_inches(len(figures)),
        section,
        row_spots(figures, wording),
    )
