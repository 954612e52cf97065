"""What a plan believes after a survey: moments worked by hand, and products of beliefs."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from planner.diversion.leakage import ANYWAY, THROWN_AWAY, Leakage
from planner.program.sizing import Sizing, SurveyedInterest
from planner.sizing.beliefs import beta_belief
from planner.sizing.context import AGES_MONTHS, Measured, measured_of, read_evidence
from planner.sizing.groups import groups_of
from planner.sizing.inputs import _interest, _leakage, inputs_of
from planner.sizing.learning import as_beta, priors_of
from planner.tables import DWELLINGS
from tests.unit.diversion.test_areas import diversion
from tests.unit.sizing.test_size_of_areas_alone import TABLE, TEMPLATE, evidence

DRAWS, SHAPE, SCALE_MONTHS = 400, 0.7, 60.0
KNOWN = priors_of({}, TABLE)


def spread(value, deviation):
    """Draws about a value whose standard deviation is this one; the value itself first."""
    steps = np.linspace(-1.0, 1.0, DRAWS)
    return np.concatenate([[value], value + steps / steps.std() * deviation])


def measured(deviation=0.01):
    """Bins stop by a Weibull law; both leaks, and feed, are known to a deviation."""
    ages = np.array([6.0, 12.0, 24.0])
    kept = np.exp(-((ages / SCALE_MONTHS) ** SHAPE))
    in_use = np.stack([spread(share, deviation) for share in kept], axis=1)
    answers = {ANYWAY: 50, THROWN_AWAY: 60}
    leaks = Leakage(spread(0.2, 0.04), spread(0.1, 0.02), answers)
    feed = np.exp(spread(np.log(1.5), 0.1))
    shares = np.repeat(in_use[:, None, :], len(DWELLINGS), axis=1)
    return Measured("2025-26", shares, feed, ("A", "B"), np.ones((2, 3)), leaks)


def believed(sizing=None, registered=0, seen=None):
    """List the inputs of the template's plan with these settings and this survey."""
    program = TEMPLATE.model_copy(update={"sizing": sizing or Sizing(last_year_weight=1.0)})
    households = evidence().households.with_columns(registered_in_year_count=registered)
    groups = groups_of(households, dict.fromkeys(DWELLINGS, 1.0), 2.5)
    return inputs_of(program, TABLE, groups, evidence(), seen, None)


def moments_of_beta(belief):
    """Mean and variance of a beta distribution by its parameters."""
    size = belief.alpha + belief.beta
    mean = belief.alpha / size
    return mean, mean * (1.0 - mean) / (size + 1.0)


@pytest.mark.parametrize(
    ("name", "share", "deviation"), [(ANYWAY, 0.2, 0.04), (THROWN_AWAY, 0.1, 0.02)]
)
def test_answers_to_a_leak_take_the_place_of_the_assumption(name, share, deviation):
    mean, variance = moments_of_beta(believed(seen=measured()).belief(name))
    size = share * (1.0 - share) / deviation**2
    assert mean == pytest.approx(share)
    assert variance == pytest.approx(share * (1.0 - share) / (size + 1.0), rel=1e-6)


def test_a_stated_leak_is_certain_whatever_was_answered():
    sizing = Sizing(last_year_weight=1.0)
    leakage = TEMPLATE.leakage.model_copy(update={THROWN_AWAY: 0.05})
    program = TEMPLATE.model_copy(update={"sizing": sizing, "leakage": leakage})
    groups = groups_of(evidence().households, dict.fromkeys(DWELLINGS, 1.0), 2.5)
    found = inputs_of(program, TABLE, groups, evidence(), measured(), None).belief(THROWN_AWAY)
    assert (found.low, found.value, found.high) == (0.05, 0.05, 0.05)


def test_a_share_in_use_is_the_mean_of_belief_and_answers_by_what_each_is_worth():
    prior = as_beta(KNOWN["in_use_12_months_share_house"])
    share = float(np.exp(-((12.0 / SCALE_MONTHS) ** SHAPE)))
    size = share * (1.0 - share) / 0.03**2
    for weight in (1.0, 0.25):
        found = believed(Sizing(last_year_weight=weight), seen=measured(0.03))
        after = found.belief("in_use_12_months_share_house")
        counted = weight * size
        wanted = (prior.alpha + counted * share) / (prior.alpha + prior.beta + counted)
        assert after.value == pytest.approx(wanted, rel=1e-6)


def test_a_plan_takes_from_a_year_what_was_kept_after_the_ages_of_the_planning_shares():
    """Bins that stop at a constant hazard of one a year: exp(-1/2), exp(-1), exp(-2) are kept."""
    year = diversion()
    curve = SimpleNamespace(in_use_share=lambda age: np.exp(-age / 12.0)[None, :])
    year.estimates = SimpleNamespace(
        retained=SimpleNamespace(curves=[curve] * len(DWELLINGS)),
        pooled_kg_per_in_use_bin_week=np.array([1.5]),
        kg_per_in_use_bin_week=np.array([[1.5, 3.0, 0.75]]),
    )
    year.benchmark, year.leakage = SimpleNamespace(last_level_over_year=0.8), None
    year.still_held_share = np.full((2, 1), 0.9)
    found = measured_of(year, "2025-26")
    assert found.in_use_share == pytest.approx(np.exp(np.full((1, 3, 3), [-0.5, -1.0, -2.0])))
    assert found.full_feed_kg_per_week == pytest.approx([1.2])
    assert found.still_held_share == 0.9
    # no area differs: each is fed as its dwelling's mean is, over that of all
    assert found.feed_ratio == pytest.approx(np.tile([1.0, 2.0, 0.5], (4, 1)))
    # of an area that is hidden the town's alone is learnt
    hidden = measured_of(year, "2025-26", year.cohorts.area_ids[:1])
    assert hidden.feed_ratio == pytest.approx(np.tile([1.0, 2.0, 0.5], (4, 1)))


def test_a_sharp_survey_tells_the_shape_of_the_weibull_curve_through_6_and_24_months():
    assert f"in_use_{AGES_MONTHS[1]:.0f}_months_share_house" in KNOWN
    # the curve is read at the ages for which planning shares are published
    for age in AGES_MONTHS:
        assert TABLE.find("in_use_share", f"after_{age:.0f}_months").value > 0.0
    found = believed(seen=measured(1e-5)).belief("retention_shape")
    assert found.value == pytest.approx(SHAPE, rel=1e-3)


@pytest.mark.parametrize("share", [1.0, 1.0 - 1e-9, 0.0])
def test_where_all_keep_their_bin_or_none_any_shape_of_the_curve_does(share):
    seen = measured()
    seen = dataclasses.replace(seen, in_use_share=np.full_like(seen.in_use_share, share))
    assert believed(seen=seen).belief("retention_shape") == KNOWN["retention_shape"]


def test_the_feed_is_updated_by_precision_on_the_log_scale():
    prior = KNOWN["feed_kg_per_week"]
    logs = np.log(prior.quantile((np.arange(100_000) + 0.5) / 100_000))
    before, seen = 1.0 / logs.var(), 1.0 / 0.1**2
    found = believed(seen=measured()).belief("feed_kg_per_week")
    mean = (before * logs.mean() + seen * np.log(1.5)) / (before + seen)
    assert np.log(found.value) == pytest.approx(mean, abs=2e-3)
    # 95% of a normal distribution lies within 1.96 standard deviations
    width = np.log(found.high / found.low) / (2.0 * 1.959964)
    assert width == pytest.approx((before + seen) ** -0.5, rel=5e-3)


def test_interest_that_was_asked_adds_its_answers_over_the_design_effect():
    asked = SurveyedInterest(
        dwelling="house", asked_count=100, interested_count=30, design_effect=2.0
    )
    prior = as_beta(KNOWN["interest_share_house"])
    found = believed(Sizing(interest=(asked,))).belief("interest_share_house")
    assert (found.alpha - prior.alpha, found.beta - prior.beta) == pytest.approx((15.0, 35.0))


def test_take_up_before_any_register_has_the_moments_of_interest_times_doing():
    # products of independent draws; a register that counts nothing leaves them
    found = believed(Sizing(last_year_weight=1e-9), registered=40)
    assert found.uses_take_up
    rng = np.random.default_rng(5)
    interest, doing = (
        one.quantile(rng.random(200_000))
        for one in (as_beta(KNOWN["interest_share_house"]), KNOWN["doing_over_saying_share"])
    )
    mean, variance = moments_of_beta(found.belief("take_up_share_house"))
    assert mean == pytest.approx((interest * doing).mean(), rel=5e-3)
    assert variance == pytest.approx((interest * doing).var(), rel=2e-2)


def test_learning_from_a_register_moves_take_up_towards_what_registered():
    shares = [believed(registered=count).belief("take_up_share_house").value for count in (40, 400)]
    assert shares[0] < shares[1]
    # four groups of seven make fewer than the thirty from which a register is believed
    assert not believed(registered=7).uses_take_up
    assert believed(registered=8).uses_take_up


def test_a_leak_that_nobody_or_everybody_told_of_keeps_its_assumption():
    """A share of 0 or 1 has no variance to tell how far it can be trusted."""
    prior = beta_belief(THROWN_AWAY, "", "", (2.0, 18.0), "")
    anyway = replace(prior, name=ANYWAY)
    program = SimpleNamespace(leakage=SimpleNamespace(model_dump=lambda **_: {}))

    def believed(share):
        draws = np.full(5, share) + np.array([0.0, 0.01, -0.01, 0.01, -0.01])
        leaks = SimpleNamespace(
            composted_anyway_share=None, thrown_away_share=draws, is_surveyed=lambda _: True
        )
        learned = []
        measured = SimpleNamespace(leakage=leaks)
        known = {ANYWAY: anyway, THROWN_AWAY: prior}
        return _leakage(known, program, measured, learned)[1], learned

    for share in (0.0, 1.0):
        assert believed(share) == (prior, [])
    belief, learned = believed(0.3)
    # p (1 - p) / V answers, and no more: the assumption is nobody's measurement
    assert belief.alpha + belief.beta == pytest.approx(0.3 * 0.7 / 1e-4)
    assert belief.value == pytest.approx(0.3)
    assert len(learned) == 1


def test_those_asked_count_as_many_as_a_simple_sample_that_knows_as_much():
    """100 asked with a design effect of 1.6 are 62.5 answers; 30 in 100 were interested."""
    prior = KNOWN["interest_share_house"]
    survey = SurveyedInterest(
        dwelling="house", asked_count=100, interested_count=30, design_effect=1.6
    )
    learned = []
    found = _interest(prior, "house", Sizing(interest=(survey,)), learned)
    believed_before = as_beta(prior)
    assert found.alpha - believed_before.alpha == pytest.approx(62.5 * 0.3)
    assert found.beta - believed_before.beta == pytest.approx(62.5 * 0.7)
    assert len(learned) == 1
    assert _interest(prior, "apartment", Sizing(interest=(survey,)), []) == believed_before


def test_a_plan_rests_on_the_year_before_it_and_on_all_bins_so_far():
    asked = {}

    def query(name, **days):
        asked[name] = days
        return name

    start = dt.date(2026, 7, 1)
    found = read_evidence(SimpleNamespace(query=query), start)
    assert (found.from_date, found.before_date) == (dt.date(2025, 7, 1), start)
    year = {"from_date": dt.date(2025, 7, 1), "before_date": start}
    of_year = {"households_by_group", "registrations_by_month", "bins_by_area", "costs_by_category"}
    assert {name for name, days in asked.items() if days == year} == of_year
    assert {name for name, days in asked.items() if days == {"before_date": start}} == {
        *("handovers_by_month", "turnout_by_event"),
    }
