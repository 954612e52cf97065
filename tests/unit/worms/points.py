"""Central corners of the response to temperature."""

from planner.worms.temperature import TemperaturePoints


def temperature_points(table):
    """Take the central corners from the factor tables."""
    return TemperaturePoints(
        table.find("feeding_lowest_c").value,
        table.find("feeding_optimum_low_c").value,
        table.find("feeding_optimum_high_c").value,
        table.find("feeding_highest_c").value,
    )
