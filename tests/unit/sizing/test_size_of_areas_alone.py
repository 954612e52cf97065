"""The whole of sizing on areas alone: laws that hold whatever the numbers, and words."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError, ProgramError
from planner.factors import read_factors
from planner.paths import TEMPLATES
from planner.program import BaselineScenario, read_program
from planner.program.sizing import FundingRound, ModelSupply, Prior, Sizing, SizingLimits
from planner.report.plan.figures import register_plan
from planner.sizing.allocation import MOST_TONNES, allocate
from planner.sizing.context import Evidence, Measured, SurveyedRoutes
from planner.sizing.frontier import bins_needed, chance_of
from planner.sizing.outcome import outcome_of, taken_in_central_draw
from planner.sizing.plan import without_money
from planner.sizing.settings import _round, choose_plan_year, settings_of
from planner.sizing.sizing import rule_steps, size
from planner.sizing.world import changed_world, make_world

TABLE = read_factors()
TEMPLATE = read_program(TEMPLATES / "program.toml")
LABEL = "2026-27"
START = dt.date(2026, 4, 1)
EMPTY = pl.DataFrame()


def evidence():
    households = pl.DataFrame(
        {
            "area_id": ["A", "A", "B", "B"],
            "area_name": ["North", "North", "South", "South"],
            "kerbside_service": ["residual_only"] * 4,
            "is_priority": [True, True, False, False],
            "area_residents_count": [2600, 2600, 4000, 4000],
            "dwelling": ["house", "apartment"] * 2,
            "households_count": [800, 300, 1200, 500],
            "registered_count": [0] * 4,
            "registered_in_year_count": [0] * 4,
            "served_count": [0] * 4,
            "registered_people_count": [0] * 4,
        }
    )
    return Evidence(
        from_date=START.replace(year=2025),
        before_date=START,
        households=households,
        registrations=pl.DataFrame(
            schema={"registered_month": pl.Date, "registered_count": pl.Int64}
        ),
        handovers=pl.DataFrame(
            schema={
                "area_id": pl.String,
                "dwelling": pl.String,
                "handover_month": pl.Date,
                "bins_given": pl.Int64,
                "households_begun": pl.Int64,
                "copayment": pl.Float64,
            }
        ),
        areas=pl.DataFrame({"bins_given_in_year": [0, 0]}),
        costs=pl.DataFrame(schema={"category": pl.String, "amount_in_year": pl.Float64}),
        turnout=EMPTY,
    )


def program(**sizing):
    return TEMPLATE.model_copy(update={"sizing": Sizing(draws_count=256, **sizing)})


@lru_cache(maxsize=8)
def sized(**sizing):
    own = program(**sizing)
    return size(own, TABLE, settings_of(own, LABEL), evidence(), None, None, lambda _: None)


def measured_at(share, feed, draws=200, feed_ratio=((1.0, 1.0, 1.0),) * 2):
    rng = np.random.default_rng(5)
    in_use = np.clip(share + 0.02 * rng.standard_normal((draws + 1, 3, 1)), 0.01, 0.99)
    in_use = np.concatenate([in_use**0.7, in_use, in_use**1.5], axis=2)
    in_use[0] = [share**0.7, share, share**1.5]
    full = feed * np.exp(0.05 * rng.standard_normal(draws + 1))
    full[0] = feed
    return Measured("2025-26", in_use, full, ("A", "B"), np.array(feed_ratio))


def test_the_plan_keeps_its_budget_and_gives_no_more_than_are_wanted():
    sizing = sized()
    main = sizing.main
    assert 0 < main.allocation.cost <= main.settings.budget - sizing.world.fixed_cost
    wanted = np.floor(sizing.world.demand[0] + 0.5)
    assert (main.allocation.bins_by_group.sum(axis=1).cumsum(axis=1) <= wanted).all()
    assert main.allocation.gap_share <= 1e-3


def test_households_take_no_more_than_is_planned_and_no_more_than_they_want():
    main, world = sized().main, sized().world
    given = main.outcome.bins_given
    assert (given <= main.allocation.bins_count + 1e-9).all()
    assert (given <= world.demand[:, :, -1].sum(axis=1) + 1e-9).all()
    taken = taken_in_central_draw(world, main.allocation.bins_by_group)
    assert taken.sum() == pytest.approx(given[0])


@pytest.mark.thorough
def test_twice_the_feed_believed_keeps_twice_as_much_out_when_worms_can_take_it():
    def tonnes(feed):
        prior = Prior(value=feed, low=feed, high=feed, shape="fixed")
        main = sized(priors=_frozen(feed_kg_per_week=prior)).main
        return main.outcome.kept_out_t[0] / main.outcome.bins_given[0]

    assert tonnes(0.02) == pytest.approx(2.0 * tonnes(0.01), rel=1e-6)


class _frozen(dict):  # noqa: N801 - a dictionary that lru_cache can hold
    def __hash__(self):
        return hash(tuple((key, str(value)) for key, value in sorted(self.items())))


def test_the_frontier_rises_and_each_further_tonne_costs_no_less_but_for_whole_bins():
    line = sized().frontier
    assert (np.diff(line.tonnes) > 0).all()
    assert (np.diff(line.cost) > 0).all()
    marginal = line.marginal_cost_per_t[1:]
    # whole bins make steps of some parts in a hundred
    assert (marginal[1:] >= 0.95 * marginal[:-1]).all()


def test_what_bins_do_does_not_depend_on_the_order_of_draws_and_is_the_same_again():
    again = sized.__wrapped__()
    np.testing.assert_array_equal(again.main.outcome.kept_out_t, sized().main.outcome.kept_out_t)


def test_shares_of_variance_lie_between_nothing_and_all():
    shares = sized().drivers
    assert (shares.total >= -0.02).all()
    assert (shares.first_order <= shares.total + 0.05).all()
    assert shares.first_order.sum(axis=0) == pytest.approx(1.0, abs=0.35)


def test_the_rule_of_thumb_stands_first_and_the_plan_last():
    steps = {step.name: step.tonnes for step in sized().steps}
    bins = sized().main.allocation.bins_count
    # handbook practice: bins x 0.75 x 1.0 kg x 52 x 0.50 x 0.83
    assert steps["rule"] == pytest.approx(bins * 0.75 * 52 * 0.5 * 0.83 / 1000)
    # 300,000 t over 2.0 million compost bins a year (hansard_2009)
    assert steps["compost_bin"] == pytest.approx(bins * 150.0 / 1000)
    first_year = sized().main.outcome.kept_out_t_by_year[0, 0]
    assert steps["first_year"] == pytest.approx(first_year)
    assert steps["first_year"] < steps["calendar"]


def test_each_step_of_the_walk_puts_a_mean_of_the_planned_bins_in_the_rule_s_place():
    steps = {step.name: step.tonnes for step in sized().steps}
    feed = sized().world.feed_kg_per_week[0]
    handbook = TABLE.find("fed_kg_per_household_week").value
    assert feed.min() <= steps["feed"] / steps["run_in"] * handbook <= feed.max()
    landfilled = sized().world.landfill_share
    rule = TABLE.find("new_composter_share").value * TABLE.find("residual_bin_share").value
    mean = steps["landfilled"] / steps["feed"] * rule
    assert landfilled.min() - 1e-9 <= mean <= landfilled.max() + 1e-9
    assert 0.0 < steps["in_use"] / steps["rule"] * 0.75 <= 1.0
    assert 0.0 < steps["run_in"] / steps["in_use"] <= 1.0


def test_the_walk_ends_at_a_whole_year_of_the_bins_that_the_plan_counts():
    # Bins handed over as the year begins are there for all of it: with one such round the
    # walk's last step but one must meet the plan's year by its own road, worms by worms.
    first = FundingRound(name="only", hand_over_month="2026-04")
    sizing = sized(rounds=(first,))
    steps = {s.name: s.tonnes for s in sizing.steps}
    taken_share = sizing.main.outcome.bins_given[0] / sizing.main.allocation.bins_count
    assert steps["first_year"] == pytest.approx(taken_share * steps["calendar"], rel=0.01)
    assert steps["kept_out"] < steps["landfilled"]
    # given on even days of its month, a bin is there for half of it and eleven whole ones
    weeks = 11.5 / 12 * 365.25 / 7
    assert steps["calendar"] / steps["kept_out"] == pytest.approx(weeks / 52, rel=0.002)


@pytest.mark.thorough
def test_making_is_charged_in_full_when_a_bin_is_acquired_whatever_the_horizon():
    # the usual treatment of capital goods, GHG Protocol Scope 3 Standard, category 2 (from
    # memory); the same account as in the report
    for years in (1, 5):
        sizing = sized(horizon_years=years)
        outcome, world = sizing.main.outcome, sizing.world
        bins = sizing.main.allocation.bins_by_group.sum(axis=(0, 2))
        made = world.rates.making_kg_co2e @ bins / 1000
        methane = outcome.kept_out_t * world.rates.avoided_kg_co2e_per_t / 1000
        gases = outcome.fed_t * world.rates.bin_gases_kg_co2e_per_t / 1000
        assert outcome.net_t_co2e == pytest.approx(methane - gases - made)


def test_scenarios_are_compared_on_the_same_draws():
    sizing = sized()
    by_name = {one.name: one.plan for one in sizing.scenarios}
    dearer = by_name["A bin a quarter dearer"]
    difference = dearer.outcome.kept_out_t - sizing.main.outcome.kept_out_t
    apart = np.sqrt(dearer.outcome.kept_out_t[1:].var() + sizing.main.outcome.kept_out_t[1:].var())
    assert difference[1:].std() < 0.5 * apart

    def world_of(name):
        changed = by_name[name].settings
        given = sizing.context, sizing.draws, sizing.main.settings, sizing.world, changed
        return changed_world(*given)

    assert (world_of("A bin a quarter dearer").demand == sizing.world.demand).all()
    weeks = world_of("Fewer bins, with workshops").bins[0][0].in_use_weeks
    assert (weeks >= sizing.world.bins[0][0].in_use_weeks - 1e-12).all()


def with_stated(*stated, **sizing):
    """Work a plan's same bins out again, on the same draws, with dated changes stated."""
    before = sized(**sizing)
    own = before.program.model_copy(update={"scenarios": stated})
    context = replace(before.context, program=own)
    main = before.main
    world = make_world(context, main.settings, before.draws)
    after = outcome_of(context, main.settings, world, main.allocation.bins_by_group)
    return before, replace(before, program=own), after


def collection(begins, share=0.5, areas=()):
    return BaselineScenario(
        name="Food collection", begins=begins, areas=areas, leaves_residual_bin_share=share
    )


def test_a_stated_change_after_the_horizon_changes_nothing():
    before, _, after = with_stated(collection(dt.date(2031, 4, 1)))
    assert before.main.settings.months[-1] < dt.date(2031, 4, 1)
    np.testing.assert_array_equal(
        after.kept_out_t_by_month, before.main.outcome.kept_out_t_by_month
    )
    np.testing.assert_array_equal(after.net_t_co2e, before.main.outcome.net_t_co2e)


def test_a_collection_that_halves_the_residual_route_halves_the_tonnes_from_then_on():
    nothing = Prior(value=0.0, low=0.0, high=0.0, shape="fixed")
    begins = dt.date(2028, 4, 1)
    before, _, after = with_stated(
        collection(begins), priors=_frozen(contents_binned_share=nothing)
    )
    months = np.array([month >= begins for month in before.main.settings.months])
    was = before.main.outcome.kept_out_t_by_month
    assert after.kept_out_t_by_month[:, months] == pytest.approx(0.5 * was[:, months])
    assert after.kept_out_t_by_month[:, ~months] == pytest.approx(was[:, ~months])
    # what the bins take, and what it costs to give them, is as it was
    assert after.fed_t == pytest.approx(before.main.outcome.fed_t)
    assert after.cost == pytest.approx(before.main.outcome.cost)


def test_a_collection_in_one_area_leaves_the_others_alone():
    of_a = with_stated(collection(START, 1.0, ("A",)))[2].kept_out_t
    of_b = with_stated(collection(START, 1.0, ("B",)))[2].kept_out_t
    before, _, after = with_stated(collection(START, 1.0))
    of_both, whole = after.kept_out_t, before.main.outcome.kept_out_t
    assert (of_both <= of_a + 1e-12).all()
    assert (of_a < whole).any()
    # what A loses and what B loses is what both lose
    assert (whole - of_a) + (whole - of_b) == pytest.approx(whole - of_both)


def test_a_levy_step_is_paid_from_the_year_it_begins_in_prices_of_the_first():
    step = BaselineScenario(name="Step", begins=dt.date(2028, 4, 1), landfill_levy_per_t=200.0)
    _, sizing, _ = with_stated(step)
    inflation = 0.025
    money = sizing.program.money.model_copy(update={"inflation_share": inflation})
    sizing = replace(sizing, program=sizing.program.model_copy(update={"money": money}))
    register = register_plan(sizing, evidence())
    tonnes = sizing.main.outcome.kept_out_t_by_year[0]
    # by hand: the levy is stated as it will be paid, so two years of inflation come off it, and
    # it keeps its worth after; the template's levy and gate fee hold before
    stepped = (200.0 + 35.0) / (1 + inflation) ** 2
    prices = [130.75 + 35.0] * 2 + [stepped] * 3
    worth = sum(t * p / 1.035**n for n, (t, p) in enumerate(zip(tonnes, prices, strict=True)))
    expected = worth - sizing.main.outcome.cost[0]
    assert register["plan_net_present_value[0.035]"].value == pytest.approx(expected, rel=1e-9)
    plain = register_plan(sized(), evidence())["plan_net_present_value[0.035]"].value
    assert expected > plain


def test_savings_price_changes_cost_support_and_discounting_add_up_to_what_the_plan_is_worth():
    sizing = sized()
    stated = {"inflation_share": 0.02, "price_rise_share": 0.03, "support_cost_per_bin_year": 4.0}
    money = sizing.program.money.model_copy(update=stated)
    program = sizing.program.model_copy(update={"money": money})
    register = register_plan(replace(sizing, program=program), evidence())
    value = {figure.id: figure.value for figure in register}
    tonnes = sizing.main.outcome.kept_out_t_by_year[0]
    # by hand, with the template's levy and gate fee: each year's tonnes at a price that rises
    rises = [1.03**n - 1.0 for n in range(len(tonnes))]
    changes = sum(t * (130.75 + 35.0) * rise for t, rise in zip(tonnes, rises, strict=True))
    assert value["plan_price_changes"] == pytest.approx(changes, rel=1e-9)
    years = sizing.main.outcome.in_use_weeks_by_month[0].sum() * 7.0 / 365.25
    assert value["plan_support_cost"] == pytest.approx(4.0 * years, rel=1e-9)
    undiscounted = (
        value["plan_avoided_disposal_cost"]
        + value["plan_price_changes"]
        - value["plan_cost"]
        - value["plan_support_cost"]
    )
    rates = register.parts("plan_net_present_value")
    assert len(rates) > 1
    for rate in rates:
        worth = undiscounted - value[f"plan_discounting[{rate}]"]
        assert value[f"plan_net_present_value[{rate}]"] == pytest.approx(worth, rel=1e-9)


def test_the_chance_of_a_target_falls_as_it_rises_and_bins_needed_reach_it():
    sizing = sized(target_t=1.0, target_confidence=0.7)
    main, needed = sizing.main, sizing.needed
    assert needed.bins_count is not None
    assert needed.chance >= 0.7
    chances = [chance_of(main.year_t[:, 0], target) for target in (0.3, 1.0, 4.0)]
    assert chances == sorted(chances, reverse=True)

    def tonnes_of(found):
        outcome = outcome_of(sizing.context, main.settings, sizing.world, found.bins_by_group)
        return outcome.kept_out_t_by_year[:, 0]

    fewer = bins_needed(without_money(main.problem), tonnes_of, 0.5, 0.7)
    assert fewer.bins_count < needed.bins_count


def test_a_target_out_of_reach_has_no_number_of_bins_and_tells_its_best_chance():
    needed = sized(target_t=500.0).needed
    assert needed.bins_count is None
    assert needed.chance < 0.01


def test_the_least_cost_plan_reaches_the_target_and_costs_less_than_the_budget():
    main = sized(objective="least_cost", target_t=1.5, target_year=2).main
    expected = main.outcome.kept_out_t_by_year[1:, 1].mean()
    planned = float(main.problem.choices.target_tonnes @ main.allocation.bins)
    assert planned >= 1.5 - 1e-6
    assert planned == pytest.approx(1.5, rel=0.05)
    # where households want fewer bins than planned, less is reached
    assert expected <= planned + 1e-9
    assert main.allocation.cost < main.settings.budget


def test_least_cost_without_a_target_asks_for_one():
    years = [
        year.model_copy(update={"kept_out_of_landfill_t_target": None})
        for year in TEMPLATE.reporting_years
    ]
    own = program(objective="least_cost").model_copy(update={"reporting_years": tuple(years)})
    with pytest.raises(ProgramError, match="wants a target"):
        size(own, TABLE, settings_of(own, LABEL), evidence(), None, None, lambda _: None)


def test_a_floor_that_flats_cannot_fill_names_both_and_the_change():
    with pytest.raises(EstimateError) as told:
        sized(limits=SizingLimits(apartments_least_bins=500))
    message = str(told.value)
    assert "at least 500 bins are to go to flats" in message
    assert "households in flats are expected to want a bin" in message
    assert "sizing.limits.apartments_least_bins" in message
    assert "budget" not in message


def test_floors_maxima_and_rounds_are_kept():
    limits = SizingLimits(
        priority_least_share=0.6, bins_most_per_area=40, households_most_share_per_area=0.05
    )
    rounds = (
        FundingRound(name="Spring", hand_over_month="05", budget=1500.0, hand_over_places=30),
        FundingRound(name="Autumn", hand_over_month="10", budget=3000.0),
    )
    main = sized(limits=limits, rounds=rounds).main
    bins = main.allocation.bins_by_group
    areas = np.array([bins[:2].sum(), bins[2:].sum()])
    assert areas[0] >= 0.6 * bins.sum() - 1e-9
    assert (areas <= 40).all()
    assert bins[:, :, 0].sum() <= 30
    price = float(main.problem.choices.cost[0])
    # a share that cannot be kept is judged against the bins that the whole budget buys
    afforded = main.settings.budget / main.problem.choices.cost.min()
    (floor,) = (one for one in main.problem.limits if one.name == "priority_least_share")
    assert floor.scale == pytest.approx(afforded)
    assert bins[:, :, 0].sum() * price <= 1500.0 + 1e-6
    assert bins.sum() * price <= 4500.0 + 1e-6


def test_a_model_goes_only_where_it_suits_and_no_further_than_its_stock():
    supply = (ModelSupply(model_id="two_tray", stock_count=25, dwellings=("house",)),)
    bins = sized(models=supply).main.allocation.bins_by_group
    assert bins.sum() == 25
    assert bins[[1, 3]].sum() == 0


def test_an_unknown_model_month_or_number_is_told():
    for own, words in (
        ({"models": (ModelSupply(model_id="tube"),)}, "model_id 'tube'"),
        ({"rounds": (FundingRound(name="Late", hand_over_month="2031-05"),)}, "runs from 2026-04"),
        (
            {
                "rounds": (
                    FundingRound(name="A", hand_over_month="10"),
                    FundingRound(name="B", hand_over_month="05"),
                )
            },
            "rise from round to round",
        ),
    ):
        with pytest.raises(ProgramError, match=words):
            settings_of(program(**own), LABEL)
    prior = Prior(value=1.0, low=0.5, high=2.0)
    with pytest.raises(ProgramError, match="Did you mean feed_kg_per_week"):
        sized(priors=_frozen(feed_kg_week=prior))


def test_the_year_after_the_newest_record_is_planned():
    assert choose_plan_year(TEMPLATE, None, None) == LABEL
    assert choose_plan_year(TEMPLATE, None, dt.date(2027, 3, 31)) == "2027-28"
    assert choose_plan_year(TEMPLATE, "2029/30", None) == "2029-30"
    with pytest.raises(ProgramError, match="written like"):
        choose_plan_year(TEMPLATE, "2029-31", None)
    assert "no [[reporting_years]] block" in settings_of(program(), "2029-30").notes[0]


def test_measuring_moves_beliefs_towards_what_was_measured_and_makes_them_surer():
    own = program()
    routes = SurveyedRoutes(("A", "B"), np.full((201, 2, 3), 0.4), 500)
    learnt = size(
        own,
        TABLE,
        settings_of(own, LABEL),
        evidence(),
        measured_at(0.85, 1.6),
        routes,
        lambda _: None,
    )
    before = sized()
    for name, value in (("in_use_12_months_share_house", 0.85), ("feed_kg_per_week", 1.6)):
        prior, posterior = before.inputs.belief(name), learnt.inputs.belief(name)
        assert prior.value < posterior.value < value
        assert posterior.high - posterior.low < 0.6 * (prior.high - prior.low)
    landfilled = TEMPLATE.landfill.landfilled_share_of_residual_waste
    assert learnt.world.landfill_share == pytest.approx(0.4 * landfilled)
    names = {one.name for one in learnt.inputs.learned}
    assert {"in_use_12_months_share_apartment", "retention_shape", "feed_kg_per_week"} <= names


@pytest.mark.thorough
def test_a_plan_learns_from_an_areas_and_a_dwellings_own_answers():
    own = program()
    routes = SurveyedRoutes(("A", "B"), np.full((201, 2, 3), 0.4), 500)

    def feed(feed_ratio):
        measured = measured_at(0.7, 1.0, feed_ratio=feed_ratio)
        found = size(
            own, TABLE, settings_of(own, LABEL), evidence(), measured, routes, lambda _: None
        ).world
        return found.feed_kg_per_week[0]

    alike = feed(((1.0, 1.0, 1.0), (1.0, 1.0, 1.0)))
    # groups: houses and flats of A, houses and flats of B
    differing = feed(((1.2, 1.0, 0.6), (0.9, 1.0, 0.45)))
    assert differing / alike == pytest.approx([1.2, 0.6, 0.9, 0.45])


def test_a_plan_rests_on_no_hidden_area_alone():
    shares = np.array([[[0.2] * 3, [0.5] * 3, [0.7] * 3, [0.9] * 3]])
    routes = SurveyedRoutes(("A", "B", "C", "D"), shares, 100)
    areas = pl.DataFrame(
        {
            "area_id": ["A", "B", "C", "D"],
            "kerbside_service": ["food_and_garden_organics", *["residual_only"] * 3],
        }
    )
    hidden = routes.without({"B"}, areas).residual_bin_share[0, :, 0]
    assert hidden == pytest.approx([0.2, 0.8, 0.7, 0.9])
    alone = routes.without({"A"}, areas).residual_bin_share[0, :, 0]
    assert alone == pytest.approx([0.7, 0.5, 0.7, 0.9])


def test_interest_that_was_surveyed_replaces_what_was_assumed():
    from planner.program.sizing import SurveyedInterest

    asked = SurveyedInterest(dwelling="house", asked_count=400, interested_count=40)
    told = sized(interest=(asked,)).inputs
    posterior = told.belief("interest_share_house")
    (one,) = told.learned
    alpha, beta = posterior.alpha, posterior.beta
    prior = sized().inputs.belief("interest_share_house")
    assert (alpha, beta) == pytest.approx((prior.alpha + 40.0, prior.beta + 360.0))
    assert one.effective_size == 400.0


def test_the_same_plan_in_whole_bins_is_within_its_gap_of_split_bins():
    from planner.sizing.allocation import allocate_split

    problem = sized().main.problem
    whole, parts = allocate(problem, MOST_TONNES), allocate_split(problem, MOST_TONNES)
    largest = problem.choices.tonnes.max()
    assert parts.tonnes - 2 * largest <= whole.tonnes <= parts.tonnes + 1e-9


def test_without_bins_planned_nothing_is_taken_or_spent_beyond_the_fixed_cost():
    sizing = sized(target_t=1.0)
    none = np.zeros_like(sizing.main.allocation.bins_by_group)
    outcome = outcome_of(sizing.context, sizing.main.settings, sizing.world, none)
    assert not outcome.kept_out_t_by_month.any()
    assert (outcome.cost == sizing.world.fixed_cost).all()
    steps = rule_steps(TABLE, sizing.context, sizing.world, outcome, none)
    assert {step.tonnes for step in steps} == {0.0}
    assert replace(sizing, main=sizing.main).chance is not None


def test_a_plan_for_emissions_avoids_no_less_and_keeps_no_more_out_than_one_for_tonnes():
    tonnes, emissions = (
        sized().main.allocation,
        sized(objective="most_net_emissions").main.allocation,
    )
    assert emissions.net_t_co2e >= tonnes.net_t_co2e * (1.0 - 1e-3)
    assert emissions.tonnes <= tonnes.tonnes * (1.0 + 1e-3)


def test_a_round_outside_the_year_is_refused_with_the_years_first_and_last_month():
    months = [dt.date(2026 + n // 12, n % 12 + 1, 1) for n in range(2, 26)]
    late = FundingRound(name="late", hand_over_month="2027-04")
    with pytest.raises(ProgramError, match=r"2026-03.*2027-02"):
        _round(late, months)
    assert _round(FundingRound(name="in", hand_over_month="2027-02"), months).month == months[11]
