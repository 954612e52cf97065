"""Money: sums and ratios, by hand."""

import numpy as np
import polars as pl

from planner.money import avoided_disposal_cost, cost_per_unit, program_cost


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


def test_no_ratio_to_what_may_be_nothing() -> None:
    assert cost_per_unit(10.0, np.array([5.0, 0.0])) is None
    assert cost_per_unit(10.0, np.array([5.0, -2.0])) is None
