"""Purchase orders, and beds of the council's own against them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import FromDay, ProgramFolder, UntilDay, asked_days, command, show
from planner.cli.options import say as tell
from planner.messages import officers_words, say
from planner.ordering.request import DEFAULT_GAP, DEFAULT_NODES, Effort, OrderRequest

if TYPE_CHECKING:
    from planner.ordering.plan import OrderPlan
    from planner.report.wording import Wording
    from planner.run import OrderResult

CLASH = 2


def order(
    program: ProgramFolder = Path(),
    *,
    from_day: FromDay = None,
    until: UntilDay = None,
    forecast: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="usage.order.forecast",
        ),
    ] = None,
    gap: Annotated[
        float,
        typer.Option(min=0.0, max=0.5, help="usage.order.gap"),
    ] = DEFAULT_GAP,
    nodes: Annotated[int, typer.Option(min=1, help="usage.order.nodes")] = DEFAULT_NODES,
    accept_changes: Annotated[
        bool,
        typer.Option("--accept-changes", help="usage.order.accept_changes"),
    ] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.order.dry_run")] = False,
    template: Annotated[
        Path | None,
        typer.Option(
            "--template",
            metavar="FILE",
            help="usage.order.template",
            show_default=False,
        ),
    ] = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(
            "--copy-template",
            metavar="FILE",
            help="usage.order.copy_template",
            show_default=False,
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="usage.order.force")] = False,
) -> None:
    """Plan the cheapest order for the hand-over days ahead and write it."""
    if copy_template is not None:
        run.copy_template(copy_template, force=force, of_papers=True)
        tell(say("console.next_template", opening="{{", closing="}}"))
        tell(f"  {command('order', '--template', copy_template, program=program)}")
        return
    first, last = asked_days(from_day, until)
    effort = Effort(gap, nodes)
    asked = OrderRequest(first, last, forecast, effort, accepts_changes=accept_changes)
    result = run.order(
        program, asked, dry_run=dry_run, force=force, template=template, progress=tell
    )
    with officers_words():
        _print_clashes(result)
    if result.plan.solution is None:
        for note in result.plan.notes:
            show(say("console.note", note=note))
        tell(say("ordering.change_or_accept"))
        days = ("--from", str(first), "--until", str(last))
        tell(f"  {command('order', *days, '--accept-changes', program=program)}")
        raise typer.Exit(CLASH)
    if result.plan.has_lines:
        with officers_words():
            _print_plan(result)
    else:
        _print_nothing(result)
    _print_next(result, program)


def _print_clashes(result: OrderResult) -> None:
    from planner.report.orders import clash_lines
    from planner.report.wording import Wording

    for line in clash_lines(result.plan, Wording.for_officer(result.program)):
        show(line)


def _print_plan(result: OrderResult) -> None:
    from planner.ordering.plan import cost_by_supplier, order_lines
    from planner.report.orders.order import sure_words, undone_words, without_cost
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
    proven = {
        "cost": wording.money(solution.cost),
        "gap": wording.share(solution.gap, 2),
        "seconds": wording.number(solution.seconds, 1),
    }
    show(say("ordering.proof_at_limit" if solution.reached_limit else "ordering.proof", **proven))
    for one in plan.service_costs:
        words = without_cost(is_decided=one.is_decided)
        cost = words if one.cost is None else wording.money(one.cost)
        show(f"  {labelled(sure_words(one.overall_level, plan, wording), cost)}")
    _print_climate(plan, wording)
    for note in plan.notes:
        show(say("console.note", note=note))


def _print_nothing(result: OrderResult) -> None:
    """Say that nothing need be ordered, and what the officer should know all the same."""
    show(say("ordering.nothing"))
    for note in result.plan.notes:
        show(say("console.note", note=note))


def _print_climate(plan: OrderPlan, wording: Wording) -> None:
    """Say what can be done about heat and frost, and what it costs beyond the plan."""
    from planner.report.orders.order import option_words

    if plan.climate_options:
        show(say("ordering.climate"))
    for option in plan.climate_options:
        show(f"  {option_words(option, plan, wording)}")


def _print_next(result: OrderResult, program: Path) -> None:
    if not result.files:
        tell(say("console.nothing_written"))
        return
    show(f"\n{say('console.files')}")
    for path in result.files:
        typer.echo(f"  {path}")
    to_load = next((path for path in result.files if path.name == "orders_to_load.xlsx"), None)
    if to_load is None:
        return
    tell(f"\n{say('ordering.next')}")
    tell(f"  {command('load', to_load, program=program)}")


def nursery(
    program: ProgramFolder = Path(),
    *,
    from_day: FromDay = None,
    until: UntilDay = None,
) -> None:
    """Plan a nursery for the hand-over days ahead, and set it against buying worms."""
    from planner.report.nursery import decision
    from planner.report.wording import Wording

    first, last = asked_days(from_day, until)
    result = run.nursery(program, OrderRequest(first, last), progress=tell)
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
    for note in result.notes:
        show(say("console.note", note=note))
    show(f"\n{say('console.files')}")
    for path in result.files:
        typer.echo(f"  {path}")
    tell(f"\n{say('ordering.not_bred')}")
    tell(f"  {command('order', '--dry-run', program=program)}")
