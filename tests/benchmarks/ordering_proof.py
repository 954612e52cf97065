"""Whether orders are right, cheapest and proven so: against a second formulation.

Run ``python -m tests.benchmarks.ordering_proof [COUNT] [SECONDS]``: COUNT random problems
over every working day, then the orders of the sample programs, for which the second
formulation searches SECONDS of the processor each. Every limit of each plan is counted by
hand, its cost is added up again, and each of the two proofs is held against the other's plan.
A quarter of the random problems have hardly any money or room, a quarter earlier orders that
went wrong and prices that rise; a third limit the share of a supplier.
"""

from __future__ import annotations

import datetime as dt
import math
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from planner import run
from planner.errors import OrderError
from planner.factors import read_factors, with_own
from planner.ordering.changes import with_changes
from planner.ordering.clashes import find_clashes
from planner.ordering.inputs import read_inputs, with_own_turnout
from planner.ordering.request import Effort, OrderRequest
from planner.ordering.solving import solve
from planner.ordering.steps import state_problem
from planner.paths import PROGRAM_FILE
from planner.program import read_program
from tests.plain_purchase import faults, least_cost
from tests.unit.ordering.every_day import every_day_problem, harsh_problem, odd_problem

TOLERANCE = 1e-6
SHARES = (0.75, 0.55)
TOWNS = ("port_marrow", "thornquay", "valdorra")
"""Invented towns of the sample programs."""


def judged(given, found, cost, bound):
    """Sentences on what is wrong with a plan and its proof; none is right."""
    if found is None:
        return [] if bound == float("inf") else ["no plan found, there is one"]
    wrong = faults(given, found)
    if found.bound > cost * (1.0 + TOLERANCE):
        wrong.append(f"proven {found.bound:.2f}, a plan costs {cost:.2f}")
    if bound > found.cost * (1.0 + TOLERANCE):
        wrong.append(f"costs {found.cost:.2f}, less than the proven {bound:.2f}")
    return wrong


def random_problems(count):
    """Judge so many random problems."""
    dearer = impossible = 0
    for seed in range(count):
        made = {1: odd_problem, 3: harsh_problem}.get(seed % 4, every_day_problem)
        given = made(1000 + seed)
        if seed % 3 == 0:
            given = replace(given, largest_supplier_share=SHARES[seed % 2])
        found = solve(given, Effort(0.0, 20_000))
        cost, bound = least_cost(given)
        wrong = judged(given, found, cost, bound)
        if found is not None and found.cost > cost * (1.0 + TOLERANCE):
            dearer += 1
            wrong.append(f"costs {found.cost:.2f}, the least is {cost:.2f}")
        impossible += found is None
        for one in wrong:
            print(f"random problem {1000 + seed}: {one}")
    print(f"{count} random problems, {impossible} without a plan, {dearer} dearer than the least")


def sample_programs(seconds):
    """Judge the orders of the sample programs from the first day of each quarter.

    Each as the limits are, and where there is no plan, with the least change made.
    """
    with tempfile.TemporaryDirectory() as name:
        for town in TOWNS:
            folder = Path(name) / town
            run.demo(folder, town=town, progress=lambda _: None)
            program = read_program(folder / PROGRAM_FILE)
            for quarter in program.ordering.quarters:
                try:
                    given = stated(folder, program, quarter.begins)
                except OrderError as error:
                    print(f"{town} {quarter.begins}: {error}")
                    continue
                judge_sample(f"{town} {quarter.begins}", given, seconds)


def stated(folder, program, first):
    """State the purchase problem of a sample program from a day on."""
    request = OrderRequest(first, first + dt.timedelta(days=366))
    inputs = read_inputs(folder, request, program)
    program = with_own_turnout(program, inputs.turnout)
    factors = with_own(read_factors(), program.factors, program.council.name)
    return state_problem(inputs, program, factors, request, {}, lambda _: None).problem


def judge_sample(told, given, seconds):
    """Judge an order as it is stated, and with the least change where it has no plan."""
    began = time.process_time()
    made, enough = solve(given, Effort()), ()
    if made is None:
        cost, bound = least_cost(given, 0.005, seconds)
        wrong = judged(given, made, cost, bound) if math.isfinite(cost) else []
        clashes = find_clashes(given)
        given, enough = with_changes(given, clashes.least), clashes.enough
        made = solve(given, Effort(), enough)
        told = f"{told}, no plan {wrong}, changed"
    spent = time.process_time() - began
    cost, bound = least_cost(given, 0.005, seconds)
    wrong = judged(given, made, cost, bound)
    told = f"{told}: " + ("no plan" if made is None else f"{made.cost:,.2f} within {made.gap:.2%}")
    print(f"{told}, {spent:.1f} s; second {cost:,.2f}, proven {bound:,.2f}; {wrong}", flush=True)


def main():
    """Judge random problems, then the sample programs."""
    random_problems(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
    sample_programs(float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)


if __name__ == "__main__":
    main()
