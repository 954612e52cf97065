"""Figures of buying against breeding."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner import __version__
from planner.figures import Figure, FigureRegister, Input
from planner.program import label_of_date
from planner.report.inputs import of_factors

if TYPE_CHECKING:
    import datetime as dt

    from planner.factors import FactorTable
    from planner.ordering.breeding import BuyOrBreed, Seeding
    from planner.program import Program

SETTINGS = Input("program", "[nursery]")
EVENTS = Input("query", "upcoming_events", "hand-over days ahead")
MODEL = (
    "Cocoons, young and adults day by day at the temperature of the bed, held to the doubling "
    "time of worked beds: most hatchlings die. Never the biological maximum."
)
FACTOR_IDS = ("doubling_days", "ceiling_kg_per_m2", "starting_kg_per_m2", "adult_mass_g")
BED = "bed"


def register_breeding(
    found: BuyOrBreed, program: Program, factors: FactorTable, from_date: dt.date
) -> FigureRegister:
    """Register what is needed, what each seeding takes and costs, and what is ready when.

    Parameters
    ----------
    found
        Seedings and the price of buying.
    program
        Names the council and its currency.
    factors
        Citations of the life history.
    from_date
        Day from which is planned.
    """
    label = label_of_date(from_date, program.council.reporting_year_first_month)
    register = FigureRegister(program.council.name, label, __version__)
    currency = program.council.currency
    register.add_exact(
        "worms_needed_kg",
        "Worms for all hand-over days",
        found.needed_kg,
        "kg",
        "Households that come at the level of service × worms for a bin.",
        (SETTINGS, EVENTS),
    )
    register.add_exact(
        "worms_bought_cost",
        "Price of buying them, before freight and losses",
        found.buying_cost,
        currency,
        "Mass × the cheapest price for a kilogram.",
        (Input("figure", "worms_needed_kg"), SETTINGS),
    )
    rows = [factors.find(name, BED if name == "doubling_days" else "") for name in FACTOR_IDS]
    inputs = (SETTINGS, EVENTS, *of_factors(factors, rows))
    for seeding in found.seedings:
        _add_seeding(register, found, seeding, currency, inputs)
    return register


def _add_seeding(
    register: FigureRegister,
    found: BuyOrBreed,
    seeding: Seeding,
    currency: str,
    inputs: tuple[Input, ...],
) -> None:
    part = seeding.seed_date.isoformat()
    plan = seeding.plan
    if plan is None:
        name = f"nursery_seed_kg[{part}]"
        words = f"Worms to seed on {part}"
        register.add(Figure(name, words, None, None, None, "kg", seeding.reason, inputs))
        return
    for name, words, value, unit, method in (
        ("nursery_seed_kg", "Worms to seed", plan.seed_kg, "kg", f"Least that does. {MODEL}"),
        (
            "nursery_bed_m2",
            "Bed to seed them on",
            plan.area_m2,
            "m²",
            "Seed at the starting density, or all the bed there is.",
        ),
        (
            "nursery_chance",
            "Chance that no hand-over day lacks worms",
            plan.chance,
            "share",
            "Share of the draws.",
        ),
        ("nursery_cost", "Seed, beds and care", seeding.cost, currency, "Added up."),
    ):
        register.add_exact(
            f"{name}[{part}]", f"{words}, seeded on {part}", value, unit, method, inputs
        )
    for place, need in enumerate(found.needs):
        register.add_draws(
            f"nursery_ready_kg[{part}/{need.event_id}]",
            f"Worms in the bed for {need.event_id}, seeded on {part}",
            plan.ready_kg[:, place],
            "kg",
            MODEL,
            inputs,
        )
