"""The invented council's register with everything that a report can say of a year.

Numbers are made up; none was estimated.
"""

from __future__ import annotations

import io
from pathlib import Path

from PIL import Image

from planner.factors import read_factors
from planner.figures import Figure
from planner.report.document import Picture
from planner.report.document.contents import Contents
from tests.unit.report import synthetic

HIDDEN_AREAS = 2
DEAR, CHEAP = "Lessons in schools", "Weekly collection"
"""Other ways to spend the money."""

EARLIER = "2024-25"


def add(register, figure_id, value, low=None, high=None, unit="t", method="Made up for tests."):
    """Add a figure whose label is its id in words."""
    label = figure_id.replace("_", " ").capitalize()
    register.add(Figure(figure_id, label, value, low, high, unit, method))


def register(currency="GBP", areas_count=8, agrees=True, **kwargs):
    """Everything, with an audit that agrees with the survey or does not."""
    made = synthetic.register(currency, areas_count=areas_count, **kwargs)
    per_week = "kg per household and week"
    gap = (0.05, -0.21, 0.33) if agrees else (0.41, 0.12, 0.74)
    add(made, "bins_given_target", 450.0, unit="bins")
    add(made, "kept_out_of_landfill_t_target", 8.0)
    for name, limits in (
        ("audit_food_kg_per_household_week_change", (-0.6, -0.9, -0.3)),
        ("survey_food_kg_per_household_week_change", (-0.65, -0.71, -0.58)),
        ("audit_less_survey_food_kg_per_household_week", gap),
    ):
        add(made, name, *limits, unit=per_week)
    add(made, "audit_detectable_food_kg_per_household_week", 0.432, unit=per_week)
    for whole, width in (("kept_out_of_landfill_t", 1.6), ("bins_in_use", 80.0)):
        value = made[whole].value
        add(made, f"{whole}_if_silent_stopped", value - width, value - 2 * width, value)
        add(made, f"{whole}_if_silent_kept", value + width, value, value + 2 * width)
    for step, tonnes in (("given", 19.1), ("fed", 12.3456), ("kept_out", 7.742)):
        add(made, f"gross_to_net[{step}]", tonnes, tonnes - 1.31, tonnes + 1.62)
    add(made, "gross_to_net_share[fed]", 0.646, 0.58, 0.71, unit="share")
    add(made, "gross_claim_t", 129.15)
    for rate, value in (("0.035", -41_270.0), ("0.07", -44_310.0)):
        add(made, f"net_present_value[{rate}]", value, value - 3100, value + 2900, unit=currency)
        add(made, f"benefit_cost_ratio[{rate}]", 0.31, 0.26, 0.36, unit="ratio")
    for line, value in (("landfill_methane", 9.87), ("bin_methane", -1.4), ("dropout", -0.2)):
        name = f"100_years.{line}"
        add(made, f"account_t_co2e[{name}]", value, value - 0.9, value + 0.8, unit="t CO2-e")
        add(made, f"account_conservative_t_co2e[{name}]", value - 1.27, unit="t CO2-e")
    for source, share in (("survey", 0.61), ("food_decay_rate_per_year", 0.39)):
        add(made, f"variance_share[{source}]", share, unit="share")
    add(made, "castings_t", 4.9, 1.8, 8.7)
    _add_worth(made, currency)
    _add_planned_and_habits(made)
    _add_earlier(made)
    return made


def _add_worth(made, currency):
    per_t = f"{currency} per t"
    add(made, "disposal_price_per_t", 140.0, unit=per_t)
    add(made, "cost_per_t_kept_out_service_life", 812.0, 640.0, 1010.0, unit=per_t)
    add(made, "fees_saved_per_t_service_life", 151.3, 149.9, 152.8, unit=per_t)
    add(made, "net_cost_per_t_kept_out_service_life", 660.0, 490.0, 860.0, unit=per_t)
    add(made, "same_money_t", 71.0, 57.0, 90.0)
    for way, gross, low, high in ((DEAR, 1400.0, 1200.0, 1800.0), (CHEAP, 300.0, 250.0, 380.0)):
        add(made, f"other_way_cost_per_t[{way}]", gross, low, high, unit=per_t)
        net = (one - 140.0 for one in (gross, low, high))
        add(made, f"other_way_net_cost_per_t[{way}]", *net, unit=per_t)
        add(made, f"other_way_t[{way}]", 58e3 / gross, 58e3 / high, 58e3 / low)
    add(made, "target_reached_share[kept_out_of_landfill_t]", 0.41, unit="share")


def _add_planned_and_habits(made):
    add(made, "already_composting_share", 0.27, 0.19, 0.36, unit="share")
    for habit, share in (("already_composted", 0.31), ("did_not_compost", 0.77)):
        name = f"landfill_share_by_habit[{habit}]"
        add(made, name, share, share - 0.11, share + 0.12, unit="share")
    for name, planned, ratio in (
        ("bins_given", (450.0,), (1.05, None, None)),
        ("kept_out_of_landfill_t", (9.6, 8.8, 11.0), (0.806, 0.52, 1.24)),
        ("retention_12_months", (0.83, 0.79, 0.87), (0.83, 0.75, 0.91)),
    ):
        add(made, f"planned[{name}]", *planned, unit=made[name].unit)
        add(made, f"measured_over_planned[{name}]", *ratio, unit="ratio")


def _add_earlier(made):
    for name, then, printed in (("fed_t", 5.5, 5.1), ("kept_out_of_landfill_t", 3.4, 3.3)):
        change = made[name].value - then
        add(made, f"{name}_of_year[{EARLIER}]", then, then - 0.84, then + 0.93)
        add(made, f"{name}_change[{EARLIER}]", change, change - 1.1, change + 1.2)
        add(made, f"{name}_reported[{EARLIER}]", printed, printed - 0.84, printed + 0.93)
        reasons = "Restated for these reasons: data: files loaded since."
        add(made, f"{name}_restated[{EARLIER}]", then - printed, method=reasons)


def _charts():
    """Three small pictures under the names of charts, quickly drawn."""
    for section, name in (
        ("results", "kept_out_by_month"),
        ("areas", "kept_out_by_area"),
        ("chain", "retention_by_age"),
    ):
        png = io.BytesIO()
        Image.new("RGB", (72, 38), "white").save(png, "PNG")
        svg = b'<svg xmlns="http://www.w3.org/2000/svg" width="72" height="38"/>'
        words = name.replace("_", " ")
        told = (f"Finding of {words}", f"Reading of {words}", f'Words of {words}: "1 < 2" & more')
        yield Picture(name, *told, png.getvalue(), svg, section)


def contents(folder: Path | None = None, made=None, areas_count=8, **program):
    """Contents of a report; with a folder, pictures in the place of charts are put there."""
    currency = program.get("currency", "GBP")
    made = made or register(currency, areas_count)
    council = synthetic.program(**program)
    names = synthetic.area_names(areas_count)
    charts = () if folder is None else tuple(_charts())
    return Contents(made, council, read_factors(), names, synthetic.quality(), charts)
