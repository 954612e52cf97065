"""Growth of worms and beds against published series and the Euler-Lotka equation.

- Mass by week at 20 °C: model of Johnston et al. (2014), Ecological Modelling 280, 5-17,
  evaluated week by week; observed means of Gunadi (2002) on cattle manure, as copied in the
  life-history data set of Augustine et al. (2016).
- Doubling times: Euler-Lotka on the fecundity of Venter & Reinecke (1988) at 25 °C with 23
  days of incubation gives 17.5 days where none die, 26, 64 and 95 where 20%, 2% and 1% of
  the hatchlings live (computed apart from this project).
- Worked beds double in 60 to 90 days (Munroe, Manual of On-Farm Vermicomposting).
"""

import numpy as np
import pytest
from scipy import optimize

from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.worms.life_history import (
    COCOON_STEPS,
    FACTOR_IDS,
    JUVENILE_STEPS,
    grown_mass_g,
    life_history,
)
from planner.worms.nursery_plan import Season, run_bed
from planner.worms.temperature import arrhenius_response

TABLE = read_factors()
WEEKS = np.arange(9) * 7.0
PRINTED_G = [0.011, 0.060, 0.133, 0.209, 0.278, 0.335, 0.379, 0.412, 0.437]
OBSERVED_G = [0.011, 0.032, 0.079, 0.131, 0.256, 0.368, 0.414, 0.442, 0.462]


def factors(**changed):
    one = draw_factors([TABLE.find(name) for name in FACTOR_IDS], 1, seed=1)
    return {name: np.array([changed.get(name, draws[0])]) for name, draws in one.items()}


def test_mass_by_week_is_the_published_series():
    rate = 0.177 * arrhenius_response(20.0, 0.25, 8.62e-5, 25.0)
    assert grown_mass_g(WEEKS, rate, 0.011, 0.5) == pytest.approx(PRINTED_G, abs=5e-4)


def test_observed_worms_lie_near_the_published_curve():
    rate = 0.177 * arrhenius_response(20.0, 0.25, 8.62e-5, 25.0)
    gap = grown_mass_g(WEEKS, rate, 0.011, 0.5) - OBSERVED_G
    # early weeks are slower on manure; by the fifth the curve is within a tenth
    assert np.abs(gap).max() < 0.08
    assert np.abs(gap[5:] / np.array(OBSERVED_G[5:])).max() < 0.1


def test_grown_mass_solves_its_equation():
    age, step = np.linspace(0.0, 90.0, 10), 1e-4
    mass = grown_mass_g(age, 0.15, 0.011, 0.5)
    slope = (
        grown_mass_g(age + step, 0.15, 0.011, 0.5) - grown_mass_g(age - step, 0.15, 0.011, 0.5)
    ) / (2 * step)
    assert slope == pytest.approx(0.15 * (0.5 ** (1 / 3) * mass ** (2 / 3) - mass), rel=1e-6)


# 3.8 cocoons × 0.832 × 3.3 young an adult and week; 68 days to breed, which 17.5 days
# without deaths imply with 23 days of incubation
PUBLISHED = {
    "cocoons_per_adult_week": 3.8,
    "hatching_share": 0.832,
    "hatchlings_per_cocoon": 3.3,
    "incubation_days": 23.0,
    "maturity_days": 68.0,
    "adult_life_days": 1e9,
}


@pytest.mark.parametrize(("doubling_days", "surviving"), [(64.0, 0.02), (95.0, 0.01)])
def test_survival_behind_published_doubling_times(doubling_days, surviving):
    life = life_history(factors(**PUBLISHED), np.array([doubling_days]))
    # the published reckoning has one age at breeding, the stages have a spread of ages
    assert life.hatchlings_surviving_share[0] == pytest.approx(surviving, rel=0.2)


def test_no_bed_without_deaths_doubles_faster_than_the_biological_floor_by_a_fifth():
    def surplus(days):
        return (
            life_history(factors(**PUBLISHED), np.array([days])).hatchlings_surviving_share[0]
            - 0.999
        )

    assert optimize.brentq(surplus, 8.0, 40.0) == pytest.approx(17.5, rel=0.2)


def test_worked_beds_rest_on_a_survival_of_a_few_per_cent():
    slow, fast = (
        life_history(factors(), np.array([days])).hatchlings_surviving_share[0]
        for days in (90.0, 60.0)
    )
    assert 0.01 < slow < fast < 0.04


@pytest.mark.parametrize("doubling_days", [60.0, 75.0, 90.0])
def test_an_uncrowded_bed_doubles_as_stated(doubling_days):
    life = life_history(factors(), np.array([doubling_days]))
    quiet = Season(np.ones(900), np.zeros(900, dtype=bool), np.zeros(900))
    stock = run_bed(life, quiet, 1.0, 1e12).worms_kg[0]
    rate = np.log(stock[900] / stock[700]) / 200
    assert np.log(2) / rate == pytest.approx(doubling_days, rel=1e-3)


def test_stages_satisfy_euler_lotka_solved_another_way():
    life = life_history(factors(), np.array([75.0]))
    young = life.hatchlings_per_adult_day[0] * life.hatchlings_surviving_share[0]
    c, j = life.cocoon_rate_per_day[0], life.juvenile_rate_per_day[0]
    days = np.arange(1, 4000)
    # chance to be an adult on each day after laying, from the steps as a matrix
    steps = np.diag(np.r_[[1 - c] * COCOON_STEPS, [1 - j] * JUVENILE_STEPS, 1 - 1 / 730.0])
    steps += np.diag(np.r_[[c] * COCOON_STEPS, [j] * JUVENILE_STEPS], -1)
    state, adult = np.eye(len(steps))[0], []
    for _ in days:
        state = steps @ state
        adult.append(state[-1])
    rate = optimize.brentq(
        lambda r: young * (np.exp(-r * days) @ adult) * np.exp(-r) - 1, 1e-4, 0.1
    )
    assert np.log(2) / rate == pytest.approx(75.0, rel=0.02)
