"""Figures of the project account: each line with sign, source and range, on each basis."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from planner.emissions import APART, BASES, IN_NET, OTHER_ROUTES, conservative_basis
from planner.figures import Figure
from planner.report.inputs import of_factors, of_figures, of_key, of_query

if TYPE_CHECKING:
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year

UNIT = "t CO2-e"
BASIS_WORDS = {
    "in_year": "in the year, from all scraps kept out so far",
    "to_date": "to date",
    "100_years": "over 100 years, from the year's scraps",
}
NO_CLAIM = (
    "Not an offset and not a credit: whether the council would have acted anyway, and who else "
    "counts the same methane, is not examined. No claim that worm bins emit less than other "
    "composting: the one field study of home bins found more methane from worm bins and less "
    "of all gases together, and no factor for them stands on enough measurements."
)
LANDFILL_FACTORS = (
    "food_degradable_carbon_share",
    "food_decomposing_carbon_share",
    "methane_share_of_gas",
    "delay_months",
    "captured_multiplier",
    "methane_correction_factor",
    "food_decay_rate_per_year",
    "oxidised_share",
    "methane_gwp100",
)
FREIGHT_FACTORS = (
    "supplier_km",
    "delivery_km",
    "freight_kg_co2e_per_t_km",
    "freight_supply_kg_co2e_per_t_km",
)
COMPOST_FACTORS = ("compost_methane_g_per_kg", "compost_nitrous_oxide_g_per_kg")
GWP = ("methane_gwp100", "nitrous_oxide_gwp100")
ROUTE = (
    "What this route emitted for the scraps that bins took from it. Energy or compost that it "
    "gave is not counted. Outside the net, which is about landfill alone."
)


class Line(NamedTuple):
    """Words of a line: its label, how it came about, and the factors behind it."""

    label: str
    method: str
    factor_ids: tuple[str, ...]


LINES = {
    "landfill_methane": Line(
        "Landfill methane avoided",
        "Baseline: first-order decay of the scraps kept out, net of gas capture by age of waste "
        "and of oxidation.",
        LANDFILL_FACTORS,
    ),
    "would_have_composted_anyway": Line(
        "Scraps that would have been composted anyway",
        "Baseline: a share of the landfill methane, for households that would have begun to "
        "compost without the program. Those who composted before are taken off by the survey.",
        (*LANDFILL_FACTORS, "would_have_composted_anyway_share"),
    ),
    "contents_binned": Line(
        "Contents of bins that were thrown away after all",
        "Leakage: a share of all scraps fed, landfilled as the residual bin is, as if fresh.",
        (*LANDFILL_FACTORS, "contents_binned_share"),
    ),
    "bin_methane": Line(
        "Methane of the bins",
        "Project: the Guidelines' factor for composting, over its whole range, on all scraps fed.",
        (COMPOST_FACTORS[0], GWP[0]),
    ),
    "bin_nitrous_oxide": Line(
        "Nitrous oxide of the bins",
        "Project: the Guidelines' factor for composting, over its whole range, on all scraps fed.",
        (COMPOST_FACTORS[1], GWP[1]),
    ),
    "bin_plastic": Line(
        "Making of the bins",
        "Project: plastic by model and recycled share, in equal parts over the reporting years of "
        "each bin's service life, whether or not it is in use. A bin that came back and went out "
        "again is made once. Where a model's count of a year is too small to be shown, counts are "
        "raised to whole multiples of the threshold.",
        ("bin_plastic_virgin_kg_co2e_per_kg", "bin_plastic_recycled_kg_co2e_per_kg"),
    ),
    "bin_disposal": Line(
        "End of the bins",
        "Project: plastic to landfill, over the same years as its making.",
        ("plastic_landfilled_kg_co2e_per_kg",),
    ),
    "bedding": Line(
        "Bedding given with the bins",
        "Leakage: making of the bedding, charged when it is given.",
        ("bedding_kg_co2e_per_kg",),
    ),
    "worm_supply": Line(
        "Breeding of the worms given",
        "Leakage: gases of the feed that breeds them, charged when they are given.",
        ("worm_supply_kg_co2e_per_kg",),
    ),
    "freight": Line(
        "Freight of bins, bedding and worms",
        "Leakage: to the council and on to the hand-over, charged when they are given, with "
        "the fuel's own supply.",
        FREIGHT_FACTORS,
    ),
    "household_trips": Line(
        "Trips of households to fetch a bin",
        "Leakage: one trip for each bin given.",
        ("household_trip_km", "car_kg_co2e_per_km"),
    ),
    "collection_saved": Line(
        "Collection saved",
        "Baseline: collection and delivery of the scraps that rounds no longer take.",
        ("collection_kg_co2e_per_t",),
    ),
    "other_residual_treatment": Line(
        "Saved at other treatment of residual waste",
        ROUTE,
        (
            "incineration_methane_g_per_kg",
            "incineration_nitrous_oxide_g_per_kg",
            "digester_methane_g_per_kg",
            *COMPOST_FACTORS,
            *GWP,
        ),
    ),
    "kerbside_organics": Line(
        "Saved at treatment of kerbside organics",
        ROUTE,
        ("digester_methane_g_per_kg", *COMPOST_FACTORS, *GWP),
    ),
    "garden_compost": Line("Saved in garden compost", ROUTE, (*COMPOST_FACTORS, *GWP)),
    "dropout": Line(
        "Landfill methane that bins out of use do not avoid",
        "Not in the net, which counts bins in use alone: what a claim for every bin given would "
        "add, at the feed of those in use.",
        LANDFILL_FACTORS,
    ),
    "castings_carbon": Line(
        "Carbon of castings bound in soil",
        "Biogenic, so apart from the net: published range for compost on land.",
        ("castings_carbon_kg_co2e_per_t",),
    ),
    "fertiliser_replaced": Line(
        "Fertiliser that castings replace",
        "Apart from the net: only where castings stand in place of bought fertiliser.",
        ("fertiliser_replaced_kg_co2e_per_t",),
    ),
    "landfill_carbon": Line(
        "Carbon that the landfill would have kept",
        "Biogenic, so apart from the net: carbon of the scraps that would not have decomposed.",
        (
            "food_degradable_carbon_share",
            "food_decomposing_carbon_share",
            "methane_correction_factor",
        ),
    ),
}
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
    "Every factor at the end of its range that lowers the net of this basis, all at once; what "
    "the survey says stays at its central estimate."
)


def add_account(register: FigureRegister, year: Year) -> None:
    """Add each line of the account on each basis, and the conservative variant beside it."""
    for basis in BASES:
        _add_lines(register, year, basis)
        _add_sums(register, year, basis)
        _add_conservative(register, year, basis)


def method_inputs(year: Year) -> tuple[Input, ...]:
    """Edition and warming potentials, stored with every result."""
    method = year.program.method
    return (of_key("method.edition", method.edition), of_key("method.gwp_set", method.gwp_set))


def factor_inputs(year: Year, factor_ids: tuple[str, ...]) -> tuple[Input, ...]:
    """Factors behind a figure; those of the program file as its keys."""
    rows = year.emission_factors.rows
    chosen = [row for row in rows.every if row.factor_id in factor_ids]
    stated = [row for row in chosen if row.factor_id in rows.stated]
    published = [row for row in chosen if row.factor_id not in rows.stated]
    keys = tuple(of_key(f"emissions.{row.factor_id}", row.value) for row in stated)
    return (*of_factors(year.factor_table, published), *keys)


def _add_lines(register: FigureRegister, year: Year, basis: str) -> None:
    lines = year.emissions.basis(basis).lines
    for name in (*IN_NET, *OTHER_ROUTES, *APART):
        words = LINES[name]
        figure_id, label = f"account_t_co2e[{basis}.{name}]", f"{words.label} ({_words(basis)})"
        inputs = (
            *_activity_inputs(year, name, basis),
            *factor_inputs(year, words.factor_ids),
            *method_inputs(year),
        )
        if name in lines:
            register.add_draws(figure_id, label, lines[name], UNIT, words.method, inputs)
        else:
            reason = NOT_THERE.get(name, NOT_SHOWN)
            register.add(Figure(figure_id, label, None, None, None, UNIT, reason, inputs))


def _activity_inputs(year: Year, name: str, basis: str) -> tuple[Input, ...]:
    scraps = "fed_to_date_t" if basis == "to_date" else "fed_t"
    kept_out = (
        "kept_out_of_landfill_t" if basis == "100_years" else "kept_out_of_landfill_to_date_t"
    )
    if name in ("landfill_methane", "would_have_composted_anyway", "dropout", "landfill_carbon"):
        return of_figures(kept_out)
    if name in ("bin_plastic", "bin_disposal", "bedding", "worm_supply", "freight"):
        return (of_query("supplies_by_month", year.counts.supplies),)
    if name == "household_trips":
        return (of_query("supplies_by_month", year.counts.supplies),)
    if name == "contents_binned" and basis != "100_years":
        return of_figures("fed_to_date_t")
    return of_figures(scraps)


def _add_sums(register: FigureRegister, year: Year, basis: str) -> None:
    account, words = year.emissions.basis(basis), _words(basis)

    def there(names: tuple[str, ...]) -> tuple[Input, ...]:
        parts = [f"account_t_co2e[{basis}.{name}]" for name in names if name in account.lines]
        return (*of_figures(*parts), *method_inputs(year))

    rest = tuple(n for n in IN_NET if n not in ("landfill_methane", "bin_methane"))
    register.add_draws(
        f"account_t_co2e[{basis}.net]",
        f"Net emissions avoided ({words})",
        account.net_t_co2e,
        UNIT,
        f"Sum of the lines of the net; biogenic carbon dioxide is in none of them. {NO_CLAIM}",
        there(IN_NET),
    )
    register.add_draws(
        f"making_and_leakage_{basis}_t_co2e",
        f"Making, leakage and scraps composted anyway ({words})",
        account.making_and_leakage_t_co2e,
        UNIT,
        "Every line of the net but landfill methane and the bins' gases, to be taken off.",
        there(tuple(n for n in rest if n != "bin_nitrous_oxide")),
    )
    register.add_draws(
        f"other_routes_saved_{basis}_t_co2e",
        f"Emissions saved on other routes ({words})",
        account.other_routes_t_co2e,
        UNIT,
        "Other treatment of residual waste, kerbside organics and garden compost together: "
        "what they no longer emit for scraps that bins took. Stands beside the net, not in it.",
        there(OTHER_ROUTES),
    )


def _add_conservative(register: FigureRegister, year: Year, basis: str) -> None:
    account, ends = conservative_basis(
        year.activity, year.emission_factors.rows, year.program.emissions, basis
    )
    told = "; ".join(f"{name} {value:g}" for name, value in ends.items())
    for name in (*IN_NET, "net"):
        is_net = name == "net"
        if not is_net and name not in account.lines:
            continue
        line = account.net_t_co2e if is_net else account.lines[name]
        label = "Net emissions avoided" if is_net else LINES[name].label
        register.add_exact(
            f"account_conservative_t_co2e[{basis}.{name}]",
            f"{label}, conservative ({_words(basis)})",
            float(line[0]),
            UNIT,
            f"{CONSERVATIVE} {told}." if is_net else CONSERVATIVE,
            (*of_figures(f"account_t_co2e[{basis}.{name}]"), *method_inputs(year)),
        )


def _words(basis: str) -> str:
    return BASIS_WORDS[basis]
