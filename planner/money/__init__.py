"""Money: program cost, unit costs, avoided levy and gate fee, present values."""

from planner.money.appraisal import (
    Appraisal,
    benefit_cost_ratio,
    by_year,
    cash_flow,
    net_present_value,
    present_value,
)
from planner.money.ledger import (
    Copayments,
    ProgramCost,
    avoided_disposal_cost,
    carbon_worth,
    copayments,
    cost_per_unit,
    in_kind_cost,
    price_path,
    program_cost,
)

__all__ = [
    "Appraisal",
    "Copayments",
    "ProgramCost",
    "avoided_disposal_cost",
    "benefit_cost_ratio",
    "by_year",
    "carbon_worth",
    "cash_flow",
    "copayments",
    "cost_per_unit",
    "in_kind_cost",
    "net_present_value",
    "present_value",
    "price_path",
    "program_cost",
]
