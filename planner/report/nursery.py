"""What a nursery of the council's own would take: figures, and a workbook to decide by."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner import __version__
from planner.cells import Day, Number
from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, Input
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE
from planner.program import label_of_date
from planner.report.inputs import of_factors
from planner.report.orders.cautions import add_cautions
from planner.report.wording import Wording, decimals
from planner.report.workbook.book import Book
from planner.report.workbook.formats import money_cell
from planner.store.files import write_whole

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from planner.cells import Cell
    from planner.factors import FactorTable
    from planner.ordering.breeding import BuyOrBreed, Seeding
    from planner.program import Program

NURSERY_FOLDER = "nursery"
NURSERY_FILE = "nursery.xlsx"
WIDTHS = (22, *[14] * 7)
KILOGRAMS = "#,##0.0"
CARE = (
    "Weigh a square metre of bed each month and compare it with the plan; order the rest in time "
    "where it falls behind.",
    "Keep beds damp and shaded, feed little and often, and take no more than the plan says: a "
    "harvest too many is felt for months.",
    "Declare the species to the biosecurity office where that is asked, keep beds closed to "
    "other worms, and never release any.",
)

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


def write_breeding(
    folder: Path,
    found: BuyOrBreed,
    register: FigureRegister,
    program: Program,
    day: dt.date,
    notes: Sequence[str],
) -> tuple[Path, ...]:
    """Write the workbook and the figures.

    Parameters
    ----------
    folder
        Program folder.
    found, register
        What is said.
    program
        Locale and currency.
    day
        Day from which is planned; it dates the file.
    notes
        What should be known before it is used.

    Raises
    ------
    ReportError
        A file cannot be written.
    """
    council = program.council.name
    book = Book("Worms of our own", council, Wording.of(program), council)
    _add_decision(book, found, register, notes)
    _add_ready(book, found, register)
    _add_care(book)
    place = folder / NURSERY_FOLDER
    contents = {
        NURSERY_FILE: book.contents(dt.datetime.combine(day, dt.time())),
        FIGURES_FILE: register.to_json().encode(),
        FIGURES_TABLE_FILE: register.to_csv().encode("utf-8-sig"),
    }
    try:
        place.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            write_whole(place / name, content)
    except OSError as error:
        message = f"{place}: cannot be written ({error.strerror}). Close its files, then try again."
        raise ReportError(message, path=str(place)) from error
    return tuple(place / name for name in contents)


VERDICTS = {
    "less": "Breeding costs less than buying",
    "more": "Breeding costs more than buying",
    "same": "Breeding and buying cost the same as far as can be told",
}


def decision(found: BuyOrBreed, wording: Wording) -> str:
    """Say in one sentence which costs less; none where the draws cannot tell them apart."""
    buying = wording.money(found.buying_cost)
    bought = f"{wording.number(found.needed_kg)} kg"
    best = found.cheapest
    if best is None or best.plan is None:
        return f"No seeding serves these hand-over days: buy {bought} for {buying}."
    low, high = (wording.money(limit) for limit in best.cost_within(found.needs))
    return (
        f"{VERDICTS[found.verdict]}: {wording.money(best.cost)} ({low} to {high}) when "
        f"{wording.number(best.plan.seed_kg)} kg are seeded on {wording.day(best.seed_date)}, "
        f"against {buying} for {bought} bought."
    )


def left_out(program: Program) -> str:
    """Say which costs of breeding are not in the sum because none are written down."""
    block = program.nursery
    costs = (
        {}
        if block is None
        else {
            "bed_cost_per_m2": block.bed_cost_per_m2,
            "care_cost_per_m2_week": block.care_cost_per_m2_week,
        }
    )
    missing = [name for name, cost in costs.items() if not cost]
    if not missing:
        return ""
    return (
        f"Counted as nothing: {' and '.join(missing)}. Write what it costs under [nursery] of "
        "program.toml before you decide."
    )


def _add_decision(
    book: Book, found: BuyOrBreed, register: FigureRegister, notes: Sequence[str]
) -> None:
    wording = book.wording
    page = book.add("Buy or breed", WIDTHS)
    page.title("Buy worms or breed them")
    page.lead(decision(found, wording))
    for note in notes:
        page.note(note)
    page.note(register["worms_needed_kg"].method)
    page.note(
        "Each seeding is the least that leaves no hand-over day short with the chance asked for. "
        "The beds of a plan double as worked beds do, in 60 to 90 days, and never as fast as "
        "worms could. Freight, losses on the way and staff beyond care are on neither side."
    )
    page.row += 1
    page.table(
        ("seeded on", "seed, kg", "bed, m²", "chance", "seed", "beds", "care", "together"),
        [_seeding_cells(one, wording) for one in found.seedings],
        ["buying instead", *[None] * 6, money_cell(found.buying_cost, wording)],
    )
    for one in found.seedings:
        if one.plan is None:
            page.note(f"{wording.day(one.seed_date)}: {one.reason}")
    page.finish(book.footer, landscape=True)


def _seeding_cells(one: Seeding, wording: Wording) -> list[Cell]:
    plan = one.plan
    if plan is None:
        return [Day(one.seed_date), Number(None, words="no seed does"), *[None] * 6]
    return [
        Day(one.seed_date),
        Number(plan.seed_kg, KILOGRAMS),
        Number(plan.area_m2, KILOGRAMS),
        Number(plan.chance, "0%"),
        *(
            money_cell(cost, wording)
            for cost in (one.seed_cost, one.bed_cost, one.care_cost, one.cost)
        ),
    ]


def _add_ready(book: Book, found: BuyOrBreed, register: FigureRegister) -> None:
    """Write what stands in the bed for each hand-over day, with the cheapest seeding."""
    best = found.cheapest
    if best is None:
        return
    page = book.add("Worms ready", WIDTHS)
    page.title(f"Worms in the bed, seeded on {book.wording.day(best.seed_date)}")
    page.note("Before each harvest; from and to are the limits of the 95% interval.")
    page.row += 1
    rows: list[list[Cell]] = []
    for need in found.needs:
        figure = register[f"nursery_ready_kg[{best.seed_date.isoformat()}/{need.event_id}]"]
        code = f"#,##0{'.0' if decimals(figure) > 0 else ''}"
        ready = [Number(value, code) for value in (figure.value, figure.low, figure.high)]
        rows.append([need.event_id, Day(need.on_date), Number(need.worms_kg, KILOGRAMS), *ready])
    page.table(("hand-over day", "date", "wanted, kg", "ready, kg", "from", "to"), rows)
    page.finish(book.footer, landscape=True)


def _add_care(book: Book) -> None:
    with book.page("Cautions", (110,)) as page:
        page.title("Care of the beds, and cautions")
        for line in CARE:
            page.note(f"• {line}")
        add_cautions(page)
