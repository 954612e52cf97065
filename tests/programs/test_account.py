"""The emissions account of every sample year: its sums, bases and checks.

Rules after ISO 14064-2 and the GHG Protocol for Project Accounting: each line has a sign, a
source and a range; the net is the sum of its lines; bases are never added up. Expected sums
are made here from the figures as they are written.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from planner.emissions.account import APART, IN_NET, OTHER_ROUTES, emissions_avoided
from planner.emissions.activity import BASES
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.editions import EDITIONS, GWP_SETS
from planner.figures import FigureRegister
from planner.program import Emissions, FurtherLandfill
from planner.report.figures import CATALOGUE
from planner.report.figures.emissions import add_emission_checks, add_emissions
from planner.report.figures.writer import Writer
from tests.programs.conftest import TOWN_YEARS

EACH_YEAR = pytest.mark.parametrize(("town", "label"), TOWN_YEARS)
TOLERANCE = 1e-9
NEVER_POSITIVE = (
    "bin_methane",
    "bin_nitrous_oxide",
    "bin_plastic",
    "bin_disposal",
    "bedding",
    "worm_supply",
    "freight",
    "household_trips",
)


ROTS = (
    *("landfill_methane", "dropout"),
    *("bin_methane", "bin_nitrous_oxide", "landfill_carbon", *OTHER_ROUTES),
)
PLASTIC = "bin_models.plastic_kg+plastic_recycled_share"
OF_PLASTIC = ("bin_plastic", "bin_disposal", "bins_over_their_lives", "freight")


def _lines(register, basis, names):
    lines = [register[f"account_t_co2e[{basis}.{name}]"].value for name in names]
    return [line for line in lines if line is not None]


def _sum(register, basis, names):
    return sum(_lines(register, basis, names))


@EACH_YEAR
@pytest.mark.parametrize("basis", BASES)
def test_the_net_is_the_sum_of_its_lines(sample, town, label, basis):
    _, register = sample(town).year(label)
    net = register[f"account_t_co2e[{basis}.net]"]
    # each line is rounded to twelve digits of its own
    scale = TOLERANCE * sum(abs(line) for line in _lines(register, basis, IN_NET))
    assert net.value == pytest.approx(_sum(register, basis, IN_NET), abs=scale)
    headline = register[f"emissions_avoided_{basis}_t_co2e"]
    assert (headline.value, headline.low, headline.high) == (net.value, net.low, net.high)
    routes = register[f"other_routes_saved_{basis}_t_co2e"].value
    assert routes == pytest.approx(_sum(register, basis, OTHER_ROUTES), abs=scale)


@EACH_YEAR
def test_signs_and_lines_that_are_not_there(sample, town, label):
    _, register = sample(town).year(label)
    for basis in BASES:
        lines = {name: register[f"account_t_co2e[{basis}.{name}]"] for name in (*IN_NET, *APART)}
        assert lines["landfill_methane"].low > 0.0
        assert all(lines[name].high <= 0.0 for name in NEVER_POSITIVE)
        assert lines["dropout"].high <= 0.0
        for name in ("collection_saved", "castings_carbon", "landfill_carbon"):
            assert lines[name].value is None
            assert "[emissions]" in lines[name].method


def _basis_of(figure_id):
    """Name the basis of a figure of emissions; tonnes of scraps have none."""
    found = re.search("|".join(BASES), figure_id) if "co2e" in figure_id else None
    return found[0] if found else None


@EACH_YEAR
def test_no_figure_rests_on_figures_of_two_bases(sample, town, label):
    # Bases are never added: what bears one basis rests on figures of that one alone, and
    # what bears none rests on figures of one at most.
    _, register = sample(town).year(label)
    for figure in register:
        bases = {_basis_of(one.name) for one in figure.inputs if one.kind == "figure"} - {None}
        own = _basis_of(figure.id)
        assert len(bases) <= 1, figure.id
        assert own is None or bases <= {own}, figure.id


@EACH_YEAR
def test_every_line_says_its_edition_warming_potentials_and_sources(sample, town, label):
    one = sample(town)
    _, register = one.year(label)
    method = one.program.method
    for figure in register.parts("account_t_co2e").values():
        keys = {item.name: item.detail for item in figure.inputs if item.kind == "program"}
        line = figure.part.partition(".")[2]
        # what burns no gas and rots nothing takes neither
        assert keys.get("method.edition") == (method.edition if line in ROTS else None), figure.id
        has_potential = line in ROTS and line != "landfill_carbon"
        assert keys.get("method.gwp_set") == (method.gwp_set if has_potential else None), figure.id
        masses = {one.name for one in figure.inputs if one.name.startswith("account_quantity")}
        below = {one.name for mass in masses for one in register[mass].inputs}
        is_hidden = any(register[mass].value is None for mass in masses)
        assert is_hidden or (PLASTIC in {*keys, *below}) is (line in OF_PLASTIC)
        kinds = {item.kind for item in figure.inputs}
        assert "factor" in kinds or figure.part.endswith(".net")
        assert {"figure", "query"} & kinds


@EACH_YEAR
def test_the_conservative_variant_is_below_the_central_one(sample, town, label):
    _, register = sample(town).year(label)
    for basis in BASES:
        lowest = register[f"account_conservative_t_co2e[{basis}.net]"].value
        assert lowest < register[f"account_t_co2e[{basis}.net]"].value
        lines = [
            figure.value
            for part, figure in register.parts("account_conservative_t_co2e").items()
            if part.startswith(f"{basis}.") and not part.endswith(".net")
        ]
        assert lowest == pytest.approx(sum(lines), abs=1e-9)


@EACH_YEAR
def test_months_of_the_year_add_up_where_all_are_shown(sample, town, label):
    _, register = sample(town).year(label)
    months = list(register.parts("landfill_methane_avoided_in_month_t_co2e").values())
    whole = register["landfill_methane_avoided_in_year_t_co2e"].value
    values = [month.value for month in months]
    if None not in values:
        assert sum(values) == pytest.approx(whole, rel=TOLERANCE)
    else:
        assert sum(value for value in values if value is not None) <= whole


@EACH_YEAR
def test_the_program_s_own_edition_stands_among_those_compared(sample, town, label):
    one = sample(town)
    _, register = one.year(label)
    own = f"{one.program.method.edition}.{one.program.method.gwp_set}"
    for basis in BASES:
        found = register[f"editions_compared_t_co2e[{basis}.{own}]"]
        assert found.value == pytest.approx(register[f"account_t_co2e[{basis}.net]"].value)
    parts = set(register.parts("editions_compared_t_co2e"))
    assert parts == {f"{b}.{e}.{g}" for b in BASES for e in EDITIONS for g in GWP_SETS}


@EACH_YEAR
def test_shares_of_variance_add_up_and_name_what_moves_the_net(sample, town, label):
    _, register = sample(town).year(label)
    shares = {name: one.value for name, one in register.parts("variance_share").items()}
    assert sum(shares.values()) == pytest.approx(1.0)
    assert min(shares.values()) >= 0.0
    # the carbon in food is the widest range of all and moves every line of methane
    assert shares["food_degradable_carbon_share"] > 0.1
    assert "incineration_nitrous_oxide_g_per_kg" not in shares


@EACH_YEAR
def test_a_bin_is_repaid_or_a_reason_stands_there(sample, town, label):
    one = sample(town)
    _, register = one.year(label)
    for model in one.program.bin_models:
        making = register[f"bin_making_kg_co2e[{model.model_id}]"]
        repaid = register[f"bin_payback_kg[{model.model_id}]"]
        assert making.low > 0.0
        if repaid.value is None:
            assert "Never" in repaid.method
        elif repaid.low is not None:
            assert repaid.low <= repaid.value <= repaid.high


def _told(year):
    """Figures of the account of a year that is not a sample's own."""
    register = FigureRegister("Nowhere", year.reporting_year.reporting_year, "0")
    out = Writer(register, year, CATALOGUE)
    add_emissions(out)
    add_emission_checks(out)
    return register


def _under(year, **blocks):
    """Reckon the same year under other blocks of the program file."""
    program = year.program.model_copy(update=blocks)
    method = program.method
    factors = draw_emission_factors(program, year.factor_table, method.draws_count, method.seed)
    emissions = emissions_avoided(year.activity, factors, program.emissions)
    return replace(year, program=program, emission_factors=factors, emissions=emissions)


def test_a_year_in_which_nothing_was_kept_out_or_fed_has_an_account_all_the_same(sample):
    year, _ = sample("valdorra").year("2024")
    none = np.zeros_like(year.activity.fed_kg)
    activity = replace(
        year.activity, **{name: none for name in vars(year.activity) if name.endswith("_kg")}
    )
    emissions = emissions_avoided(activity, year.emission_factors, year.program.emissions)
    register = _told(replace(year, activity=activity, emissions=emissions))
    net = register["account_t_co2e[100_years.net]"]
    assert net.high < 0.0
    for model in year.program.bin_models:
        assert register[f"bin_payback_kg[{model.model_id}]"].value is None
    assert "landfill_methane" not in register.parts("approach_1_uncertainty_percent")


def test_two_landfills_share_the_methane(sample):
    year, _ = sample("valdorra").year("2024")
    own = year.program.landfill
    like = own.model_dump(exclude={"landfilled_share_of_residual_waste"})
    twin = FurtherLandfill(name="Twin", share_of_landfilled_waste=0.3, **like)
    register = _told(_under(year, further_landfills=(twin,)))
    plain = _told(year)
    for basis in BASES:
        whole = register[f"account_t_co2e[{basis}.landfill_methane]"].value
        # a landfill split in two like ones gives what it gave whole
        assert whole == pytest.approx(plain[f"account_t_co2e[{basis}.landfill_methane]"].value)
        parts = register.parts("landfill_methane_by_landfill_t_co2e")
        assert parts[f"{basis}.Twin"].value == pytest.approx(0.3 * whole)
        assert parts[f"{basis}.main"].value == pytest.approx(0.7 * whole)
    assert not plain.parts("landfill_methane_by_landfill_t_co2e")


@pytest.mark.thorough
def test_choices_of_the_program_file_bring_lines_in_and_leave_them_out(sample):
    year, _ = sample("thornquay").year("2024-25")
    choices = Emissions(
        rounds_shrink=True,
        show_carbon_and_fertiliser=True,
        residual_treatment="not_counted",
        household_trip_km=0.0,
    )
    register = _told(_under(year, emissions=choices))
    lines = register.parts("account_t_co2e")
    assert lines["in_year.collection_saved"].value > 0.0
    assert lines["in_year.castings_carbon"].value > 0.0
    assert lines["in_year.household_trips"].value == 0.0
    assert lines["in_year.other_residual_treatment"].value is None
    keys = {item.name for item in lines["in_year.household_trips"].inputs}
    assert "emissions.household_trip_km" in keys
    for basis in BASES:
        net = lines[f"{basis}.net"].value
        scale = TOLERANCE * lines[f"{basis}.landfill_methane"].value
        # figures keep twelve digits, and so does each line of the sum
        assert net == pytest.approx(_sum(register, basis, IN_NET), abs=2.0 * scale)
