"""Worms: temperature response, growth of the stock, run-in of a new bin."""

from planner.worms.run_in import capacity_kg_per_week, run_in, stock_kg
from planner.worms.temperature import (
    TemperaturePoints,
    arrhenius_response,
    bed_temperature_c,
    season,
    trapezoid_response,
)

__all__ = [
    "TemperaturePoints",
    "arrhenius_response",
    "bed_temperature_c",
    "capacity_kg_per_week",
    "run_in",
    "season",
    "stock_kg",
    "trapezoid_response",
]
