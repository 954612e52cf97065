"""What one bin does in each area and dwelling: figures and their page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report.inputs import of_figures
from planner.report.workbook.cells import columns_of_figures
from planner.report.workbook.page import Page
from planner.sizing.outcome import life_share
from planner.tables import DWELLINGS
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from openpyxl import Workbook

    from planner.figures import FigureRegister
    from planner.report.wording import Wording
    from planner.sizing.sizing import Sizing

KEPT_OUT = (
    "Weeks at full feed over the horizon × feed × share landfilled before, of a bin of the first "
    "model that suits, given in the first round."
)
COLUMNS = (
    ("plan_one_bin_kept_out_kg", "kept out of landfill", "kg", KEPT_OUT),
    (
        "plan_one_bin_net_kg_co2e",
        "emissions avoided",
        "kg CO2-e",
        "Landfill methane avoided less the bin's gases and making.",
    ),
)


def add_one_bin(register: FigureRegister, sizing: Sizing) -> None:
    """Add what one bin keeps out, avoids and costs in each area and dwelling.

    Parameters
    ----------
    register
        Takes the figures.
    sizing
        The answers.
    """
    groups, world, settings = sizing.context.groups, sizing.main.world, sizing.main.settings
    currency = sizing.program.council.currency
    rates = world.rates
    for place, label in enumerate(groups.labels):
        code = int(groups.dwelling[place])
        if not settings.suits[code].any():
            continue
        model = int(np.argmax(settings.suits[code]))
        weeks = world.bins[code][model].full_feed_weeks[:, :, 0].sum(axis=1)
        fed = weeks * world.feed_kg_per_week[:, place]
        kept_out = fed * world.landfill_share[:, place]
        making = (rates.making_kg_co2e * life_share(settings))[:, model]
        net = (
            kept_out * rates.avoided_kg_co2e_per_t - fed * rates.caused_kg_co2e_per_t
        ) / KG_PER_T - making
        cost = (world.price + world.other_cost)[:, model]
        for (name, words, unit, method), draws in zip(COLUMNS, (kept_out, net), strict=True):
            register.add_draws(
                f"{name}[{label}]",
                f"One bin in {label}: {words}",
                draws,
                unit,
                method,
                of_figures("plan_kept_out_t"),
            )
        register.add_draws(
            f"plan_one_bin_cost[{label}]",
            f"One bin in {label}: cost",
            cost,
            currency,
            "Price, worms, bedding and hand-over, less the co-payment.",
            of_figures("plan_cost"),
        )


def add_one_bin_page(
    workbook: Workbook,
    register: FigureRegister,
    sizing: Sizing,
    wording: Wording,
    footer: str,
) -> None:
    """Write one row for each area and dwelling.

    Parameters
    ----------
    workbook
        Takes the page.
    register, sizing, wording, footer
        What is said.
    """
    page = Page(workbook, "One bin", (26, 14, 13, 10, 10, 13, 10, 10, 13, 10, 10))
    years = sizing.main.settings.horizon_years
    page.title(f"What one bin does over {years} years")
    page.note(KEPT_OUT)
    groups = sizing.context.groups
    names = ("plan_one_bin_kept_out_kg", "plan_one_bin_net_kg_co2e", "plan_one_bin_cost")
    shown = [n for n, label in enumerate(groups.labels) if f"{names[0]}[{label}]" in register]
    if not shown:
        page.note("No model suits any dwelling.")
        page.finish(footer)
        return
    columns = [[register[f"{name}[{groups.labels[n]}]"] for n in shown] for name in names]
    cells = columns_of_figures([[*column, column[-1]] for column in columns], wording)[:-1]
    page.table(
        (
            "area",
            "dwelling",
            "kept out, kg",
            "low",
            "high",
            "avoided, kg CO2-e",
            "low",
            "high",
            "cost",
            "low",
            "high",
        ),
        [
            [groups.area_names[groups.area[n]], DWELLINGS[groups.dwelling[n]], *row]
            for n, row in zip(shown, cells, strict=True)
        ],
        stays_in_sight=True,
    )
    page.finish(footer, landscape=True)
