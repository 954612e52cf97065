"""Money, gross to net and castings of a sample year: the figures agree with each other."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from planner.diversion.gross_to_net import gross_to_net
from planner.factors import read_factors
from planner.figures import FigureRegister
from planner.messages import in_english
from planner.money.ledger import ProgramCost
from planner.program import OwnFactor
from planner.report.appraising import appraise, labels
from planner.report.explaining import explain
from planner.report.figures import CATALOGUE
from planner.report.figures.comparison import add_own_factors
from planner.report.figures.money import NO_LEDGER, NO_RATIO, add_ledger
from planner.report.figures.writer import Writer
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.store.opening import open_store
from tests.prose import HIDDEN

TOWN, LABEL = "port_marrow", "2025-26"
STEPS = (
    *("given", "set_up", "in_use", "fed", "from_residual_bin"),
    *("landfilled", "not_composted_anyway", "kept_out"),
)
LAST_BITS = 1e-9


@pytest.fixture(scope="module")
def year(sample):
    return sample(TOWN).year(LABEL)[0]


@pytest.fixture(scope="module")
def figures(sample):
    return sample(TOWN).year(LABEL)[1]


@pytest.fixture(scope="module")
def appraisal(year):
    kept_out = year.diversion.kept_out_kg
    given = year.diversion.cohorts
    return appraise(year.program, given, kept_out, year.carried, year.counts.costs_by_month)


def test_the_ledger_is_the_sum_of_its_categories_and_of_its_years(year, figures, appraisal):
    for figure_id in ("program_cost", "program_cost_to_date"):
        parts = figures.parts(figure_id).values()
        assert sum(part.value for part in parts) == pytest.approx(figures[figure_id].value)
    booked = year.counts.costs_by_month["amount"].sum()
    assert booked == pytest.approx(figures["program_cost_to_date"].value)
    assert appraisal.cost[0].sum() == pytest.approx(booked)
    this = labels(appraisal, year.program).index(LABEL)
    assert appraisal.cost[0, this] == pytest.approx(figures["program_cost"].value)


def test_unit_costs_times_their_counts_are_the_cost(figures):
    for cost, count in (
        ("cost_per_bin_given", "bins_given"),
        ("cost_per_household_served", "households_served"),
        ("cost_per_bin_given_to_date", "bins_given_to_date"),
        ("cost_per_household_served_to_date", "households_served_to_date"),
    ):
        whole = "program_cost_to_date" if cost.endswith("to_date") else "program_cost"
        assert figures[cost].value * figures[count].value == pytest.approx(figures[whole].value)
    in_use = figures["cost_per_bin_in_use"].value * figures["bins_in_use"].value
    assert in_use == pytest.approx(figures["program_cost_to_date"].value)


def test_budget_less_cost_is_what_is_left(figures):
    spent = figures["budget"].value - figures["budget_remaining"].value
    assert spent == pytest.approx(figures["program_cost"].value)
    assert figures["budget_spent_share"].value == pytest.approx(spent / figures["budget"].value)


def test_the_two_sides_of_the_copayments_stand_in_one_sign(figures):
    for suffix in ("", "_to_date"):
        sides = [figures[f"copayments_{n}{suffix}"] for n in ("in_ledger", "at_handover")]
        difference = figures[f"copayments_difference{suffix}"]
        assert sides[0].value > 0
        assert difference.value == pytest.approx(sides[0].value - sides[1].value)
        received = f"program_cost{suffix}[copayments_received]"
        assert sides[0].value == pytest.approx(-figures[received].value)


def test_work_in_kind_stands_beside_the_cost_and_not_in_it(figures):
    assert figures["in_kind_hours"].value == 110.0
    assert figures["in_kind_cost"].value == pytest.approx(110.0 * 42.5)
    both = figures["program_cost_with_in_kind"].value
    assert both - figures["program_cost"].value == pytest.approx(110.0 * 42.5)


def test_levy_and_gate_fee_add_up(figures):
    parts = figures["avoided_levy"].value + figures["avoided_gate_fee"].value
    assert parts == pytest.approx(figures["avoided_disposal_cost"].value)
    assert figures["net_program_cost"].value == pytest.approx(figures["program_cost"].value - parts)


def test_the_years_carry_on_from_what_was_measured(year, figures, appraisal):
    names = labels(appraisal, year.program)
    by_year = figures.parts("kept_out_of_landfill_t_by_year")
    assert tuple(by_year) == names
    this = names.index(LABEL)
    to_date = sum(by_year[name].value for name in names[: this + 1])
    assert to_date == pytest.approx(figures["kept_out_of_landfill_to_date_t"].value)
    assert by_year[LABEL].value == pytest.approx(figures["kept_out_of_landfill_t"].value)
    whole = sum(figure.value for figure in by_year.values())
    assert whole == pytest.approx(figures["kept_out_of_landfill_t_service_life"].value)
    # nobody is given another bin, so the bins in use and what they take can only fall
    assert (np.diff(year.carried.bins_in_use, axis=1) <= LAST_BITS).all()
    later = [by_year[name].value for name in names[this + 1 :]]
    assert all(after < before for before, after in pairwise(later))


def test_carried_bins_go_on_from_those_in_use(year):
    now = year.diversion.bins_in_use[:, -1]
    next_month = year.carried.bins_in_use[:, 0]
    assert (next_month <= now).all()
    assert next_month[0] > 0.9 * now[0]


def test_present_values_agree_draw_by_draw(figures, appraisal):
    rates = [float(part) for part in figures.parts("net_present_value")]
    assert rates == [0.03, 0.05, 0.07]
    for rate in rates:
        net = appraisal.net_present_value(rate)
        benefits = appraisal.present_value_of_benefits(rate)
        costs = appraisal.present_value_of_costs(rate)
        assert net == pytest.approx(benefits - costs)
        part = f"[{rate:g}]"
        assert figures[f"net_present_value{part}"].value == pytest.approx(net[0])
        assert figures[f"benefit_cost_ratio{part}"].value == pytest.approx(benefits[0] / costs[0])


def test_prices_are_those_of_the_program_file_and_rise_beyond(figures, year):
    prices = figures.parts("disposal_price_per_t_by_year")
    for block in year.program.reporting_years:
        known = block.landfill_levy_per_t + block.gate_fee_per_t
        assert prices[block.reporting_year].value == pytest.approx(known)
    # 2% above inflation of 2.5%, as the town's program file says
    assert prices["2026-27"].value == pytest.approx((125.0 + 99.0) * 1.02 * 1.025)
    assert prices["2027-28"].value == pytest.approx(prices["2026-27"].value * 1.02 * 1.025)


def test_no_step_from_gross_to_net_is_above_the_one_before_it_in_any_draw(year, figures):
    landfilled = year.program.landfill.landfilled_share_of_residual_waste
    chain = gross_to_net(year.diversion, year.counts, landfilled)
    assert tuple(chain.steps_kg) == STEPS
    for before, after in pairwise(chain.steps_kg.values()):
        assert (after <= before * (1.0 + LAST_BITS)).all()
    assert (chain.bins_in_use <= chain.bins_set_up + LAST_BITS).all()
    assert (chain.bins_set_up <= chain.bins_given).all()
    shares = [figures[f"gross_to_net_share[{step}]"].value for step in STEPS[1:]]
    whole = figures["gross_to_net[given]"].value * np.prod(shares)
    assert whole == pytest.approx(figures["gross_to_net[kept_out]"].value)


def test_the_net_is_the_headline(figures):
    for step, headline in (("fed", "fed_t"), ("kept_out", "kept_out_of_landfill_t")):
        net, shown = figures[f"gross_to_net[{step}]"], figures[headline]
        assert (net.value, net.low, net.high) == (shown.value, shown.low, shown.high)
    assert figures["gross_to_net_bins[in_use]"].value == figures["bins_in_use"].value


def test_the_gross_claim_is_the_rule_of_thumb_and_its_sentence_multiplies_out(figures):
    # 150 kg a bin and year: House of Commons written answer, 19 May 2009
    claim = figures["gross_claim_t"].value
    assert claim == pytest.approx(figures["bins_given_to_date"].value * 0.150)
    net = figures["gross_to_net[kept_out]"].value
    over = figures["gross_claim_over_net"]
    assert over.value == pytest.approx(claim / net)
    assert f"{net:.1f} t, not {claim:.1f} t" in over.method
    assert "150 kg a year" in over.method


def test_castings_rest_on_the_towns_own_weighing_and_say_so(sample, figures):
    own = next(one for one in sample(TOWN).program.factors)
    assert figures["castings_t"].value == pytest.approx(figures["fed_t"].value * own.value)
    (factor,) = [item for item in figures["castings_t"].inputs if item.kind == "factor"]
    assert "Own figure of Port Marrow Shire Council (invented): Trays of 14" in factor.detail
    assert "in place of the published 0.4 (0.15 to 0.7)" in factor.detail
    assert "indicative" in figures["castings_t"].label


def test_more_mix_comes_of_fewer_castings_in_it(figures):
    litres = figures["castings_litres"].value
    mixes = figures.parts("potting_mix_litres")
    assert mixes["one_part_in_three"].value == pytest.approx(3 * litres)
    assert mixes["one_part_in_five"].value == pytest.approx(5 * litres)


def test_the_own_factors_are_counted_named_and_cited(figures):
    own = figures["own_factors_count"]
    assert own.value == 1.0
    assert own.method == "In place of published ones: castings_share_of_scraps."
    assert "Own figure of Port Marrow Shire Council (invented)" in own.inputs[0].detail


def test_an_own_factor_on_which_nothing_rests_is_named(year, figures):
    idle = replace(year.factor_table.find("castings_share_of_scraps"), factor_id="idle_share")
    table = replace(year.factor_table, factors=(*year.factor_table.factors, idle))
    register = FigureRegister("Town", LABEL, "1")
    register.add(figures["castings_t"])
    add_own_factors(Writer(register, replace(year, factor_table=table), CATALOGUE))
    assert "No figure rests on idle_share." in register["own_factors_count"].method


def test_copayments_are_hidden_where_few_paid_or_few_did_not(year, figures):
    payers = int(year.counts.copayments["payers_in_year"].item())
    free = int(year.counts.copayments["bins_in_year"].item()) - payers
    assert 0 < free < payers
    privacy = year.program.privacy.model_copy(update={"small_cell_threshold": free + 1})
    program = year.program.model_copy(update={"privacy": privacy})
    register = FigureRegister("Town", LABEL, "1")
    for name in ("bins_given", "bins_given_to_date"):
        register.add(figures[name])
    add_ledger(Writer(register, replace(year, program=program), CATALOGUE))
    for name in ("copayments_at_handover", "copayments_difference"):
        assert figures[name].value is not None
        assert (register[name].value, register[name].method) == (None, HIDDEN)
        assert register[name].inputs == ()


WITHOUT_A_LEDGER = ("copayments_at_handover", "program_cost_by_year", "net_value_to_come[")


def test_without_a_ledger_every_cost_says_why_it_is_not_there(year):
    empty = replace(
        year.counts,
        costs=year.counts.costs.clear(),
        costs_by_month=year.counts.costs_by_month.clear(),
    )
    register = register_year(replace(year, counts=empty, cost=ProgramCost(0.0, 0.0, 0)))
    costs = [f for f in register if f.id.startswith(("program_cost", "cost_per", "net_", "copay"))]
    assert len(costs) > 15
    for figure in costs:
        # what is to come does not ask what was spent
        if not figure.id.startswith(WITHOUT_A_LEDGER):
            assert figure.value is None, figure.id
            assert figure.method in map(in_english, (NO_LEDGER, NO_RATIO)), figure.id
    assert register["present_value_of_benefits[0.05]"].value > 0
    assert register["present_value_of_costs[0.05]"].value is None


@pytest.mark.thorough
def test_an_own_emission_factor_moves_the_result_and_is_named_as_own_under_it(sample):
    valdorra = sample("valdorra")
    own = OwnFactor(
        factor_id="food_degradable_carbon_share",
        value=0.075,
        unit="kg C per kg wet waste",
        source="Laboratory report 7 (invented)",
    )
    method = valdorra.program.method.model_copy(update={"draws_count": 100})
    program = valdorra.program.model_copy(update={"method": method})
    with open_store(valdorra.folder, read_only=True) as store:
        counts = count_year(store, program, "2025")
    published, replaced = (
        register_year(estimate_year(made, "2025", counts, read_factors()))
        for made in (program, program.model_copy(update={"factors": (own,)}))
    )
    name = "landfill_methane_avoided_100_years_t_co2e"
    # half of the published 0.15, and methane is in proportion to degradable carbon
    assert replaced[name].value == pytest.approx(published[name].value / 2.0)
    told = " ".join(explain(replaced, name).split())
    assert "Own figure of Mancomunidad de Valdorra (inventada): Laboratory report 7" in told
    assert "Own figure" not in " ".join(explain(published, name).split())
