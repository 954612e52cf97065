"""What a bin's worms can take, by age and month."""

import numpy as np
import polars as pl
import pytest

from planner.diversion.feed_share import FACTOR_IDS, feed_share
from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.program import BinModel

TABLE = read_factors()
MODEL = BinModel(
    model_id="m",
    model_name="Bin",
    trays_count=2,
    tray_area_m2=0.16,
    plastic_kg=6.0,
    plastic_recycled_share=1.0,
    service_life_years=10,
    unit_price=60.0,
)
MILD = [18.0] * 12
COLD = [-5.0] * 12


def worms() -> dict[str, np.ndarray]:
    new_bin = {"doubling_days"}
    rows = [TABLE.find(name, "new_bin" if name in new_bin else "") for name in FACTOR_IDS]
    return draw_factors(rows, 200, 1)


def share_of(worms_kg: float, temperatures: list[float], ages: list[float]) -> np.ndarray:
    handovers = pl.DataFrame(
        {
            "model_id": ["m"],
            "bins_given": [10],
            "worms_kg": [10 * worms_kg],
            "starters_count": [10 if worms_kg else 0],
        }
    )
    drawn = worms()
    share = feed_share(handovers, [MODEL], temperatures, np.full(201, 1.2), drawn)
    return share(np.array(ages), np.zeros(len(ages), dtype=np.int64))


def test_share_rises_with_age_and_stays_within_one() -> None:
    share = share_of(0.25, MILD, [0.0, 1.0, 3.0, 6.0, 24.0])
    assert np.all(np.diff(share, axis=1) >= 0.0)
    assert share.min() >= 0.0
    assert share.max() <= 1.0


def test_more_worms_take_no_less() -> None:
    assert np.all(share_of(0.45, MILD, [0.5, 2.0]) >= share_of(0.25, MILD, [0.5, 2.0]))


def test_the_usual_starter_takes_its_rule_of_thumb_after_the_first_month() -> None:
    """0.454 kg of worms take about 1.59 kg a week (New York City 2012), so 1.2 kg in full."""
    assert share_of(0.454, MILD, [1.5])[0, 0] == pytest.approx(1.0)


def test_frost_leaves_the_least_appetite_and_no_less() -> None:
    """Law: appetite in a frozen month is the stated least share of that in a mild one."""
    young = [0.5]
    ratio = share_of(0.25, COLD, young) / share_of(0.25, MILD, young)
    assert ratio[0, 0] == pytest.approx(TABLE.find("least_appetite_share").value)


def test_no_worms_on_record_count_as_the_published_starter() -> None:
    starter = TABLE.find("starter_kg").value
    assert share_of(0.0, MILD, [0.5])[0] == pytest.approx(share_of(starter, MILD, [0.5])[0])
