"""A register of an invented council, with numbers of its own, for tests of the renderers.

Nothing here was estimated: areas and months are invented, their intervals are given.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl

from planner.factors import read_factors
from planner.figures import Figure, FigureRegister, Input
from planner.program import Program
from planner.report.document.contents import Quality
from tests.prose import HIDDEN

LABEL = "2025-26"
ROUTES = ("residual_bin", "garden_compost", "kerbside_organics", "animals", "other")
BASES = ("in_year", "to_date", "100_years")


def program(
    country_locale: str = "en_GB",
    currency: str = "GBP",
    name: str = "Brackwell Council (invented)",
    **year: float | None,
) -> Program:
    """Program file of the invented council."""
    block = {
        "reporting_year": LABEL,
        "budget": 60_000.0,
        "landfill_levy_per_t": 103.70,
        "gate_fee_per_t": 40.0,
        "bins_given_target": 450,
        "kept_out_of_landfill_t_target": 8.0,
    } | year
    return Program.model_validate(
        {
            "council": {
                "name": name,
                "country_locale": country_locale,
                "currency": currency,
                "reporting_year_first_month": 7,
            },
            "landfill": {
                "climate": "boreal_temperate_wet",
                "management": "managed_anaerobic",
                "cover": "oxidising",
                "landfilled_share_of_residual_waste": 0.9,
                "gas_capture": [{"from_age_years": 0, "captured_share": 0.0}],
            },
            "method": {
                "edition": "ipcc_2006",
                "gwp_set": "ar5",
                "draws_count": 1000,
                "seed": 1,
            },
            "climate": {"monthly_mean_temperature_c": [10.0] * 12},
            "privacy": {"small_cell_threshold": 10},
            "bin_models": [
                {
                    "model_id": "two_tray",
                    "model_name": "Two-tray bin",
                    "trays_count": 2,
                    "tray_area_m2": 0.16,
                    "plastic_kg": 6.0,
                    "plastic_recycled_share": 1.0,
                    "service_life_years": 10,
                    "unit_price": 60.0,
                }
            ],
            "reporting_years": [{k: v for k, v in block.items() if v is not None}],
        }
    )


def area_names(areas_count: int = 8) -> dict[str, str]:
    """Names of the areas; the last two are hidden, one looks like a spreadsheet formula."""
    known = ["Harbour", "Northfield", "=Mill Lane", "Old Town", "Station Quarter", "Weir Meadows"]
    more = [f"Parish of the {n}th Milestone" for n in range(7, areas_count - 1)]
    names = [*[*known, *more][: areas_count - 2], "Tiny Hamlet", "Little Green"]
    return {f"a{place:03d}": name for place, name in enumerate(names)}


def register(
    currency: str = "GBP",
    months_count: int = 24,
    areas_count: int = 8,
    council: str = "Brackwell Council (invented)",
) -> FigureRegister:
    """Every figure that the renderers know."""
    made = FigureRegister(
        council, LABEL, "0.0.test", ("L1 households.xlsx (2026-06-01)", "L2 @odd.csv (2026-07-02)")
    )
    _add_whole(made)
    _add_emissions(made)
    _add_money(made, currency)
    _add_survey(made)
    _add_areas(made, areas_count)
    _add_months(made, months_count)
    return made


def quality() -> Quality:
    """Frames of the page of data quality, with text that a spreadsheet would run."""
    return Quality(
        loads=pl.DataFrame(
            {
                "load_id": ["L1", "L2"],
                "file": ["households.xlsx", "@odd.csv"],
                "loaded_at": [dt.datetime(2026, 6, 1, 9, 30), dt.datetime(2026, 7, 2, 11, 0)],
                "sheet": ["Households", "+cmd"],
                "table_name": ["households", "answers"],
                "rows_read": [512, 240],
                "new_count": [500, 236],
                "corrected_count": [3, 0],
                "refused_count": [4, 4],
            }
        ),
        refusals=pl.DataFrame(
            {
                "file": ["@odd.csv"],
                "sheet": ["+cmd"],
                "table_name": ["answers"],
                "column_name": ["fed_kg_last_week"],
                "reason": ['=HYPERLINK("http://example.invalid")'],
                "cells_count": [4],
                "rows_count": [4],
            }
        ),
        waves=pl.DataFrame(
            {
                "wave_id": ["base", "follow", "little"],
                "wave_kind": ["baseline", "followup", "followup"],
                "opens_date": [dt.date(2024, 5, 1), dt.date(2026, 5, 1), dt.date(2026, 6, 1)],
                "asked_count": [400, 300, None],
                "answers_count": [260, 171, 7],
                "again_count": [0, 0, 0],
            }
        ),
        audits=pl.DataFrame(
            {
                "arm": ["comparison", "given"],
                "period": ["after", "after"],
                "audits_count": [6, 6],
                "clusters_count": [6, 6],
                "households_count": [118, 9],
                "food_kg_per_household_week": [2.61, 1.9876],
                "residual_kg_per_household_week": [7.4, 6.8],
            }
        ),
        checks=pl.DataFrame(
            {
                "check_name": ["given_back_early", "odd_answers", "few_answers"],
                "severity": ["wrong", "doubtful", "doubtful"],
                "title": ["bins that came back too early", "=SUM(A1)", "few answers"],
                "table_name": ["givebacks", "answers", "waves"],
                "advice": ["Correct the date.", "Look again.", "Load the rest."],
                "rows_count": [4, 23, 2],
            }
        ),
    )


def _spread(value: float, width: float) -> tuple[float, float, float]:
    return value, value * (1 - width), value * (1 + 1.2 * width)


def _add(
    made: FigureRegister,
    figure_id: str,
    label: str,
    value: float,
    width: float | None,
    unit: str,
    inputs: tuple[Input, ...] = (),
) -> None:
    low, high = (None, None) if width is None else _spread(value, width)[1:]
    method = f"Made up for tests: {label.lower()}."
    made.add(Figure(figure_id, label, value, low, high, unit, method, inputs))


def _factor_input() -> Input:
    factor = read_factors().factors[0]
    return Input("factor", "/".join(part for part in factor.key if part), f"{factor.value:g}")


def _add_whole(made: FigureRegister) -> None:
    counted = (Input("query", "bins_by_area", "8 rows"),)
    of_feed = (Input("figure", "bins_in_use"), Input("figure", "feed_kg_per_bin_week"))
    of_kept = (Input("figure", "fed_t"), Input("figure", "landfill_share"))
    setting = (Input("program", "landfill.landfilled_share_of_residual_waste", "0.9"),)
    for figure_id, label, value, width, unit, inputs in (
        ("bins_given", "Bins given in the year", 472.0, None, "bins", counted),
        ("bins_given_to_date", "Bins given to date", 861.0, None, "bins", counted),
        ("households_served", "Households served in the year", 468.0, None, "households", counted),
        (
            "households_served_to_date",
            "Households served to date",
            850.0,
            None,
            "households",
            counted,
        ),
        ("bins_in_use", "Bins in use at the end of the year", 611.3, 0.06, "bins", counted),
        (
            "feed_kg_per_bin_week",
            "Food scraps fed to an in-use bin",
            0.4567,
            0.18,
            "kg a week",
            (Input("query", "followup_answers", "171 rows"), _factor_input()),
        ),
        ("fed_t", "Food scraps fed to bins in the year", 12.3456, 0.2, "t", of_feed),
        ("fed_to_date_t", "Food scraps fed to bins to date", 17.9, 0.2, "t", of_feed),
        (
            "landfill_share",
            "Share of the scraps that was landfilled before",
            0.6271,
            0.08,
            "share",
            setting,
        ),
        (
            "kept_out_of_landfill_t",
            "Food scraps kept out of landfill in the year",
            7.742,
            0.21,
            "t",
            of_kept,
        ),
        (
            "kept_out_kg_per_household",
            "Kept out of landfill for each household with a bin",
            18.21,
            0.21,
            "kg",
            of_kept,
        ),
        ("composted_anyway_share", "Share composted anyway", 0.046, 0.4, "share", setting),
        ("thrown_away_share", "Share thrown away after all", 0.057, 0.4, "share", setting),
        (
            "kept_out_of_landfill_to_date_t",
            "Food scraps kept out of landfill to date",
            11.2,
            0.21,
            "t",
            of_kept,
        ),
        (
            "moved_from_other_routes_t",
            "Food scraps moved from other routes in the year",
            4.6036,
            0.25,
            "t",
            of_kept,
        ),
    ):
        _add(made, figure_id, label, value, width, unit, inputs)


def _add_emissions(made: FigureRegister) -> None:
    for basis, methane, gases in zip(BASES, (1.94, 2.31, 9.87), (2.1, 3.2, 2.1), strict=True):
        parts = (f"landfill_methane_avoided_{basis}_t_co2e", f"bin_process_gases_{basis}_t_co2e")
        _add(
            made,
            parts[0],
            f"Landfill methane avoided, {basis}",
            methane,
            0.4,
            "t CO2-e",
            (Input("figure", "kept_out_of_landfill_t"), _factor_input()),
        )
        _add(
            made,
            parts[1],
            f"Gases of the bins, {basis}",
            gases,
            0.5,
            "t CO2-e",
            (Input("figure", "fed_t"),),
        )
        made.add(
            Figure(
                f"emissions_avoided_{basis}_t_co2e",
                f"Emissions avoided, {basis}",
                methane - gases,
                methane - gases - 1.3,
                methane - gases + 1.4,
                "t CO2-e",
                "Methane less gases.",
                tuple(Input("figure", name) for name in parts),
            )
        )
    by_year = 9.87 * np.exp(-0.185 * np.arange(101)) * (1 - np.exp(-0.185))
    for n, methane in enumerate(by_year.tolist()):
        _add(
            made,
            f"landfill_methane_avoided_by_year_t_co2e[{n}]",
            f"Methane {n} years on",
            methane,
            0.4,
            "t CO2-e",
        )


def _add_money(made: FigureRegister, currency: str) -> None:
    ledger = (Input("query", "costs_by_category", "3 rows"),)
    for figure_id, label, value, width, unit in (
        ("program_cost", "Program cost in the year", 58_204.55, None, currency),
        ("program_cost_to_date", "Program cost to date", 99_412.10, None, currency),
        ("program_cost[bins]", "Program cost in the year: bins", 31_004.15, None, currency),
        ("program_cost[staff]", "Program cost in the year: staff", 29_300.40, None, currency),
        (
            "program_cost[copayments_received]",
            "Program cost in the year: copayments received",
            -2_100.0,
            None,
            currency,
        ),
        ("budget", "Budget of the year", 60_000.0, None, currency),
        (
            "avoided_disposal_cost",
            "Levy and gate fee saved in the year",
            1_112.5,
            0.21,
            currency,
        ),
        (
            "cost_per_t_kept_out",
            "Program cost in the year for each tonne kept out in the year",
            7_518.0,
            0.22,
            f"{currency} per t",
        ),
        (
            "cost_per_t_kept_out_to_date",
            "Program cost to date for each tonne kept out to date",
            8_876.1,
            0.22,
            f"{currency} per t",
        ),
    ):
        _add(made, figure_id, label, value, width, unit, ledger)
    made.add(
        Figure(
            "cost_per_t_co2e",
            "Program cost in the year for each tonne CO2-e",
            None,
            None,
            None,
            f"{currency} per t",
            "Not given: the quantity under the line may be nothing.",
        )
    )


def _add_survey(made: FigureRegister) -> None:
    answers = (Input("query", "followup_answers", "171 rows"),)
    in_use = np.exp(-((np.arange(37) / 40.0) ** 0.8))
    _add(
        made,
        "retention_12_months",
        "Share of bins still in use 12 months after the hand-over",
        float(in_use[12]),
        0.08,
        "share",
        answers,
    )
    for age, share in enumerate(in_use.tolist()):
        _add(
            made,
            f"retention_by_age[{age}]",
            f"Share of bins in use {age} months on",
            share,
            0.001 + 0.006 * age,
            "share",
            answers,
        )
    _add(made, "weighed_kg_per_reported_kg", "What a reported kilogram weighs", 0.83, 0.1, "kg")
    _add(made, "weighed_kg_per_reported_litre", "What a reported litre weighs", 0.47, 0.2, "kg")
    for route, share in zip(ROUTES, (0.7, 0.15, 0.08, 0.05, 0.02), strict=True):
        _add(
            made,
            f"prior_route_share[{route}]",
            f"Share of the scraps that went to {route.replace('_', ' ')} before",
            share,
            0.15,
            "share",
        )
    for wave, share in (("base", 0.65), ("follow", 0.57)):
        _add(
            made,
            f"response_share[{wave}]",
            f"Share that answered in round {wave}",
            share,
            None,
            "share",
        )
    _add(
        made,
        "surveyed_to_modelled_feed[follow]",
        "Surveyed over modelled feed in round follow",
        0.94,
        0.17,
        "ratio",
    )


def _add_areas(made: FigureRegister, areas_count: int) -> None:
    names = area_names(areas_count)
    for place, (area_id, name) in enumerate(names.items()):
        part = 1.0 / (place + 2.0)
        quantities = (
            ("bins_given", "bins given in the year", 60.0 + place, None, "bins"),
            ("bins_in_use", "bins in use at the end of the year", 80.0 * part, 0.1, "bins"),
            ("fed_t", "fed in the year", 5.1 * part, 0.25, "t"),
            ("landfill_share", "landfilled before", 0.6, 0.1, "share"),
            ("kept_out_kg_per_household", "kept out per household", 21.37, 0.3, "kg"),
            ("chance_in_top_third", "chance of the top third", 0.41, None, "share"),
            ("kept_out_of_landfill_t", "kept out in the year", 3.3 * part, 0.3, "t"),
        )
        is_hidden = place >= areas_count - 2
        for figure_id, label, value, width, unit in quantities:
            if is_hidden:
                made.add(
                    Figure(
                        f"{figure_id}[{area_id}]",
                        f"{name}: {label}",
                        None,
                        None,
                        None,
                        unit,
                        HIDDEN,
                    )
                )
            else:
                _add(made, f"{figure_id}[{area_id}]", f"{name}: {label}", value, width, unit)


def _add_months(made: FigureRegister, months_count: int) -> None:
    last = 2026 * 12 + 5
    for place in range(months_count):
        year, month = divmod(last - months_count + 1 + place, 12)
        name = f"{year}-{month + 1:02d}"
        season = 1.0 + 0.3 * float(np.sin(place / 12.0 * 2.0 * np.pi))
        level = season * (place + 1) / months_count
        _add(
            made,
            f"bins_given_in_month[{name}]",
            f"Bins given in {name}",
            20.0 + place % 7,
            None,
            "bins",
        )
        _add(
            made,
            f"bins_in_use_at_month_end[{name}]",
            f"Bins in use at the end of {name}",
            611.3 * (place + 1) / months_count,
            0.06,
            "bins",
        )
        _add(made, f"fed_t_in_month[{name}]", f"Food scraps fed in {name}", 1.2 * level, 0.2, "t")
        _add(
            made,
            f"kept_out_of_landfill_t_in_month[{name}]",
            f"Kept out in {name}",
            0.75 * level,
            0.21,
            "t",
        )
