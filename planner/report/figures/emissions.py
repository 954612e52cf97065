"""Figures of emissions avoided: each line of the account with sign and range, on three bases.

The bases are never added together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from planner.emissions import (
    BASES,
    IN_NET,
    OTHER_ROUTES,
    by_month_kg,
    conservative_basis,
    of_landfill_kg,
)
from planner.report.activity import with_most_leakage
from planner.report.disclosure import HIDDEN
from planner.report.figures.declaring import Declared
from planner.report.figures.giveaway import BASIS_WORDS
from planner.report.figures.tonnes import LEAKS
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.program import Emissions
    from planner.report.figures.declaring import Writer

UNIT = "t CO2-e"
NO_CLAIM = (
    "Not an offset and not a credit: whether the council would have acted anyway, and who else "
    "counts the same methane, is not examined. No claim that worm bins emit less than other "
    "composting: the one field study of home bins found more methane from worm bins and less "
    "of all gases together, and no factor for them stands on enough measurements."
)
METHANE = (
    "IPCC first-order decay by month of the scraps kept out, with the landfill's own carbon, "
    "decay rate, gas capture by age of waste and oxidation."
)
ROUTE = (
    "What this route emitted for the scraps that bins took from it. Energy or compost that it "
    "gave is not counted. Outside the net, which is about landfill alone."
)
COMPOSTING = (
    "Project: the Guidelines' factor for composting, over its whole range, on all scraps fed."
)

EDITION, METHANE_GWP, NITROUS_GWP = (
    "key:method.edition",
    "key:method.gwp_set factor:methane_gwp100",
    "key:method.gwp_set factor:nitrous_oxide_gwp100",
)
CARBON = (
    "factor:food_degradable_carbon_share factor:food_decomposing_carbon_share "
    "factor:methane_correction_factor"
)
LANDFILL = (
    f"{CARBON} factor:methane_share_of_gas factor:delay_months factor:captured_multiplier "
    f"factor:food_decay_rate_per_year factor:oxidised_share {METHANE_GWP} {EDITION} "
    "key:landfill.climate key:landfill.management key:landfill.cover key:landfill.gas_capture "
    "key:further_landfills"
)
COMPOST_METHANE = f"factor:compost_methane_g_per_kg {METHANE_GWP} {EDITION}"
COMPOST_NITROUS = f"factor:compost_nitrous_oxide_g_per_kg {NITROUS_GWP} {EDITION}"
COMPOST = f"{COMPOST_METHANE} {COMPOST_NITROUS}"
SUPPLIES = "query:supplies_by_month"
PLASTIC = f"{SUPPLIES} key:bin_models.plastic_kg+plastic_recycled_share"
PLASTIC_MASS = "account_quantity[{basis}.new_plastic] account_quantity[{basis}.recycled_plastic]"
LIVES = "key:bin_models.service_life_years"
ROUTES = "query:prior_shares recall_difference"
"""Where scraps went before; the lines of other routes and of collection rest on it."""

BY_TREATMENT = {
    "composting": COMPOST,
    "anaerobic_digestion": f"factor:digester_methane_g_per_kg {METHANE_GWP} {EDITION}",
    "incineration": "factor:incineration_methane_g_per_kg "
    f"factor:incineration_nitrous_oxide_g_per_kg {METHANE_GWP} {NITROUS_GWP} {EDITION}",
    "not_counted": "",
}
"""What each treatment of `planner.emissions.account.treatment_kg_co2e_per_kg` rests on."""


class Line(NamedTuple):
    """Words of a line: its label, how it came about, and what it rests on."""

    label: str
    method: str
    rests_on: str


LINES = {
    "landfill_methane": Line(
        "Landfill methane avoided",
        "Baseline less leakage: first-order decay of the scraps kept out, net of what would have "
        "been composted anyway and of what was thrown away after all, of gas capture by age of "
        "waste and of oxidation.",
        f"{{kept_out}} {LANDFILL}",
    ),
    "bin_methane": Line("Methane of the bins", COMPOSTING, f"{{fed}} {COMPOST_METHANE}"),
    "bin_nitrous_oxide": Line(
        "Nitrous oxide of the bins", COMPOSTING, f"{{fed}} {COMPOST_NITROUS}"
    ),
    "bin_plastic": Line(
        "Making of the bins",
        "Project: plastic by model and recycled share, charged in the year in which the bin is "
        "given, as capital goods are in the year of acquisition. A bin that came back and went out "
        "again is made once. Where a model's count of a year is too small to be shown, counts are "
        "raised to whole multiples of the threshold.",
        f"{PLASTIC_MASS} factor:bin_plastic_virgin_kg_co2e_per_kg "
        "factor:bin_plastic_recycled_kg_co2e_per_kg",
    ),
    "bin_disposal": Line(
        "End of the bins",
        "Project: plastic to landfill at the end of the bin, charged with its making.",
        f"{PLASTIC_MASS} factor:plastic_landfilled_kg_co2e_per_kg",
    ),
    "bedding": Line(
        "Bedding given with the bins",
        "Leakage: making of the bedding, charged when it is given.",
        "account_quantity[{basis}.bedding] factor:bedding_kg_co2e_per_kg",
    ),
    "worm_supply": Line(
        "Breeding of the worms given",
        "Leakage: gases of the feed that breeds them, charged when they are given.",
        "account_quantity[{basis}.worms] factor:worm_supply_kg_co2e_per_kg",
    ),
    "freight": Line(
        "Freight of bins, bedding and worms",
        "Leakage: to the council and on to the hand-over, charged when they are given, with "
        "the fuel's own supply.",
        "account_quantity[{basis}.moved] factor:supplier_km factor:delivery_km "
        "factor:freight_kg_co2e_per_t_km factor:freight_supply_kg_co2e_per_t_km",
    ),
    "household_trips": Line(
        "Trips of households to fetch a bin",
        "Leakage: one trip for each bin given.",
        "account_quantity[{basis}.trips] factor:household_trip_km factor:car_kg_co2e_per_km",
    ),
    "collection_saved": Line(
        "Collection saved",
        "Baseline: collection and delivery of the scraps that rounds no longer take.",
        f"{{fed}} {ROUTES} {LEAKS} factor:collection_kg_co2e_per_t key:emissions.rounds_shrink",
    ),
    "other_residual_treatment": Line(
        "Saved at other treatment of residual waste",
        ROUTE,
        f"{{fed}} {ROUTES} key:landfill.landfilled_share_of_residual_waste {{by_residual}} "
        "key:emissions.residual_treatment",
    ),
    "kerbside_organics": Line(
        "Saved at treatment of kerbside organics",
        ROUTE,
        f"{{fed}} {ROUTES} {{by_kerbside}} key:emissions.kerbside_treatment",
    ),
    "garden_compost": Line("Saved in garden compost", ROUTE, f"{{fed}} {ROUTES} {COMPOST}"),
    "bins_over_their_lives": Line(
        "Making and end of the bins, spread over their lives",
        "Stands in place of making and end of the bins where they are written off in equal parts "
        "over the reporting years of each bin's service life, whether or not it is in use.",
        f"{PLASTIC} {LIVES} factor:bin_plastic_virgin_kg_co2e_per_kg "
        "factor:bin_plastic_recycled_kg_co2e_per_kg factor:plastic_landfilled_kg_co2e_per_kg",
    ),
    "dropout": Line(
        "Landfill methane that bins out of use do not avoid",
        "Not in the net, which counts bins in use alone: what a claim for every bin given would "
        "add, at the feed of those in use.",
        f"{{kept_out}} {LANDFILL}",
    ),
    "castings_carbon": Line(
        "Carbon of castings bound in soil",
        "Biogenic, so apart from the net: published range for compost on land.",
        "{fed} factor:castings_carbon_kg_co2e_per_t",
    ),
    "fertiliser_replaced": Line(
        "Fertiliser that castings replace",
        "Apart from the net: only where castings stand in place of bought fertiliser.",
        "{fed} factor:fertiliser_replaced_kg_co2e_per_t",
    ),
    "landfill_carbon": Line(
        "Carbon that the landfill would have kept",
        "Biogenic, so apart from the net: carbon of the scraps that would not have decomposed.",
        f"{{kept_out}} {CARBON} {EDITION} key:landfill.management",
    ),
}
NET, NET_LABEL = "net", "Net emissions avoided"
NOT_THERE = {
    "collection_saved": (
        "Not counted: scraps that leave a bin half empty save nothing. Set rounds_shrink = true "
        "under [emissions] where rounds have become fewer or shorter."
    ),
    "other_residual_treatment": "Not counted, as the program file says.",
    "kerbside_organics": "Not counted, as the program file says.",
}
NOT_SHOWN = (
    "Not shown. Set show_carbon_and_fertiliser = true under [emissions] to see it, apart from "
    "the net."
)
CONSERVATIVE = (
    "Every factor at the end of its range that lowers the net of this basis, all at once, and "
    "leakage that is assumed at the end of its range; what the survey says stays at its central "
    "estimate."
)

FIGURES = (
    *(
        Declared(
            f"account_t_co2e[{{basis}}.{name}]",
            f"{line.label} ({{basis_words}})",
            UNIT,
            line.method,
            line.rests_on,
            {"account" if name in IN_NET else "apart": ""},
        )
        for name, line in LINES.items()
    ),
    Declared(
        f"account_t_co2e[{{basis}}.{NET}]",
        f"{NET_LABEL} ({{basis_words}})",
        UNIT,
        f"Sum of the lines of the net; biogenic carbon dioxide is in none of them. {NO_CLAIM}",
        "{lines}",
        {"account": ""},
    ),
    Declared(
        "making_and_freight_{basis}_t_co2e",
        "Making of bins, bedding, worms and freight ({basis_words})",
        UNIT,
        "Every line of the net but landfill methane and the bins' gases, to be taken off.",
        "{lines}",
        {"bases": ""},
    ),
    Declared(
        "other_routes_saved_{basis}_t_co2e",
        "Emissions saved on other routes ({basis_words})",
        UNIT,
        "Other treatment of residual waste, kerbside organics and garden compost together: "
        "what they no longer emit for scraps that bins took. Shown next to the net, not in it.",
        "{lines}",
    ),
    *(
        Declared(
            f"account_conservative_t_co2e[{{basis}}.{name}]",
            f"{LINES[name].label}, conservative ({{basis_words}})",
            UNIT,
            CONSERVATIVE,
            f"account_t_co2e[{{basis}}.{name}]",
            {"account": "Conservative"},
        )
        for name in IN_NET
    ),
    Declared(
        f"account_conservative_t_co2e[{{basis}}.{NET}]",
        f"{NET_LABEL}, conservative ({{basis_words}})",
        UNIT,
        f"{CONSERVATIVE} {{ends}}.",
        f"account_t_co2e[{{basis}}.{NET}]",
        {"account": "Conservative"},
    ),
    Declared(
        "landfill_methane_avoided_{basis}_t_co2e",
        "Landfill methane avoided {basis_words}",
        UNIT,
        METHANE,
        f"{{kept_out}} {LANDFILL}",
        {"bases": ""},
    ),
    Declared(
        "bin_process_gases_{basis}_t_co2e",
        "Methane and nitrous oxide of the bins ({basis_words})",
        UNIT,
        "IPCC factors for composting on all scraps fed: no factor for worm bins stands on "
        "enough measurements.",
        f"{{fed}} {COMPOST}",
        {"bases": ""},
    ),
    Declared(
        "emissions_avoided_{basis}_t_co2e",
        "Emissions avoided {basis_words}",
        UNIT,
        "Landfill methane avoided less methane and nitrous oxide of the bins, their plastic, "
        "bedding, worms, freight and trips, from the one net of scraps kept out of landfill. "
        f"Biogenic carbon dioxide is not counted. {NO_CLAIM} "
        "Central factor values; the mean over their ranges is {mean:.3g} t, as some ranges reach "
        "further down than up.",
        "landfill_methane_avoided_{basis}_t_co2e bin_process_gases_{basis}_t_co2e "
        "making_and_freight_{basis}_t_co2e",
        {"bases": ""},
    ),
    Declared(
        "landfill_methane_avoided_by_year_t_co2e[{year}]",
        "Landfill methane that the year's scraps avoid {years_on}",
        UNIT,
        METHANE,
        "landfill_methane_avoided_100_years_t_co2e",
    ),
    Declared(
        "landfill_methane_avoided_in_month_t_co2e[{month}]",
        "Landfill methane avoided in {month}, by all scraps kept out so far",
        UNIT,
        METHANE,
        "landfill_methane_avoided_in_year_t_co2e",
    ),
    Declared(
        "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]",
        "Landfill methane avoided at {landfill} ({basis_words})",
        UNIT,
        f"{METHANE} It takes {{share}} of what is landfilled.",
        "account_t_co2e[{basis}.landfill_methane]",
    ),
)


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
        "basis_words": BASIS_WORDS[basis],
        "kept_out": f"kept_out_of_landfill_{'' if basis == '100_years' else 'to_date_'}t",
        "fed": "fed_to_date_t" if basis == "to_date" else "fed_t",
        "by_residual": BY_TREATMENT[choices.residual_treatment],
        "by_kerbside": BY_TREATMENT[choices.kerbside_treatment],
    }


def _add_lines(out: Writer, basis: str, words: dict[str, str]) -> None:
    lines = out.year.emissions.basis(basis).lines
    for name in LINES:
        why = NOT_THERE.get(name, NOT_SHOWN)
        out.put(f"account_t_co2e[{{basis}}.{name}]", lines.get(name), words, why=why)


def _add_sums(out: Writer, basis: str, words: dict[str, str]) -> None:
    account = out.year.emissions.basis(basis)

    def there(names: tuple[str, ...]) -> str:
        return " ".join(f"account_t_co2e[{basis}.{n}]" for n in names if n in account.lines)

    apart = ("landfill_methane", "bin_methane", "bin_nitrous_oxide")
    rest = tuple(name for name in IN_NET if name not in apart)
    net, making = account.net_t_co2e, account.making_and_freight_t_co2e
    out.put(f"account_t_co2e[{{basis}}.{NET}]", net, words, lines=there(IN_NET))
    out.put("making_and_freight_{basis}_t_co2e", making, words, lines=there(rest))
    other_routes = account.other_routes_t_co2e
    out.put("other_routes_saved_{basis}_t_co2e", other_routes, words, lines=there(OTHER_ROUTES))
    out.put("landfill_methane_avoided_{basis}_t_co2e", account.methane_avoided_t_co2e, words)
    out.put("bin_process_gases_{basis}_t_co2e", account.bin_gases_t_co2e, words)
    out.put("emissions_avoided_{basis}_t_co2e", net, words, mean=net[1:].mean())


def _add_conservative(out: Writer, basis: str, words: dict[str, str]) -> None:
    rows, choices = out.year.emission_factors.rows, out.year.program.emissions
    account, ends = conservative_basis(with_most_leakage(out.year), rows, choices, basis)
    ends_in_words = "; ".join(f"{name} {value:g}" for name, value in ends.items())
    known = {**account.lines, NET: account.net_t_co2e}
    for name in (*IN_NET, NET):
        if name in known:
            declared = f"account_conservative_t_co2e[{{basis}}.{name}]"
            out.put(declared, float(known[name][0]), words, ends=ends_in_words)


def _add_landfills(out: Writer, basis: str, words: dict[str, str]) -> None:
    """Add each landfill's methane, where waste goes to several."""
    factors, activity = out.year.emission_factors, out.year.activity
    if not out.year.program.further_landfills:
        return
    for landfill in factors.landfills:
        methane = of_landfill_kg(activity.kept_out_kg, landfill, basis, activity.year_start)
        out.put(
            "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]",
            methane * factors["methane_gwp100"] / KG_PER_T,
            words,
            landfill=landfill.name,
            share=f"{landfill.share_of_landfilled_waste:.0%}",
        )


def _add_years(out: Writer) -> None:
    by_year = out.year.emissions.methane_by_year_t_co2e
    for year in range(by_year.shape[1]):
        out.put(
            "landfill_methane_avoided_by_year_t_co2e[{year}]",
            by_year[:, year],
            year=year,
            years_on=f"{year} year{'s' if year > 1 else ''} on" if year else "in the year itself",
        )


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
