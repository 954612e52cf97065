"""How often the 95% intervals hold the truth, over many simulated councils.

Run with ``python tests/benchmarks/coverage.py TOWN COUNT``. Each council is drawn like the
named sample town with other habits; its records are complete, without mistyped rows. Prints
for each figure the share of intervals that hold the truth, the mean error and the standard
deviation of the errors over the truth, and the mean half-width of the intervals over it.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np
import polars as pl

from planner.factors import read_factors
from planner.figures import interval
from planner.program import Program, read_program
from planner.report.year import Year, count_year, estimate_year
from planner.store import open_store, writing
from planner.tables import TABLES
from planner.units import KG_PER_T

sys.path.insert(0, str(Path(__file__).parents[2]))

from sample_programs.generator import TOWNS, records, simulate, true_figures, varied

ROOT = Path(__file__).parents[2]
FIGURES = ("bins_in_use", "fed_t", "kept_out_of_landfill_t", "landfill_share", "retention_12")


def estimated(tables: dict[str, pl.DataFrame], program: Program) -> dict[str, np.ndarray]:
    """Draws of the last year's figures."""
    label = program.reporting_years[-1].reporting_year
    with tempfile.TemporaryDirectory() as folder:
        with open_store(Path(folder)) as store, writing(store) as writer:
            load_id = writer.begin_load("simulated", "0")
            for name in TABLES:
                if name in tables:
                    writer.write(load_id, name, tables[name])
        with open_store(Path(folder), read_only=True) as store:
            counts, loads = count_year(store, program, label), store.loads()
    year = estimate_year(program, label, counts, loads, read_factors())
    return figures_of(year)


def figures_of(year: Year) -> dict[str, np.ndarray]:
    """Take out the figures that the truth knows."""
    diversion = year.diversion
    months = diversion.cohorts.months_from(year.counts.from_date)
    fed = diversion.fed_kg[:, :, months].sum(axis=(1, 2)) / KG_PER_T
    kept_out = diversion.kept_out_kg[:, :, months].sum(axis=(1, 2)) / KG_PER_T
    bins = diversion.cohorts.bins_given.sum(axis=(0, 1))
    curves = [curve.in_use_share(np.array(12.0)) for curve in diversion.estimates.retention]
    return {
        "bins_in_use": diversion.bins_in_use[:, :, -1].sum(axis=1),
        "fed_t": fed,
        "kept_out_of_landfill_t": kept_out,
        "landfill_share": kept_out / fed,
        "retention_12": np.stack(curves, axis=1) @ bins / bins.sum(),
    }


def main(town_name: str, count: int) -> None:
    """Simulate, estimate, compare."""
    program = read_program(ROOT / "sample_programs" / town_name / "program.toml")
    errors: dict[str, list[tuple[float, float, bool]]] = {name: [] for name in FIGURES}
    for seed in range(count):
        simulation = simulate(varied(TOWNS[town_name], seed), seed=seed)
        truth = true_figures(simulation)
        last = truth.years.row(-1, named=True)
        last["retention_12"] = truth.retention.filter(pl.col("age_months") == 12)[
            "retention_share"
        ].item()
        for name, draws in estimated(records(simulation), program).items():
            value, low, high = interval(draws)
            true = last[name]
            errors[name].append((value / true - 1.0, (high - low) / 2 / true, low <= true <= high))
    print(f"{town_name}, {count} councils")
    for name, rows in errors.items():
        error, half, held = np.array(rows, dtype=float).T
        print(
            f"{name:24s} held {held.mean():6.1%}  bias {error.mean():+7.2%}  "
            f"sd {error.std():6.2%}  half-width {half.mean():6.2%}"
        )


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
