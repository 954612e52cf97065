"""The hazard of stopping, against hazards from which answers were simulated."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.field.dropout import (
    FOLDS,
    LEAST_STOPPED,
    _folds,
    _held_out_hazard,
    _judge,
    _lift,
    _weights,
    exact_interval,
    fit_dropout,
)
from planner.field.stopping import (
    LEVEL_SPREAD,
    Spells,
    _climb,
    _evidence,
    _usual,
    exposure_months,
)
from planner.units import DAYS_PER_MONTH


def simulated(count, ratio, rng, *, rate=0.03, never=0.05):
    """Households asked once, at some age; apartments stop `ratio` times as fast as houses."""
    is_flat = rng.random(count) < 0.5
    age = rng.uniform(2.0, 20.0, count)
    hazard = rate * np.where(is_flat, ratio, 1.0)
    stop_age = np.where(rng.random(count) < never, 0.0, rng.exponential(1.0 / hazard))
    ended = rng.random(count) < 0.6
    return pl.DataFrame(
        {
            "household_id": [f"H{number}" for number in range(count)],
            "area_id": rng.choice(["A", "B", "C"], count),
            "dwelling": np.where(is_flat, "apartment", "house"),
            "people": rng.choice(["1", "2", "3"], count),
            "channel": "online",
            "model_id": "two_tray",
            "reported_state": "hand-over",
            "reported_feed": "not told",
            "has_complained": False,
            "is_reached": False,
            "is_taught": False,
            "start_age_days": np.zeros(count, dtype=np.int64),
            "end_age_days": np.rint(age * DAYS_PER_MONTH).astype(np.int64),
            "has_stopped": stop_age < age,
            "ends_by_giveback": False,
            "is_flat": is_flat,
        }
    ).with_columns(has_stopped=pl.when(pl.Series(ended)).then("has_stopped"))


@pytest.fixture(scope="module")
def strong():
    """Fit to answers in which apartments stop four times as fast."""
    spells = simulated(2400, 4.0, np.random.default_rng(11))
    return spells, fit_dropout(spells, np.random.default_rng(1))


def log_hazards(strong):
    """Mean log of the hazard of the next year, by dwelling and area of those still asked."""
    spells, found = strong
    hazard = -(1.0 - pl.col("stop_chance_12_months")).log()
    told = spells.join(found.risk, on="household_id").with_columns(log_hazard=hazard.log())
    return told.group_by("dwelling", "area_id").agg(pl.col("log_hazard").mean())


def test_the_hazard_ratio_of_the_simulation_is_found(strong):
    by_dwelling = dict(
        log_hazards(strong).group_by("dwelling").agg(pl.col("log_hazard").mean()).rows()
    )
    ratio = np.exp(by_dwelling["apartment"] - by_dwelling["house"])
    assert ratio == pytest.approx(4.0, rel=0.25)


def test_what_tells_nothing_is_shrunk_to_one(strong):
    away = pl.col("log_hazard") - pl.col("log_hazard").mean().over("dwelling")
    ratios = log_hazards(strong).select(away.exp())["log_hazard"]
    assert ratios.is_between(0.75, 1.33).all()


def test_the_chances_are_those_of_the_simulation(strong):
    spells, found = strong
    truth = spells.join(found.risk, on="household_id", maintain_order="left")
    truth = truth.filter(pl.col("in_use_chance").is_not_null())
    rate = 0.03 * np.where(truth["is_flat"].to_numpy(), 4.0, 1.0)
    months = truth["end_age_days"].to_numpy() / DAYS_PER_MONTH
    in_use = 0.95 * np.exp(-rate * months)
    stop_12 = 1.0 - np.exp(-rate * 12.0)
    assert truth["in_use_chance"].to_numpy() == pytest.approx(in_use, abs=0.12)
    assert np.mean(truth["in_use_chance"].to_numpy() - in_use) == pytest.approx(0.0, abs=0.02)
    assert np.mean(truth["stop_chance_12_months"].to_numpy() - stop_12) == pytest.approx(
        0.0, abs=0.03
    )


def test_it_is_calibrated_and_sorts_where_there_is_something_to_sort_by(strong):
    found = strong[1]
    assert found.expected_over_stopped == pytest.approx(1.0, abs=0.08)
    assert found.slope == pytest.approx(1.0, abs=0.15)
    assert found.sorts
    inside = found.groups.filter(pl.col("expected_share").is_between("low", "high"))
    assert inside.height >= 4  # of five intervals of 95%


def test_it_claims_no_lift_where_all_are_alike():
    rng = np.random.default_rng(5)
    claims = [fit_dropout(simulated(500, 1.0, rng), rng).sorts for _ in range(6)]
    # one in forty is the chance of a claim; two of six by chance happens once in 110
    assert sum(claims) <= 1


def test_too_few_stops_are_said_and_not_fitted():
    spells = simulated(60, 1.0, np.random.default_rng(2), rate=0.01, never=0.0)
    assert (spells["has_stopped"].sum() or 0) < LEAST_STOPPED
    assert fit_dropout(spells, np.random.default_rng(1)) is None


@pytest.mark.parametrize(
    ("stopped", "count", "low", "high"),
    # Agresti, A. and Coull, B.A. (1998), The American Statistician 52, 119-126: 0 of n gives
    # (0, 1 - (alpha/2)^(1/n)). NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20, here at 95% (from
    # memory; the limits below are those of the beta quantiles that both state)
    [
        (0, 10, 0.0, 1 - 0.025 ** (1 / 10)),
        (4, 20, 0.0573, 0.4366),
        (20, 20, 0.025 ** (1 / 20), 1.0),
    ],
)
def test_the_exact_interval_is_that_of_clopper_and_pearson(stopped, count, low, high):
    found = exact_interval(np.array([stopped]), np.array([count]))
    assert [one.item() for one in found] == pytest.approx([low, high], abs=5e-5)
    scipys = stats.binomtest(stopped, count).proportion_ci(method="exact")
    assert [one.item() for one in found] == pytest.approx(list(scipys), abs=1e-9)


def test_a_bin_that_came_back_weighs_as_the_share_of_other_households_heard():
    """Of H1 to H4, whose bins were kept, three were heard: the giveback of H5 weighs 0.75."""
    spells = pl.DataFrame(
        {
            "household_id": ["H1", "H1", "H2", "H3", "H4", "H5"],
            "has_stopped": [False, None, True, False, None, True],
            "ends_by_giveback": [False] * 5 + [True],
        }
    )
    assert _weights(spells).tolist() == [1.0] * 5 + [0.75]


def test_spells_of_one_household_are_held_out_together():
    names = [f"H{number % 20}" for number in range(60)]
    folds = _folds(pl.DataFrame({"household_id": names}), np.random.default_rng(1))
    by_household = {name: {int(f) for n, f in zip(names, folds, strict=True) if n == name}
                    for name in names}  # fmt: skip
    assert all(len(one) == 1 for one in by_household.values())
    assert np.bincount(folds).tolist() == [12] * 5


def test_the_lift_sets_the_riskiest_fifth_alone_against_all():
    """4 stops of 2 expected in the last fifth, 5 of 10 in all: twice over a half."""
    stopped = np.array([1.0, 0.0, 0.0, 0.0, 4.0])
    expected = np.array([2.0, 2.0, 2.0, 2.0, 2.0])
    nothing = np.zeros((5, 0))
    spells = Spells(nothing, nothing, stopped, np.ones(5))
    assert _lift(np.arange(5), expected, spells) == pytest.approx(4.0)


def test_to_stop_soon_a_bin_must_be_in_use_first(strong):
    risk = strong[1].risk
    both = (risk["in_use_chance"] * risk["stop_chance"]).to_numpy()
    assert risk["may_stop_chance"].to_numpy() == pytest.approx(both)
    assert (risk["may_stop_chance"] < risk["stop_chance"]).all()


def test_months_of_a_spell_are_laid_out_by_bands_of_age():
    """From the hand-over to three months: two in the first band and one in the second."""
    days = DAYS_PER_MONTH * np.array([[0.0, 3.0], [5.0, 13.0], [25.0, 30.0]])
    found = exposure_months(pl.Series(days[:, 0]), pl.Series(days[:, 1]))
    assert found == pytest.approx(
        np.array([[1, 2, 1, 0, 0, 0], [0, 0, 1, 6, 1, 0], [0, 0, 0, 0, 0, 5.0]])
    )


def small_spells(rng, count=60):
    months = rng.uniform(1.0, 12.0, count)
    told = rng.integers(0, 2, count) * 1.0
    stopped = (rng.exponential(1.0 / (0.06 * np.exp(0.6 * told))) < months) * 1.0
    nothing = np.zeros(count)
    return Spells(np.column_stack([nothing, months]), told[:, None], stopped, np.ones(count))


@pytest.mark.parametrize("spread", [0.05, 1.0])
def test_the_evidence_of_a_belief_is_what_a_grid_over_level_and_ratio_adds_up_to(spread):
    """Laplace's approximation against the integral itself, up to a constant of both beliefs."""

    def on_a_grid(one):
        level, ratio = np.meshgrid(np.linspace(-5.0, -1.0, 61), np.linspace(-3.5, 3.5, 281))
        total = spells.exposure[:, 1] * np.exp(
            level[..., None] + spells.design[:, 0] * ratio[..., None]
        )
        said = spells.stopped * np.log(-np.expm1(-total)) - (1.0 - spells.stopped) * total
        away = (level - _usual(spells)[1]) / LEVEL_SPREAD
        belief = -0.5 * (away**2 + (ratio / one) ** 2) - np.log(one)
        return np.log(np.exp(said.sum(axis=-1) + belief).sum())

    spells = small_spells(np.random.default_rng(3))
    laplace = {one: _evidence(spells, _climb(spells, one), one) for one in (spread, 0.4)}
    exact = {one: on_a_grid(one) for one in (spread, 0.4)}
    assert laplace[spread] - laplace[0.4] == pytest.approx(exact[spread] - exact[0.4], abs=0.1)


def test_what_a_fold_did_tells_nothing_of_its_own_hazard():
    spells, fold = small_spells(np.random.default_rng(4), 100), np.arange(100) % FOLDS
    other = replace(spells, stopped=np.where(fold == 0, 1.0 - spells.stopped, spells.stopped))
    as_seen, turned = (_held_out_hazard(one, fold) for one in (spells, other))
    assert turned[fold == 0] == pytest.approx(as_seen[fold == 0], rel=1e-9)
    assert np.abs(turned[fold != 0] / as_seen[fold != 0] - 1.0).min() > 1e-3


def test_the_riskiest_are_those_whose_risk_is_largest_for_their_age():
    """Old bins stop as their age says; of the young a fifth stops five times as often."""
    count = 500
    is_top = np.arange(count) % FOLDS == 0
    of_age = np.where(is_top, 0.05, 0.5)
    hazard = of_age * np.where(is_top, 5.0, 1.0)
    chance = -np.expm1(-hazard)
    nothing = np.zeros((count, 0))
    spells = Spells(nothing, nothing, chance, np.ones(count))
    rows = pl.DataFrame({"household_id": [f"H{number:03d}" for number in range(count)]})
    lift = _judge(hazard, of_age, spells, rows, np.random.default_rng(1))[3]
    expected = -np.expm1(-of_age)
    assert lift == pytest.approx(
        chance[is_top].sum() / expected[is_top].sum() / (chance.sum() / expected.sum())
    )
