"""Money: sums and ratios, by hand."""

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.money.appraisal import Appraisal, cash_flow, present_value
from planner.money.ledger import (
    avoided_disposal_cost,
    copayments,
    cost_per_unit,
    price_path,
    program_cost,
)


def test_receipts_are_taken_off() -> None:
    costs = pl.DataFrame(
        {
            "category": ["bins", "copayments_received"],
            "amount_in_year": [1000.0, -150.0],
            "amount_to_date": [3000.0, -400.0],
            "lines_count": [4, 2],
        }
    )
    found = program_cost(costs)
    assert (found.in_year, found.to_date, found.lines_count) == (850.0, 2600.0, 6)


def test_an_empty_ledger_costs_nothing() -> None:
    schema = {
        "category": pl.String,
        "amount_in_year": pl.Float64,
        "amount_to_date": pl.Float64,
        "lines_count": pl.Int64,
    }
    found = program_cost(pl.DataFrame(schema=schema))
    assert (found.in_year, found.to_date, found.lines_count) == (0.0, 0.0, 0)


def test_levy_and_gate_fee_are_saved_on_each_tonne() -> None:
    assert avoided_disposal_cost(np.array([2.0, 3.0]), 130.75, 35.0).tolist() == [331.5, 497.25]


def test_a_ratio_without_draws_is_that_of_the_central_values() -> None:
    assert cost_per_unit(10.0, np.array([4.0])).tolist() == [2.5]
    assert cost_per_unit(10.0, np.array([0.0])) is None


def test_no_ratio_to_what_may_be_nothing() -> None:
    assert cost_per_unit(10.0, np.array([5.0, 0.0])) is None
    assert cost_per_unit(10.0, np.array([5.0, -2.0])) is None


def test_a_draw_in_the_tail_is_held_at_the_smallest_above_nought() -> None:
    """Worked by hand: 100 over 4, 2 and 5; the one of a hundred below nought counts as 2."""
    found = cost_per_unit(100.0, np.array([4.0, -1.0, 2.0, *[5.0] * 98]))
    assert found is not None
    assert found[:4].tolist() == [25.0, 50.0, 50.0, 20.0]


def ledger(received_in_year: float, received_to_date: float) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "category": ["bins", "copayments_received"],
            "amount_in_year": [900.0, received_in_year],
            "amount_to_date": [2000.0, received_to_date],
            "lines_count": [3, 5],
        }
    )


HANDOVERS = pl.DataFrame(
    {
        "paid_in_year": [100.0],
        "paid_to_date": [260.0],
        "payers_in_year": [5],
        "payers_to_date": [13],
        "bins_in_year": [6],
        "bins_to_date": [15],
    }
)


def test_a_receipt_is_a_negative_line_and_the_two_sides_are_compared_in_one_sign() -> None:
    found = copayments(ledger(-80.0, -260.0), HANDOVERS, "in_year")
    assert (found.in_ledger, found.at_handover, found.difference) == (80.0, 100.0, -20.0)
    assert (found.payers_count, found.bins_count, found.lines_count) == (5, 6, 5)
    assert copayments(ledger(-80.0, -260.0), HANDOVERS, "to_date").difference == 0.0


def test_receipts_booked_with_a_plus_show_as_a_difference_of_twice_their_sum() -> None:
    found = copayments(ledger(100.0, 260.0), HANDOVERS, "in_year")
    assert found.difference == -200.0


def test_a_ledger_without_receipts_has_received_nothing() -> None:
    none = ledger(0.0, 0.0).filter(pl.col("category") == "bins")
    found = copayments(none, HANDOVERS, "in_year")
    assert (found.in_ledger, found.lines_count) == (0.0, 0)


def test_an_appraisal_by_hand() -> None:
    # two years at 10%: 5 t × 30 + 4 t × 33 / 1.1 = 270 against 200 + 110 / 1.1 = 300
    made = Appraisal(
        (2024, 2025),
        np.array([[5.0, 4.0]]),
        np.array([20.0, 22.0]),
        np.array([10.0, 11.0]),
        np.array([[200.0, 110.0]]),
    )
    assert made.avoided.tolist() == [[150.0, 132.0]]
    assert made.net_present_value(0.1) == pytest.approx([-30.0])
    assert made.benefit_cost_ratio(0.1) == pytest.approx([0.9])
    assert made.levelised_cost_per_t(0.1) == pytest.approx([300.0 / (5.0 + 4.0 / 1.1)])


def test_no_ratio_to_receipts_alone_and_no_price_without_tonnes() -> None:
    none, costs = np.zeros((1, 2)), np.array([[-5.0, 0.0]])
    free = np.zeros(2)
    made = Appraisal((2024, 2025), none, free, free, costs)
    assert made.benefit_cost_ratio(0.05) is None
    assert made.levelised_cost_per_t(0.05) is None


def test_the_ledger_is_summed_by_reporting_year() -> None:
    months = [dt.date(2024, 6, 1), dt.date(2024, 7, 1), dt.date(2025, 6, 1), dt.date(2026, 7, 1)]
    costs = pl.DataFrame({"cost_month": months, "amount": [1.0, 2.0, 4.0, 8.0]})
    assert cash_flow(costs, (2023, 2024, 2025, 2026), 7).tolist() == [1.0, 6.0, 0.0, 8.0]
    assert cash_flow(costs.clear(), (2023,), 7).tolist() == [0.0]


def test_a_price_path_needs_a_price() -> None:
    with pytest.raises(ValueError, match="at least one"):
        price_path({}, [2025], 0.0)


def test_a_price_holds_until_the_next_is_known_and_rises_from_the_last_one_on() -> None:
    found = price_path({2024: 100.0, 2027: 121.0}, [2023, 2024, 2026, 2027, 2028, 2029], 0.1)
    assert found == pytest.approx([100.0, 100.0, 100.0, 121.0, 133.1, 146.41])


def test_sums_that_rise_with_prices_at_large_are_worth_the_same_each_year() -> None:
    # Fisher: in the money of year 0, 100 that rise with inflation stay 100.
    nominal = 100.0 * 1.04 ** np.arange(3)
    made = Appraisal((2024, 2025, 2026), np.ones((1, 3)), nominal, 0 * nominal, nominal[None], 0.04)
    assert made.present_value_of_costs(0.0) == pytest.approx([300.0])
    assert made.present_value_of_benefits(0.05) == pytest.approx([100 + 100 / 1.05 + 100 / 1.1025])


def test_a_cost_that_differs_by_draw_is_divided_draw_by_draw() -> None:
    # support of bins in use to come makes the cost of the lives uncertain as well
    assert cost_per_unit(np.array([10.0, 30.0]), np.array([5.0, 6.0])).tolist() == [2.0, 5.0]
    assert cost_per_unit(np.zeros(2), np.array([5.0, 6.0])) is None


@pytest.mark.parametrize("rate", [-1.0, -1.5])
def test_no_worth_at_a_rate_at_which_a_later_sum_would_have_none(rate) -> None:
    with pytest.raises(ValueError, match="expected above -1"):
        present_value([0.0, 100.0], rate)
