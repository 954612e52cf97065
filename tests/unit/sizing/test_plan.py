"""What is written of a plan, and by how much limits give way, by hand."""

import datetime as dt
from types import SimpleNamespace

import numpy as np

from planner.sizing.clash import _change
from planner.sizing.plan import ALLOCATION_HEADINGS, allocation_frame


def named(**values):
    return SimpleNamespace(**values)


def test_the_allocation_has_a_row_for_each_group_model_and_round_with_bins():
    rounds = [
        named(name="spring", month=dt.date(2026, 4, 1)),
        named(name="autumn", month=dt.date(2026, 10, 1)),
    ]
    plan = named(
        allocation=named(bins_by_group=np.array([[[0, 3]], [[2, 0]]])),
        labels=("n/house", "s/apartment"),
        settings=named(rounds=rounds, models=[named(model_id="tray")]),
    )
    frame = allocation_frame(plan)
    assert frame.columns == list(ALLOCATION_HEADINGS)
    assert frame.rows() == [
        ("n", "house", "tray", "autumn", "2026-10-01", 3),
        ("s", "apartment", "tray", "spring", "2026-04-01", 2),
    ]


def test_a_share_of_all_bins_gives_way_by_the_bins_that_miss_it():
    """Thirty of three hundred bins are a tenth; a ceiling rises and a floor falls by bins."""
    bins = np.full((2, 1, 3), 50.0)
    share = _change(named(share=0.6), 0, 30.0, bins)
    assert (share.from_value, round(share.to_value, 9)) == (0.6, 0.5)
    floor = named(share=None, low=np.array([40.0]), high=np.array([np.inf]))
    ceiling = named(share=None, low=np.array([-np.inf]), high=np.array([40.0]))
    assert [_change(one, 0, 5.0, bins).to_value for one in (floor, ceiling)] == [35.0, 45.0]
