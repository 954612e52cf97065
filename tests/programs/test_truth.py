"""The estimates hold the truth of the simulated towns in their 95% intervals.

Every household of the towns was simulated, so their truth is known
(sample_programs/README.md), and the generator's formulas are its own. The seeds are fixed:
this is one look at 7 years; tests/benchmarks/coverage.py studies how often intervals hold.
"""

from __future__ import annotations

import pytest

from tests.programs.conftest import TOWN_YEARS

TRUE_NAMES = {
    "bins_in_use": "bins_in_use",
    "feed_kg_per_bin_week": "feed_kg_per_in_use_bin_week",
    "fed_t": "fed_t",
    "landfill_share": "landfill_share",
    "kept_out_of_landfill_t": "kept_out_of_landfill_t",
}
LEAST_HELD_SHARE = 0.85
"""Of many intervals at 95% that lean on the same answers, this many hold on a bad day."""

FARTHEST_MISS = 1.5
"""No truth lies farther off than so many half-widths: in 3 of 1,000 intervals by chance."""

EACH_YEAR = pytest.mark.parametrize(("town", "label"), TOWN_YEARS)


def headlines(one, label):
    """Pair each headline figure of a year with its truth."""
    register, true = one.year(label)[1], one.true_year(label)
    pairs = {figure_id: (register[figure_id], true[name]) for figure_id, name in TRUE_NAMES.items()}
    (at_a_year,) = [
        row["retention_share"] for row in one.truth["retention"] if row["age_months"] == 12
    ]
    return pairs | {"retention_12_months": (register["retention_12_months"], at_a_year)}


@EACH_YEAR
def test_no_headline_figure_is_far_from_the_truth(sample, town, label):
    for figure_id, (figure, true) in headlines(sample(town), label).items():
        half = figure.high - figure.value if true > figure.value else figure.value - figure.low
        assert abs(true - figure.value) <= FARTHEST_MISS * half, figure_id


@pytest.mark.thorough
def test_most_intervals_of_headline_figures_hold_the_truth(sample):
    held = [
        figure.low <= true <= figure.high
        for town, label in TOWN_YEARS
        for figure, true in headlines(sample(town), label).values()
    ]
    assert sum(held) / len(held) >= LEAST_HELD_SHARE


@EACH_YEAR
def test_the_intervals_are_narrow_enough_to_be_of_use(sample, town, label):
    register = sample(town).year(label)[1]
    for figure_id in TRUE_NAMES:
        figure = register[figure_id]
        assert 0.0 < (figure.high - figure.low) / 2 < 0.5 * figure.value


@pytest.mark.thorough
def test_most_intervals_of_areas_hold_their_truth(sample):
    held = []
    for town, label in TOWN_YEARS:
        register = sample(town).year(label)[1]
        for row in sample(town).truth["area_years"]:
            for figure_id in ("bins_in_use", "fed_t", "kept_out_of_landfill_t"):
                figure = register[f"{figure_id}[{row['area_id']}]"]
                if row["reporting_year"] == label and figure.value is not None:
                    held.append(figure.low <= row[figure_id] <= figure.high)
    assert len(held) > 50
    assert sum(held) / len(held) >= LEAST_HELD_SHARE


@EACH_YEAR
def test_the_ledger_is_the_true_cost(sample, town, label):
    figure = sample(town).year(label)[1]["program_cost"]
    assert figure.value == pytest.approx(sample(town).true_year(label)["program_cost"], abs=0.005)
    assert figure.low is None
