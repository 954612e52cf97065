"""One council of the study: simulated, surveyed, estimated, set beside its truth."""

from __future__ import annotations

import atexit
import tempfile
import time
from contextlib import ExitStack
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl

from planner.diversion import bounds, retained
from planner.diversion.counts import Counts
from planner.diversion.measured import FACTOR_IDS, Diversion, measure
from planner.errors import EstimateError
from planner.factors import draw_factors, read_factors
from planner.figures import interval
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.program import Program, read_program
from planner.report.year import NEW_BIN, count_year
from planner.store import Store, open_store, writing
from planner.tables import TABLES
from planner.units import KG_PER_T
from sample_programs.generator import Truth, records, simulate, true_figures
from tests.benchmarks.councils.designs import Design

FIGURES = (
    "fed_t",
    "kept_out_of_landfill_t",
    "retention_12_months",
    "bins_in_use",
    "landfill_share",
)
AGE_MONTHS = 12
FEW_ROWS = 21
"""Rows of weights for what is read without an interval or not at all: most of the time."""


def study_council(design: Design, place: int, draws_count: int) -> dict[str, object]:
    """Simulate and estimate one council.

    Returns
    -------
    dict
        `figures`: value, low, high and truth of each of FIGURES in the last year; `bounds`,
        of a design whose assumptions do not hold: lowest and highest value of each if those
        who did not answer had all stopped or all kept; `error` instead where the answers
        carry no estimate.
    """
    bounds.BOUND_ROWS = retained.CHECK_ROWS = FEW_ROWS
    started, seed = time.perf_counter(), design.seed(place)
    simulation = simulate(design.council(seed), seed)
    program = _program(design, draws_count)
    counts = counted(records(simulation), program)
    factors = feed_factors(program)
    try:
        found = figures_of(measure(counts, program, factors), counts)
        extremes = {} if design.holds else bounds_of(counts, program, factors)
    except EstimateError as error:
        return {"error": str(error), "seconds": time.perf_counter() - started}
    true = true_values(true_figures(simulation))
    return {
        "figures": {name: [*map(float, interval(found[name])), true[name]] for name in FIGURES},
        "bounds": extremes,
        "seconds": time.perf_counter() - started,
    }


def _program(design: Design, draws_count: int) -> Program:
    program = read_program(SAMPLE_PROGRAMS / design.town / PROGRAM_FILE)
    method = program.method.model_copy(update={"draws_count": draws_count})
    return program.model_copy(update={"method": method})


def counted(tables: dict[str, pl.DataFrame], program: Program) -> Counts:
    """Write a council's records, count them up to the end of its last year, take them back."""
    label = program.reporting_years[-1].reporting_year
    store = _store()
    with writing(store, keep=False) as writer:
        load_id = writer.begin_load("simulated", "0")
        for name in TABLES:
            if name in tables:
                writer.write(load_id, name, tables[name])
        return count_year(store, program, label)


@cache
def _store() -> Store:
    """Open an empty store, one a process, until the process ends."""
    stack = ExitStack()
    folder = stack.enter_context(tempfile.TemporaryDirectory())
    atexit.register(stack.close)  # after the folder's own removal, and so before it
    return stack.enter_context(open_store(Path(folder)))


def feed_factors(program: Program) -> dict[str, np.ndarray]:
    """Draw the published factors of feed and worms, as a report does."""
    table = read_factors()
    of_new_bins = {row.factor_id for row in table if row.applies_to == NEW_BIN}
    chosen = [table.find(name, NEW_BIN if name in of_new_bins else "") for name in FACTOR_IDS]
    return draw_factors(chosen, program.method.draws_count, program.method.seed)


def figures_of(diversion: Diversion, counts: Counts) -> dict[str, np.ndarray]:
    """Take the draws of FIGURES out of an estimate.

    The report does the same; `tests/programs/test_study.py` holds the two together. Other
    figures are left out, which halves the time.
    """
    months = diversion.cohorts.months_from(counts.from_date)
    fed = diversion.fed_kg[:, :, months].sum(axis=(1, 2)) / KG_PER_T
    kept_out = diversion.kept_out_kg[:, :, months].sum(axis=(1, 2)) / KG_PER_T
    bins = diversion.cohorts.bins_given.sum(axis=(0, 1))
    age = np.array(float(AGE_MONTHS))
    curves = [curve.in_use_share(age) for curve in diversion.estimates.retention]
    return {
        "fed_t": fed,
        "kept_out_of_landfill_t": kept_out,
        "retention_12_months": np.stack(curves, axis=1) @ bins / bins.sum(),
        "bins_in_use": diversion.bins_in_use[:, :, -1].sum(axis=1),
        "landfill_share": kept_out / fed,
    }


def bounds_of(
    counts: Counts, program: Program, factors: dict[str, np.ndarray]
) -> dict[str, list[float]]:
    """Estimate FIGURES as if all who did not answer had stopped, or had kept their bins."""
    silent = bounds.bounds_if_silent(counts, program, factors)
    ends = [figures_of(end, counts) for end in (silent.stopped, silent.kept)]
    return {name: [float(end[name][0]) for end in ends] for name in FIGURES}


def true_values(truth: Truth) -> dict[str, float]:
    """Take the truth of FIGURES out of a simulation's true figures."""
    last = truth.years.row(-1, named=True)
    at_age = truth.retention.filter(age_months=AGE_MONTHS)["retention_share"].item()
    return {**{name: last[name] for name in FIGURES if name in last},
            "retention_12_months": at_age}  # fmt: skip
