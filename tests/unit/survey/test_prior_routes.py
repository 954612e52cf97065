"""Prior routes by area: own answers where there are many, the service's where there are few."""

import numpy as np
import polars as pl
import pytest
from scipy import stats
from scipy.special import expit, logit

from planner.survey.prior_routes import prior_routes
from planner.tables import PRIOR_SHARES

RESIDUAL = PRIOR_SHARES.index("prior_residual_bin_share")
KERBSIDE = PRIOR_SHARES.index("prior_kerbside_organics_share")
FOOD, NONE = "food_and_garden_organics", "residual_only"
ELSEWHERE = {NONE: (0.5, 0.0, 0.3, 0.2), FOOD: (0.2, 0.5, 0.2, 0.1)}


def answered(rng, shares, services, counts):
    """Households whose shares to the residual bin scatter widely about their area's."""
    rows = []
    for place, (share, service, count) in enumerate(zip(shares, services, counts, strict=True)):
        for residual in rng.beta(1.5 * share, 1.5 * (1.0 - share), count):
            others = (1.0 - residual) * np.array(ELSEWHERE[service])
            rows.append((f"a{place}", "house", service, residual, *others))
    names = ("area_id", "dwelling", "kerbside_service", *PRIOR_SHARES)
    answers = pl.DataFrame(rows, schema=list(names), orient="row")
    return answers.with_columns(is_recalled=pl.lit(False))


def estimated(rng, shares, services, counts, households, draws=300):
    frame = answered(rng, shares, services, counts)
    place = frame["area_id"].str.slice(1).cast(pl.Int64).to_numpy()
    weights = (np.asarray(households) / np.maximum(counts, 1))[place]
    replicates = weights * rng.exponential(1.0, (draws, weights.size))
    areas = pl.DataFrame(
        {
            "area_id": [f"a{place}" for place in range(len(services))],
            "kerbside_service": list(services),
        }
    )
    return prior_routes(frame, np.vstack([weights, replicates]), areas, rng)


def test_where_homes_mix_one_named_route_overstates_the_commonest() -> None:
    """Closed form: of two routes with shares X and 1 - X, X a beta, P(X > 1/2) name the first."""
    rng, mixing, count = np.random.default_rng(8), stats.beta(2.4, 1.6), 4000
    shares = np.zeros((count, 5))
    shares[:, RESIDUAL] = mixing.ppf(rng.permutation((np.arange(count) + 0.5) / count))
    shares[:, KERBSIDE] = 1.0 - shares[:, RESIDUAL]
    same = {"area_id": "a0", "dwelling": "house", "kerbside_service": NONE}
    areas = pl.DataFrame({"area_id": ["a0"], "kerbside_service": [NONE]})
    for told, expected in ((shares, mixing.mean()), (np.round(shares), mixing.sf(0.5))):
        answers = pl.DataFrame(told, schema=list(PRIOR_SHARES)).with_columns(
            is_recalled=pl.lit(value=False), **{name: pl.lit(text) for name, text in same.items()}
        )
        found = prior_routes(answers, np.ones((1, count)), areas, rng).shares[0, 0, 0, RESIDUAL]
        assert found == pytest.approx(expected, abs=0.005)
    assert mixing.sf(0.5) - mixing.mean() > 0.05


def test_shares_of_every_cell_add_up_to_one() -> None:
    rng = np.random.default_rng(1)
    routes = estimated(rng, [0.6, 0.7, 0.3], [NONE, NONE, FOOD], [20, 3, 12], [100, 90, 80])
    assert routes.shares.shape[1:] == (3, 3, 5)
    assert routes.shares.sum(axis=3) == pytest.approx(np.ones(routes.shares.shape[:3]))
    assert routes.shares.min() >= 0.0


def test_shares_add_up_where_nobody_put_anything_elsewhere() -> None:
    """Then what else there may be is divided alike: no route is likelier than another."""
    answers = pl.DataFrame(
        {
            "area_id": ["a0"] * 12,
            "dwelling": ["house"] * 12,
            "kerbside_service": [NONE] * 12,
            "is_recalled": [False] * 12,
            **{name: [1.0 * (place == RESIDUAL)] * 12 for place, name in enumerate(PRIOR_SHARES)},
        }
    )
    areas = pl.DataFrame({"area_id": ["a0"], "kerbside_service": [NONE]})
    shares = prior_routes(answers, np.ones((3, 12)), areas, np.random.default_rng(1)).shares
    assert shares.sum(axis=3) == pytest.approx(np.ones((3, 1, 3)))
    others = np.delete(shares, RESIDUAL, axis=3)
    left = 1.0 - shares[..., [RESIDUAL]]
    np.testing.assert_allclose(others, np.broadcast_to(left / 4.0, others.shape), rtol=1e-6)


def test_the_only_area_with_a_food_collection_is_not_taken_for_the_others() -> None:
    """0.34 among areas of 0.62: a share borrowed from all answers would be near 0.58."""
    found = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        shares, services = [0.34, *[0.62] * 6], [FOOD, *[NONE] * 6]
        routes = estimated(rng, shares, services, [14, *[40] * 6], [150] * 7)
        found.append(routes.shares[0, 0, 0, RESIDUAL])
    assert np.mean(found) == pytest.approx(0.34, abs=0.04)


def test_no_food_collection_means_that_nothing_went_there() -> None:
    rng = np.random.default_rng(2)
    routes = estimated(rng, [0.6, 0.3], [NONE, FOOD], [30, 30], [100, 100])
    assert routes.shares[:, 0, :, KERBSIDE].max() == 0.0
    assert routes.shares[0, 1, 0, KERBSIDE] == pytest.approx(0.7 * 0.5, abs=0.12)


def test_the_towns_own_mean_comes_out_in_every_draw() -> None:
    rng = np.random.default_rng(3)
    counts, households = [30, 12, 5], np.array([100, 300, 200])
    frame = answered(rng, [0.5, 0.7, 0.6], [NONE] * 3, counts)
    weights = np.repeat(households / counts, counts)
    both = np.vstack([weights, weights * rng.exponential(1.0, (50, weights.size))])
    areas = pl.DataFrame({"area_id": ["a0", "a1", "a2"], "kerbside_service": [NONE] * 3})
    shares = prior_routes(frame, both, areas, rng).shares[:, :, 0, RESIDUAL]
    direct = both @ frame["prior_residual_bin_share"].to_numpy() / both.sum(axis=1)
    assert shares @ households / households.sum() == pytest.approx(direct, abs=1e-6)


@pytest.mark.parametrize(("areas", "towns"), [(6, 40), (12, 20), (40, 6)])
def test_intervals_hold_the_truth_where_areas_differ(areas, towns) -> None:
    """240 areas a case; below 88% would come by chance less than once in 100,000."""
    held = []
    for town in range(towns):
        rng = np.random.default_rng([areas, town])
        services = [FOOD, FOOD, *[NONE] * (areas - 2)]
        level = logit(0.62) - 1.1 * np.array([s == FOOD for s in services])
        truth = expit(level + 0.4 * rng.standard_normal(areas))
        counts = 4 + rng.poisson(12, areas)
        routes = estimated(rng, truth, services, counts, rng.integers(100, 400, areas))
        low, high = np.percentile(routes.shares[1:, :, 0, RESIDUAL], (2.5, 97.5), axis=0)
        held.append((low <= truth) & (truth <= high))
    assert np.mean(held) > 0.88


def test_words_say_who_is_borrowed_from() -> None:
    rng = np.random.default_rng(4)
    routes = estimated(rng, [0.6, 0.6, 0.6], [NONE] * 3, [200, 8, 0], [100, 90, 80])
    assert routes.basis(2) == (
        "borrowed whole from areas with residual only and the town's dwellings: "
        "no answers of its own"
    )
    told = [routes.basis(place) for place in (0, 1)]
    own = [float(words.split("weight of ")[1].split("%")[0]) for words in told]
    assert own[0] > own[1] > 0.0


def test_dwellings_nobody_answered_from_are_known_alike_and_less_than_those_that_answered() -> None:
    rng = np.random.default_rng(4)
    routes = estimated(rng, [0.6, 0.6], [NONE, NONE], [60, 60], [100, 100], draws=2000)
    house, *unanswered = routes.shares[1:, 0, :, RESIDUAL].std(axis=0)
    assert min(unanswered) > 2.0 * house
    assert unanswered[0] == pytest.approx(unanswered[1], rel=0.1)


def test_households_of_an_area_spread_about_its_own_mean_by_hand() -> None:
    """0.2 and 0.8, and 0.7 twice in another area: squares of 0.09 twice and 0, a mean 0.045."""
    residual = np.array([0.2, 0.8, 0.7, 0.7])
    others = dict.fromkeys(PRIOR_SHARES, (1.0 - residual) / 4.0)
    answers = pl.DataFrame(
        {
            "area_id": ["a0", "a0", "a1", "a1"],
            "dwelling": ["house"] * 4,
            "is_recalled": [False] * 4,
            "kerbside_service": [NONE] * 4,
            **others,
            "prior_residual_bin_share": residual,
        }
    )
    areas = pl.DataFrame({"area_id": ["a0", "a1"], "kerbside_service": [NONE] * 2})
    routes = prior_routes(answers, np.ones((3, 4)), areas, np.random.default_rng(1))
    assert routes.household_spread == pytest.approx(np.sqrt(0.045))
