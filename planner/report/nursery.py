"""What a nursery of the council's own would take: figures, and a workbook to decide by."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from planner.cells import Cell, Number
from planner.errors import ReportError
from planner.figures import FigureRegister, Input
from planner.messages import said
from planner.paths import NURSERY_FOLDER
from planner.program import Program, label_of_date
from planner.report.inputs import WordedFigures, factor_inputs
from planner.report.orders.order import day_cell
from planner.report.orders.papers import add_cautions
from planner.report.wording import Wording, decimals, listing
from planner.report.workbook.formats import money_cell, number_format
from planner.report.workbook.page import Book
from planner.store.files import disk_faults, write_whole

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.ordering.breeding import BuyOrBreed, Seeding

NURSERY_FILE = "nursery.xlsx"
WIDTHS = (22, *[14] * 7)
KILOGRAMS = "#,##0.0"
COSTS = ("seeded", "seed_kg", "bed", "chance", "seed", "beds", "care", "together")
CARE = ("weigh", "keep", "declare")
SETTINGS = Input("program", "[nursery]")
FACTOR_IDS = ("doubling_days", "ceiling_kg_per_m2", "starting_kg_per_m2", "adult_mass_g")
BED = "bed"


def register_breeding(
    found: BuyOrBreed, program: Program, factors: FactorTable, from_date: dt.date
) -> FigureRegister:
    """Register what is needed, what each seeding takes and costs, and what is ready when."""
    label = label_of_date(from_date, program.council.reporting_year_first_month)
    figures = WordedFigures.of(program, label, "nursery.figure.")
    currency, needed = program.council.currency, "worms_needed_kg"
    ahead = (SETTINGS, Input("query", "upcoming_events", said("nursery.events_ahead")))
    figures.put(needed, "needed", found.needed_kg, "kg", "needed_method", *ahead)
    cost, rests_on = found.buying_cost, (needed, SETTINGS)
    figures.put("worms_bought_cost", "bought", cost, currency, "bought_method", *rests_on)
    rows = [factors.find(name, BED if name == "doubling_days" else "") for name in FACTOR_IDS]
    inputs = (*ahead, *factor_inputs(factors, rows))
    for seeding in found.seedings:
        _add_seeding(figures, found, seeding, currency, inputs)
    return figures.register


def _add_seeding(
    figures: WordedFigures,
    found: BuyOrBreed,
    seeding: Seeding,
    currency: str,
    inputs: tuple[Input, ...],
) -> None:
    part, plan = seeding.seed_date.isoformat(), seeding.plan
    if plan is None:
        figures.put(
            f"nursery_seed_kg[{part}]", "none", None, "kg", seeding.reason, *inputs, day=part
        )
        return
    model = said("nursery.model")
    for name, key, value, unit in (
        ("nursery_seed_kg", "seed", plan.seed_kg, "kg"),
        ("nursery_bed_m2", "bed", plan.area_m2, "m²"),
        ("nursery_chance", "chance", plan.chance, "share"),
        ("nursery_cost", "cost", seeding.cost, currency),
    ):
        told = {"words": said(f"nursery.figure.{key}"), "day": part}
        method = said(f"nursery.figure.{key}_method", model=model)
        figures.put(f"{name}[{part}]", "seeded_on", value, unit, method, *inputs, **told)
    for place, need in enumerate(found.needs):
        name = f"nursery_ready_kg[{part}/{need.event_id}]"
        told = {"words": said("nursery.figure.ready", event=need.event_id), "day": part}
        ready_kg = plan.ready_kg[:, place]
        figures.put(name, "seeded_on", ready_kg, "kg", model, *inputs, **told)


def write_breeding(
    folder: Path,
    found: BuyOrBreed,
    register: FigureRegister,
    program: Program,
    day: dt.date,
    notes: Sequence[str],
) -> tuple[Path, ...]:
    """Write the workbook, dated by the day from which is planned, and the figures.

    Raises
    ------
    ReportError
        A file cannot be written.
    """
    council = program.council.name
    book = Book(said("nursery.book"), council, Wording.of(program), council)
    _add_decision(book, found, register, notes)
    _add_ready(book, found, register)
    _add_care(book)
    place = folder / NURSERY_FOLDER
    contents = {
        NURSERY_FILE: book.contents(dt.datetime.combine(day, dt.time())),
        **register.contents(),
    }
    with disk_faults(place, "nursery.unwritten", ReportError):
        place.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            write_whole(place / name, content)
    return tuple(place / name for name in contents)


def decision(found: BuyOrBreed, wording: Wording) -> str:
    """Say in one sentence which costs less; none where the draws cannot tell them apart."""
    words, best = wording.words, found.cheapest
    buying, bought = wording.money(found.buying_cost), wording.number(found.needed_kg)
    if best is None or best.plan is None:
        return words.say("nursery.no_seeding", kg=bought, cost=buying)
    low, high = (wording.money(limit) for limit in best.cost_within(found.needs))
    return words.say(
        "nursery.decision",
        verdict=words.say(f"nursery.verdict.{found.verdict(best)}"),
        cost=wording.money(best.cost),
        low=low,
        high=high,
        seed=wording.number(best.plan.seed_kg, 1),
        day=wording.day(best.seed_date),
        buying=buying,
        kg=bought,
    )


def left_out(program: Program) -> str:
    """Say which costs of breeding are not in the sum because none are written down."""
    costs = () if program.nursery is None else ("bed_cost_per_m2", "care_cost_per_m2_week")
    missing = [name for name in costs if not getattr(program.nursery, name)]
    return said("nursery.left_out", names=listing(missing)) if missing else ""


def _add_decision(
    book: Book, found: BuyOrBreed, register: FigureRegister, notes: Sequence[str]
) -> None:
    wording = book.wording
    page = book.page("nursery.sheet.decision", WIDTHS, landscape=True)
    page.title("nursery.title")
    page.lead(decision(found, wording))
    for note in notes:
        page.note(note)
    page.note(register["worms_needed_kg"].method)
    page.note("nursery.note")
    page.row += 1
    page.table(
        [f"nursery.column.{name}" for name in COSTS],
        [_seeding_cells(one, wording) for one in found.seedings],
        [said("nursery.buying_instead"), *[None] * 6, money_cell(found.buying_cost, wording)],
    )
    for one in found.seedings:
        if one.plan is None:
            page.note(f"{wording.day(one.seed_date)}: {one.reason}")


def _seeding_cells(one: Seeding, wording: Wording) -> list[Cell]:
    plan = one.plan
    if plan is None:
        none = Number(None, words=said("nursery.no_seed"))
        return [day_cell(one.seed_date, wording), none, *[None] * 6]
    return [
        day_cell(one.seed_date, wording),
        Number(plan.seed_kg, KILOGRAMS),
        Number(plan.area_m2, KILOGRAMS),
        Number(plan.chance, number_format("share", 0, wording)),
        *(money_cell(c, wording) for c in (one.seed_cost, one.bed_cost, one.care_cost, one.cost)),
    ]


def _add_ready(book: Book, found: BuyOrBreed, register: FigureRegister) -> None:
    """Write what stands in the bed for each hand-over day, with the cheapest seeding."""
    best = found.cheapest
    if best is None:
        return
    page = book.page("nursery.sheet.ready", WIDTHS, landscape=True)
    page.title(said("nursery.ready.title", day=book.wording.day(best.seed_date)))
    page.note("nursery.ready.note")
    page.row += 1
    rows: list[list[Cell]] = []
    for need in found.needs:
        figure = register[f"nursery_ready_kg[{best.seed_date.isoformat()}/{need.event_id}]"]
        code = f"#,##0{'.0' if decimals(figure) > 0 else ''}"
        ready = [Number(value, code) for value in (figure.value, figure.low, figure.high)]
        day = day_cell(need.on_date, book.wording)
        rows.append([need.event_id, day, Number(need.worms_kg, KILOGRAMS), *ready])
    headings = [f"nursery.column.{name}" for name in ("event", "date", "wanted", "ready")]
    page.table([*headings, "book.from", "book.to"], rows)


def _add_care(book: Book) -> None:
    page = book.page("nursery.sheet.cautions", (24,) * 4)
    page.title("nursery.cautions")
    for line in CARE:
        page.note(f"• {said(f'nursery.care.{line}')}")
    add_cautions(page)
