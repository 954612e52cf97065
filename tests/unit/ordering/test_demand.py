"""Quantities of a whole plan: what the levels of service, breakage and holding ask for."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from planner.ordering import assembling, steps
from planner.ordering.demand import Events, live_show_ups, plan_demand, sent_kg_by_law
from planner.ordering.spares import enough_probability, schedule
from planner.program.ordering import Ordering
from planner.worms.transit import LossLaw, loss_law

NOTHING_LOST = LossLaw(0.0, 0.0, 0.0, 0, 0.0)


def events(*booked):
    days = [dt.date(2026, 5, 2) + dt.timedelta(days=14 * n) for n in range(len(booked))]
    names = tuple(f"E{n}" for n in range(len(booked)))
    return Events(names, tuple(days), names, np.array(booked))


def bins_for(**settings):
    found = plan_demand(events(60, 60), {"m": 1.0}, {}, Ordering(**settings))
    return found.bins["m"].bought_count.tolist()


def test_a_faulty_bin_is_as_useless_as_a_broken_one():
    broken = bins_for(broken_share=0.2, faulty_share=0.0)
    faulty = bins_for(broken_share=0.0, faulty_share=0.2)
    neither = bins_for(broken_share=0.0, faulty_share=0.0)
    assert broken == faulty
    assert all(more > less for more, less in zip(faulty, neither, strict=True))


def test_broken_and_faulty_are_independent():
    both = plan_demand(
        events(60), {"m": 1.0}, {}, Ordering(broken_share=0.1, faulty_share=0.2)
    ).bins["m"]
    pmf = np.zeros(61)
    pmf[51] = 1.0
    # 0.9 x 0.8 of the bins are usable
    assert enough_probability(int(both.bought_count[0]), 0.72, pmf) > 0.9


def test_the_chance_of_any_shortage_is_shared_equally_among_all_items():
    # two models, worms and bedding: Bonferroni's bound gives each a quarter of the chance
    shares = {"a": 0.5, "b": 0.5}
    settings = Ordering(event_service_level=0.5, overall_service_level=0.8)
    booked = [40, 50, 60]
    found = plan_demand(events(*booked), shares, {}, settings)
    expected = schedule(booked, 0.85 * 0.5, 0.0, 0.98 * 0.99, 0.5, 1.0 - 0.2 / 4)
    for one in found.bins.values():
        assert one.bought_count.tolist() == expected.bought_count.tolist()
    assert found.worms_level.prod() >= 1.0 - 0.2 / 4


@pytest.mark.parametrize("days", [0, 1, 3])
def test_each_day_of_holding_costs_its_share_of_the_living(days):
    settings = Ordering(holding_loss_share_per_day=0.1, show_up_share=1.0)
    sent = sent_kg_by_law(20, 0.95, settings, 0.5, NOTHING_LOST, [15.0], days)
    assert sent == pytest.approx(20 * 0.5 / 0.9**days, rel=1e-6)


def test_the_hottest_way_costs_most():
    settings = Ordering(holding_loss_share_per_day=0.0, show_up_share=1.0)
    law = LossLaw(0.05, 5.0, 95.0, 0, 0.0)
    mild, hot = (
        sent_kg_by_law(20, 0.95, settings, 0.5, law, [warmest], 0) for warmest in (15.0, 30.0)
    )
    assert hot > mild > 10.0


def test_twenty_events_of_twenty_five_have_worms_as_surely_as_asked_and_hardly_surer():
    booked, starter = np.full(20, 25), 0.25
    settings = Ordering(holding_loss_share_per_day=0.0)
    _, levels = live_show_ups(booked, 0.85, 0.5, 0.9)
    law = loss_law(0.02)
    sent = sent_kg_by_law(25, float(levels[0]), settings, starter, law, [15.0], 0)
    rng = np.random.default_rng(5)
    lost = rng.beta(law.alpha, law.beta, (40_000, 20))
    came = rng.binomial(25, 0.85, (40_000, 20))
    enough = np.all(came <= np.floor(sent * (1.0 - lost) / starter + 1e-9), axis=1).mean()
    assert 0.89 < enough < 0.93
    # all who booked, and no more losses than nine deliveries in ten have
    assert sent < 25 * starter / (1.0 - stats.beta.ppf(0.95, law.alpha, law.beta))


def test_a_lower_level_never_costs_more_than_a_higher_one_whose_plan_serves_it(monkeypatch):
    # searches end within a gap of the least, and may cross: 120 for the lower level
    found = {0.8: 120.0, 0.95: 130.0}
    monkeypatch.setattr(
        steps, "try_solving", lambda level, _: (SimpleNamespace(cost=found[level]), True)
    )
    made = SimpleNamespace(settings=Ordering(), solution=SimpleNamespace(cost=100.0), clashes=None)
    costs = steps.costs_by_level(
        made,
        lambda settings: SimpleNamespace(problem=settings.overall_service_level),
        SimpleNamespace(alternatives_effort=None),
    )
    assert [(one.overall_level, one.cost) for one in costs] == [
        (0.8, 100.0), (0.9, 100.0), (0.95, 130.0),
    ]  # fmt: skip


def test_worms_are_sent_at_the_level_asked_for_less_what_a_last_bit_may_miss(monkeypatch):
    asked = []

    def sent(booked, level, *_):
        asked.append((booked, level))
        return 3.0

    monkeypatch.setattr(assembling, "sent_kg_by_law", sent)
    demand = SimpleNamespace(
        events=events(20, 30), show_ups_count=np.array([18.0, 27.0]),
        worms_level=np.array([0.9, 0.95]),
    )  # fmt: skip
    slots = SimpleNamespace(
        live_slots=[[], [(0, 2)]], slots=[SimpleNamespace(supplier_id="W")], warmest_c=[20.0]
    )
    need = assembling._live(1, demand, slots, {"W": None}, 0.0, Ordering(), 0.25)
    assert asked == [(30, pytest.approx(0.95, abs=1e-6))]
    assert asked[0][1] < 0.95
    assert need.needed_kg == pytest.approx(27 * 0.25)
    # a third is in store: as much less is sent
    part = assembling._live(1, demand, slots, {"W": None}, 27 * 0.25 / 3, Ordering(), 0.25)
    assert part.sent_kg.tolist() == pytest.approx([2.0])
