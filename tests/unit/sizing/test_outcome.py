"""What a plan of a few bins comes to, by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from planner.diversion.planned import OneBin
from planner.sizing.draws import EmissionRates
from planner.sizing.outcome import outcome_of, taken_in_central_draw
from planner.sizing.world import World
from planner.tables import DWELLINGS

MONTHS = 24


def bin_in_use(weeks):
    """One bin in use for so many weeks of the second month, with room for half of its feed."""
    in_use = np.zeros((1, MONTHS, 3))
    in_use[0, 1] = weeks
    return OneBin(in_use, in_use / 2.0, in_use[0])


def world():
    """One group: 4 households want a bin by the first round, 9 by the second."""
    each = np.ones((1, 1))
    return World(
        demand=np.array([[[4.0, 9.0, 9.0]]]),
        feed_kg_per_week=2.0 * each,
        landfill_share=np.array([0.6]),
        kept_out_share=0.5 * each,
        exposed_share=0.6 * each,
        moved_elsewhere_share=np.zeros((1, MONTHS)),
        bins=((bin_in_use(20.0), bin_in_use(40.0)),) * len(DWELLINGS),
        price=np.array([[50.0, 80.0]]),
        other_cost=np.array([[5.0, 7.0]]),
        fixed_cost=100.0,
        rates=EmissionRates(np.array([1000.0]), np.array([200.0]), np.array([[3.0, 4.0]])),
    )


# 5 of the first model in the first round, 3 of the second in the next, 1 of the first at last
PLANNED = np.array([[[5, 0, 1], [0, 3, 0]]])


def test_a_bin_left_from_a_round_is_taken_in_the_next_as_one_of_that_rounds_model():
    """Of 5, 8 and 9 bins 4, 8 and 9 are taken: 4, 4 and 1."""
    taken = taken_in_central_draw(world(), PLANNED)
    assert taken.tolist() == [[[4.0, 0.0, 1.0], [0.0, 4.0, 0.0]]]


def test_tonnes_emissions_and_cost_of_nine_bins():
    """5 bins of 10 weeks and 4 of 20 at full feed: 130 weeks of 2 kg, half of it kept out."""
    context = SimpleNamespace(groups=SimpleNamespace(dwelling=np.zeros(1, dtype=int)))
    found = outcome_of(context, SimpleNamespace(months=range(MONTHS)), world(), PLANNED)
    assert found.bins_given == pytest.approx([9.0])
    assert found.fed_t == pytest.approx([0.26])
    assert found.kept_out_t_by_month[0, :3] == pytest.approx([0.0, 0.13, 0.0])
    assert found.kept_out_t_by_year == pytest.approx(np.array([[0.13, 0.0]]))
    assert found.in_use_weeks_by_month.sum() == pytest.approx(5 * 20 + 4 * 40)
    # bins bought, whether taken or not: 6 at 50 and 3 at 80; handed over 5 at 5 and 4 at 7
    assert found.cost == pytest.approx([100 + 540 + 53])
    assert found.net_t_co2e == pytest.approx([0.13 - 0.26 * 0.2 - (6 * 3 + 3 * 4) / 1000])
