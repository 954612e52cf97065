"""Worms against published values and rules of thumb.

- Johnston et al. (2014) Ecological Modelling 280:5-17: E 0.25 eV, 8.62e-5 eV/K, 298.15 K;
  A(T) worked out to three digits from the printed equation.
- Trapezoid 4/15/25/35 °C: limits of Earthworm Ecology, Table 18.3, and Edwards (1995); two
  digits by hand. Annual means are a second calculation on published monthly normals: Met
  Office station series Heathrow 1991-2020 (all months), Bureau of Meteorology station
  086071 (mean of maximum and minimum), Meteorological Service Singapore 1991-2020, NOAA
  Central Park 1981-2010.
- New York City guide 06340 (June 2012) and NC State AG-473-18: a pound of worms takes about
  three and a half pounds of scraps a week.
- Doubling: by definition, and the logistic equation integrated numerically.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from planner.factors import read_factors
from planner.worms.run_in import run_in, stock_kg
from planner.worms.temperature import arrhenius_response, season, trapezoid_response
from tests.unit.worms.points import temperature_points

TABLE = read_factors()
POINTS = temperature_points(TABLE)
KG_PER_LB = 0.45359237


@pytest.mark.parametrize(
    ("temperature_c", "ratio"), [(5, 0.497), (10, 0.597), (15, 0.713), (20, 0.847), (25, 1.0)]
)
def test_arrhenius_ratio(temperature_c, ratio):
    found = arrhenius_response(
        temperature_c,
        TABLE.find("activation_energy_ev").value,
        TABLE.find("boltzmann_ev_per_k").value,
        TABLE.find("arrhenius_reference_c").value,
    )
    assert float(found) == pytest.approx(ratio, abs=5e-4)


@pytest.mark.parametrize(
    ("temperature_c", "share"),
    [
        (-10, 0),
        (4, 0),
        (5, 0.09),
        (10, 0.55),
        (15, 1),
        (20, 1),
        (25, 1),
        (30, 0.5),
        (35, 0),
        (45, 0),
    ],
)
def test_trapezoid(temperature_c, share):
    assert float(trapezoid_response(temperature_c, POINTS)) == pytest.approx(share, abs=0.005)


@pytest.mark.parametrize(
    ("monthly_mean_temperature_c", "annual_mean"),
    [
        ([5.6, 5.8, 7.9, 10.5, 13.7, 16.8, 19.0, 18.7, 15.9, 12.3, 8.4, 5.9], 0.622),
        (
            [20.1, 20.2, 18.6, 15.55, 12.7, 10.5, 9.75, 10.85, 12.65, 14.65, 16.6, 18.6],
            0.857,
        ),
        ([26.8, 27.3, 27.8, 28.2, 28.6, 28.5, 28.2, 28.1, 28.0, 27.9, 27.2, 26.8], 0.722),
        ([0.3, 1.8, 5.8, 11.7, 16.9, 21.9, 24.7, 24.0, 20.0, 13.8, 8.7, 3.1], 0.598),
    ],
    ids=["London", "Melbourne", "Singapore", "New York"],
)
def test_annual_mean_of_the_season(monthly_mean_temperature_c, annual_mean):
    found = season(monthly_mean_temperature_c, POINTS)
    assert found.shape == (12,)
    assert found.mean() == pytest.approx(annual_mean, abs=6e-4)


def test_a_pound_of_worms_takes_three_and_a_half_pounds_a_week():
    # A stock that does not grow, past its first weeks; demand is the rule of thumb itself.
    feed = TABLE.find("feed_kg_per_kg_day").value
    demand = 3.5 * KG_PER_LB
    for household, share in [(demand, 1.0), (2 * demand, 0.5)]:
        found = run_in(1.0, KG_PER_LB, household, 1.0, np.inf, 10.0, feed, 0.5)
        assert float(found) == pytest.approx(share, rel=0.001)


def test_a_quarter_kilogram_of_worms_takes_seven_eighths_of_a_kilogram_a_week():
    # 1,000 mixed-size worms weigh 250 g: 0.25 x 0.5 x 7 = 0.875 kg.
    feed = TABLE.find("feed_kg_per_kg_day").value
    assert float(run_in(1.0, 0.25, 1.0, 1.0, np.inf, 10.0, feed, 0.5)) == pytest.approx(0.875)


def test_a_small_stock_doubles_in_its_doubling_time():
    days = TABLE.find("doubling_days", "new_bin").value
    found = stock_kg(np.array([0.0, 1, 2, 3]) * days, 0.25, days, 1e9)
    assert found == pytest.approx([0.25, 0.5, 1.0, 2.0], rel=1e-6)


def test_stock_follows_the_logistic_equation():
    ceiling, starter, days = 1.6, 0.25, 90.0
    rate = np.log(2) / days
    ages = np.linspace(0, 720, 25)
    solved = solve_ivp(
        lambda _, mass: rate * mass * (1 - mass / ceiling),
        (0, 720),
        [starter],
        t_eval=ages,
        rtol=1e-10,
        atol=1e-12,
    )
    assert stock_kg(ages, starter, days, ceiling) == pytest.approx(solved.y[0], rel=1e-7)
