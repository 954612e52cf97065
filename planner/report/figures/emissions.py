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
from planner.messages import paper
from planner.report.activity import with_most_leakage
from planner.report.disclosure import HIDDEN
from planner.report.figures.declaring import Declared
from planner.report.figures.giveaway import basis_words
from planner.report.figures.tonnes import LEAKS
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.program import Emissions
    from planner.report.figures.declaring import Writer

UNIT = "t CO2-e"

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
    """What a line of the account rests on, and how it came about, as `Declared` has it."""

    rests_on: str
    method: str = "own"


OF_PLASTIC = "factor:bin_plastic_virgin_kg_co2e_per_kg factor:bin_plastic_recycled_kg_co2e_per_kg"
LINES = {
    "landfill_methane": Line(f"{{kept_out}} {LANDFILL}"),
    "bin_methane": Line(f"{{fed}} {COMPOST_METHANE}", "composting"),
    "bin_nitrous_oxide": Line(f"{{fed}} {COMPOST_NITROUS}", "composting"),
    "bin_plastic": Line(f"{PLASTIC_MASS} {OF_PLASTIC}"),
    "bin_disposal": Line(f"{PLASTIC_MASS} factor:plastic_landfilled_kg_co2e_per_kg"),
    "bedding": Line("account_quantity[{basis}.bedding] factor:bedding_kg_co2e_per_kg"),
    "worm_supply": Line("account_quantity[{basis}.worms] factor:worm_supply_kg_co2e_per_kg"),
    "freight": Line(
        "account_quantity[{basis}.moved] factor:supplier_km factor:delivery_km "
        "factor:freight_kg_co2e_per_t_km factor:freight_supply_kg_co2e_per_t_km",
    ),
    "household_trips": Line(
        "account_quantity[{basis}.trips] factor:household_trip_km factor:car_kg_co2e_per_km",
    ),
    "collection_saved": Line(
        f"{{fed}} {ROUTES} {LEAKS} factor:collection_kg_co2e_per_t key:emissions.rounds_shrink",
    ),
    "other_residual_treatment": Line(
        f"{{fed}} {ROUTES} key:landfill.landfilled_share_of_residual_waste {{by_residual}} "
        "key:emissions.residual_treatment",
        "other_route",
    ),
    "kerbside_organics": Line(
        f"{{fed}} {ROUTES} {{by_kerbside}} key:emissions.kerbside_treatment", "other_route"
    ),
    "garden_compost": Line(f"{{fed}} {ROUTES} {COMPOST}", "other_route"),
    "bins_over_their_lives": Line(
        f"{PLASTIC} {LIVES} {OF_PLASTIC} factor:plastic_landfilled_kg_co2e_per_kg",
    ),
    "dropout": Line(f"{{kept_out}} {LANDFILL}"),
    "castings_carbon": Line("{fed} factor:castings_carbon_kg_co2e_per_t"),
    "fertiliser_replaced": Line("{fed} factor:fertiliser_replaced_kg_co2e_per_t"),
    "landfill_carbon": Line(f"{{kept_out}} {CARBON} {EDITION} key:landfill.management"),
}
NET = "net"
NOT_THERE = {
    "collection_saved": "why.collection_not_counted",
    "other_residual_treatment": "why.treatment_not_counted",
    "kerbside_organics": "why.treatment_not_counted",
}
"""Why a line is not there; any other is not shown unless the program file asks for it."""

FIGURES = (
    *(
        Declared(
            f"account_t_co2e[{{basis}}.{name}]",
            UNIT,
            line.rests_on,
            ("account" if name in IN_NET else "apart",),
            line.method,
            "account_line",
        )
        for name, line in LINES.items()
    ),
    Declared(
        f"account_t_co2e[{{basis}}.{NET}]",
        UNIT,
        "{lines}",
        ("account",),
        "own no_claim",
        "account_line",
    ),
    Declared("making_and_freight_{basis}_t_co2e", UNIT, "{lines}", ("bases",)),
    Declared("other_routes_saved_{basis}_t_co2e", UNIT, "{lines}"),
    *(
        Declared(
            f"account_conservative_t_co2e[{{basis}}.{name}]",
            UNIT,
            f"account_t_co2e[{{basis}}.{name}]",
            ("account",),
            "conservative",
            "account_conservative",
        )
        for name in IN_NET
    ),
    Declared(
        f"account_conservative_t_co2e[{{basis}}.{NET}]",
        UNIT,
        f"account_t_co2e[{{basis}}.{NET}]",
        ("account",),
        "conservative {ends}",
        "account_conservative",
    ),
    Declared(
        "landfill_methane_avoided_{basis}_t_co2e",
        UNIT,
        f"{{kept_out}} {LANDFILL}",
        ("bases",),
        method="methane",
    ),
    Declared("bin_process_gases_{basis}_t_co2e", UNIT, f"{{fed}} {COMPOST}", ("bases",)),
    Declared(
        "emissions_avoided_{basis}_t_co2e",
        UNIT,
        "landfill_methane_avoided_{basis}_t_co2e bin_process_gases_{basis}_t_co2e "
        "making_and_freight_{basis}_t_co2e",
        ("bases",),
        method="own no_claim mean_of_ranges",
    ),
    Declared(
        "landfill_methane_avoided_by_year_t_co2e[{year}]",
        UNIT,
        "landfill_methane_avoided_100_years_t_co2e",
        method="methane",
    ),
    Declared(
        "landfill_methane_avoided_in_month_t_co2e[{month}]",
        UNIT,
        "landfill_methane_avoided_in_year_t_co2e",
        method="methane",
    ),
    Declared(
        "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]",
        UNIT,
        "account_t_co2e[{basis}.landfill_methane]",
        method="methane own",
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
        "basis_words": basis_words(basis),
        "kept_out": f"kept_out_of_landfill_{'' if basis == '100_years' else 'to_date_'}t",
        "fed": "fed_to_date_t" if basis == "to_date" else "fed_t",
        "by_residual": BY_TREATMENT[choices.residual_treatment],
        "by_kerbside": BY_TREATMENT[choices.kerbside_treatment],
    }


def line_words(line: str) -> str:
    """Name a line of the account, or its net."""
    return paper().say(f"line.{line}")


def _add_lines(out: Writer, basis: str, words: dict[str, str]) -> None:
    lines = out.year.emissions.basis(basis).lines
    for name in LINES:
        out.put(
            f"account_t_co2e[{{basis}}.{name}]",
            lines.get(name),
            words,
            why=NOT_THERE.get(name, "why.apart_not_shown"),
            line=line_words(name),
        )


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
    out.put(
        "emissions_avoided_{basis}_t_co2e",
        net,
        words,
        mean=paper().significant(float(net[1:].mean()), 3),
    )


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
        out.put(
            "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]",
            methane * factors["methane_gwp100"] / KG_PER_T,
            words,
            landfill=landfill.name,
            share=paper().share(landfill.share_of_landfilled_waste),
        )


def _add_years(out: Writer) -> None:
    by_year = out.year.emissions.methane_by_year_t_co2e
    for year in range(by_year.shape[1]):
        out.put(
            "landfill_methane_avoided_by_year_t_co2e[{year}]",
            by_year[:, year],
            year=year,
            years_on=paper().say("said.years_on", year)
            if year
            else paper().say("said.in_the_year_itself"),
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
