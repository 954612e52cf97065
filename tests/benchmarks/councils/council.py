"""One council of the study: simulated, surveyed, estimated, set beside its truth."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import polars as pl

from planner.diversion import bounds, retained
from planner.errors import EstimateError
from planner.factors import read_factors
from planner.figures import FigureRegister
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.program import Program, read_program
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.store import open_store, writing
from planner.tables import TABLES
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


def study_council(design: Design, seed: int, draws_count: int) -> dict[str, object]:
    """Simulate and estimate one council.

    Returns
    -------
    dict
        `figures`: value, low, high and truth of each of FIGURES in the last year; `bounds`:
        lowest and highest retention if those who did not answer had all stopped or all
        kept; `error` instead where the answers carry no estimate.
    """
    bounds.BOUND_ROWS = retained.CHECK_ROWS = FEW_ROWS
    started = time.perf_counter()
    simulation = simulate(design.council(seed), seed)
    try:
        register = estimated(records(simulation), _program(design, draws_count))
    except EstimateError as error:
        return {"error": str(error), "seconds": time.perf_counter() - started}
    true = true_values(true_figures(simulation))
    figures = {
        name: [register[name].value, register[name].low, register[name].high, true[name]]
        for name in FIGURES
    }
    return {
        "figures": figures,
        "bounds": bounds_of_retention(register),
        "seconds": time.perf_counter() - started,
    }


def _program(design: Design, draws_count: int) -> Program:
    program = read_program(SAMPLE_PROGRAMS / design.town / PROGRAM_FILE)
    method = program.method.model_copy(update={"draws_count": draws_count})
    return program.model_copy(update={"method": method})


def estimated(tables: dict[str, pl.DataFrame], program: Program) -> FigureRegister:
    """Write a council's records into a store and register the figures of its last year."""
    label = program.reporting_years[-1].reporting_year
    with tempfile.TemporaryDirectory() as folder:
        with open_store(Path(folder)) as store, writing(store) as writer:
            load_id = writer.begin_load("simulated", "0")
            for name in TABLES:
                if name in tables:
                    writer.write(load_id, name, tables[name])
        with open_store(Path(folder), read_only=True) as store:
            counts, loads = count_year(store, program, label), store.loads()
    return register_year(estimate_year(program, label, counts, loads, read_factors()))


def true_values(truth: Truth) -> dict[str, float]:
    """Take the truth of FIGURES out of a simulation's true figures."""
    last = truth.years.row(-1, named=True)
    at_age = truth.retention.filter(age_months=AGE_MONTHS)["retention_share"].item()
    return {**{name: last[name] for name in FIGURES if name in last},
            "retention_12_months": at_age}  # fmt: skip


def bounds_of_retention(register: FigureRegister) -> list[float | None]:
    """Read the bounds of retention at 12 months, if they are figures."""
    known = {figure.id: figure.value for figure in register}
    return [known.get(f"retention_12_months_if_silent_{end}") for end in ("stopped", "kept")]
