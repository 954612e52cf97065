"""Sizing, buying and breeding: bins to give, purchase orders, beds of the council's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    Day,
    DryRun,
    File,
    Force,
    FromDay,
    NamedDay,
    ProgramFolder,
    ReportedYear,
    advise,
    asked_days,
    date_of,
    list_files,
    print_note,
    print_table,
    show,
    show_notes,
    start_table,
)
from planner.messages import officers_words, say
from planner.ordering.request import DEFAULT_GAP, DEFAULT_NODES, Effort, OrderRequest

if TYPE_CHECKING:
    from planner.report.plan.making import SizeResult
    from planner.report.wording import Wording
    from planner.run import OrderResult

CLASH = 2


def size(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: NamedDay = None,
) -> None:
    """Plan how many bins to give, to whom, for what money, and say how sure that is."""
    from planner.report.plan.making import make_plan_of
    from planner.report.plan.words import decision_lines
    from planner.report.wording import Wording

    result = make_plan_of(program, year, print_note, as_of=date_of(as_of))
    wording = Wording.for_officer(result.sizing.program)
    with officers_words():
        for line in decision_lines(result.register, result.sizing, wording):
            show(f"{line}\n")
        _print_scenarios(result, wording)
    show_notes(one.reason for one in result.sizing.scenarios if one.reason)
    show_notes(result.notes)
    list_files(result.files)
    advise(f"\n{say('size.next')}", "size", program=program)


def _print_scenarios(result: SizeResult, wording: Wording) -> None:
    from planner.report.plan.words import named

    register = result.register
    numbers = [say(f"size.{heading}") for heading in ("bins", "tonnes", "minus", "cost")]
    table = start_table([say("size.plan")], numbers, title=say("plan.scenarios.title"))
    table.add_row(
        say("plan.scenarios.this"),
        wording.amount(register["plan_bins"]),
        wording.figure(register["plan_kept_out_t"]),
        "",
        wording.amount(register["plan_cost_per_t"]),
    )
    for one in result.sizing.scenarios:
        if one.plan is None:
            table.add_row(named("scenario", one.name), say("size.none_keeps"), "", "", "")
            continue
        bins, tonnes, difference, cost = (
            register[f"plan_scenario_{name}[{one.name}]"]
            for name in ("bins", "kept_out_t", "kept_out_t_difference", "cost_per_t")
        )
        table.add_row(
            named("scenario", one.name),
            wording.amount(bins),
            wording.figure(tonnes),
            wording.difference(difference, register["plan_kept_out_t"]),
            wording.amount(cost),
        )
    print_table(table)


def order(
    program: ProgramFolder = Path(),
    *,
    from_day: FromDay = None,
    until: Day = None,
    forecast: File = None,
    gap: Annotated[float, typer.Option(min=0.0, max=0.5)] = DEFAULT_GAP,
    nodes: Annotated[int, typer.Option(min=1)] = DEFAULT_NODES,
    accept_changes: Annotated[bool, typer.Option("--accept-changes")] = False,
    dry_run: DryRun = False,
    template: File = None,
    copy_template: File = None,
    force: Force = False,
) -> None:
    """Plan the cheapest order for the hand-over days ahead and write it."""
    if copy_template is not None:
        from planner.report.word.placeholders import PAPER_TEMPLATE
        from planner.report.word.placeholders import copy_template as copy

        copy(copy_template, PAPER_TEMPLATE, force=force)
        words = say("console.next_template", opening="{{", closing="}}")
        advise(words, "order", "--template", copy_template, program=program)
        return
    first, last = asked_days(from_day, until)
    effort = Effort(gap, nodes)
    asked = OrderRequest(first, last, forecast, effort, accepts_changes=accept_changes)
    result = run.order(
        program, asked, dry_run=dry_run, force=force, template=template, progress=print_note
    )
    from planner.report.orders.clash_words import clash_lines
    from planner.report.wording import Wording

    with officers_words():
        for line in clash_lines(result.plan, Wording.for_officer(result.program)):
            show(line)
    if result.plan.solution is None:
        show_notes(result.plan.notes)
        again = ("order", "--from", str(first), "--until", str(last), "--accept-changes")
        advise(say("ordering.change_or_accept"), *again, program=program)
        raise typer.Exit(CLASH)
    if result.plan.has_lines:
        with officers_words():
            _print_plan(result)
    else:
        show(say("ordering.nothing"))
        show_notes(result.plan.notes)
    _print_next(result, program)


def _print_plan(result: OrderResult) -> None:
    from planner.ordering.plan import cost_by_supplier, order_lines
    from planner.report.orders.order import (
        option_words,
        proof_of,
        sure_words,
        undone_words,
        without_cost,
    )
    from planner.report.wording import Wording, labelled

    plan, wording = result.plan, Wording.for_officer(result.program)
    solution = plan.solution
    if solution is None:
        return
    days = plan.demand.events
    booked = wording.number(float(days.booked_count.sum()))
    for words in undone_words(plan):
        show(words)
    first, last = (wording.day(days.event_dates[place]) for place in (0, -1))
    ends = {"booked": booked, "first": first, "last": last}
    show(say("ordering.days", len(days.event_ids), **ends))
    costs = cost_by_supplier(order_lines(solution))
    for row in costs.iter_rows(named=True):
        name = plan.problem.suppliers[row["supplier_id"]].supplier_name
        amount = wording.money(row["landed_amount"])
        by, last = (wording.day(row[name]) for name in ("order_date", "latest_order_date"))
        until = by if by == last else say("ordering.at_latest", by=by, last=last)
        of_supplier = {"name": name, "amount": amount, "by": until}
        show(say("ordering.supplier", row["deliveries_count"], **of_supplier))
    ending, most = proof_of(solution, wording)
    show(say(f"ordering.proof.{ending}", cost=wording.money(solution.cost), share=most))
    for one in plan.service_costs:
        words = without_cost(is_decided=one.is_decided)
        cost = words if one.cost is None else wording.money(one.cost)
        show(f"  {labelled(sure_words(one.overall_level, plan, wording), cost)}")
    if plan.climate_options:
        show(say("ordering.climate"))
    for option in plan.climate_options:
        show(f"  {option_words(option, plan, wording)}")
    show_notes(plan.notes)


def _print_next(result: OrderResult, program: Path) -> None:
    if not result.files:
        print_note(say("console.nothing_written"))
        return
    list_files(result.files)
    to_load = next((path for path in result.files if path.name == "orders_to_load.xlsx"), None)
    if to_load is not None:
        advise(f"\n{say('ordering.next')}", "load", to_load, program=program)


def nursery(
    program: ProgramFolder = Path(), *, from_day: FromDay = None, until: Day = None
) -> None:
    """Plan a nursery for the hand-over days ahead, and set it against buying worms."""
    first, last = asked_days(from_day, until)
    result = run.nursery(program, OrderRequest(first, last), progress=print_note)
    from planner.report.nursery import decision
    from planner.report.wording import Wording

    wording = Wording.for_officer(result.program)
    for one in result.found.seedings:
        if one.plan is None:
            show(say("number.labelled", label=wording.day(one.seed_date), value=one.reason))
        else:
            seeding = {
                "day": wording.day(one.seed_date),
                "mass": wording.number(one.plan.seed_kg, 1),
                "area": wording.number(one.plan.area_m2, 1),
                "cost": wording.money(one.cost),
            }
            show(say("ordering.seeding", **seeding))
    with officers_words():
        show(decision(result.found, wording))
    show_notes(result.notes)
    list_files(result.files)
    again = ("order", "--from", str(first), "--until", str(last), "--dry-run")
    advise(f"\n{say('ordering.not_bred')}", *again, program=program)
