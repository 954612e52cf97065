"""What a user would run instead of a step, and the floors: each a process of its own.

``python tests/benchmarks/peers.py NAME ARGUMENTS`` prints its answer as JSON, which
`tests.benchmarks.scale` holds against ours. What is imported is imported where it is used: the
peers run where this project is not installed.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

FITS = ("round.csv", "register.csv", "intervals.csv", "multipliers.bin")
MARGINS = ("area_id", "dwelling", "people")
SEED, AT_ONCE, LEAST_IN_AREA = 1, 20, 10


def pandas_load(*names):
    """Read files and their days, and drop repeated rows: how many each leaves."""
    import pandas as pd

    found = {}
    for name in names:
        rows = pd.read_csv(name)
        for column in [one for one in rows.columns if one.endswith("_date")]:
            rows[column] = pd.to_datetime(rows[column])
        found[Path(name).stem] = len(rows.drop_duplicates())
    return found


def pandas_check():
    """Three of the checks: rows dated before the household registered, and second bins."""
    import pandas as pd

    homes = pd.read_csv("households.csv").set_index("household_id")["registered_date"]
    given, answers = pd.read_csv("handovers.csv"), pd.read_csv("answers.csv")
    back = pd.read_csv("givebacks.csv").set_index("handover_id")["giveback_date"]
    given = given.sort_values(["household_id", "handover_date", "handover_id"])
    of_home = given.groupby("household_id")
    before = of_home["handover_id"].shift()
    came_back = before.map(back)
    both = before.notna() & (came_back.isna() | (came_back > given["handover_date"]))
    return {
        "handover_before_registration": int(
            (given["handover_date"] < given["household_id"].map(homes)).sum()
        ),
        "answer_before_registration": int(
            (answers["answer_date"] < answers["household_id"].map(homes)).sum()
        ),
        "two_bins_at_one_household": int(both.sum()),
    }


def openpyxl_load(name):
    """Read every cell of a workbook."""
    import openpyxl

    sheet = openpyxl.load_workbook(name, read_only=True)["households"]
    return {"households": sum(1 for _ in sheet.iter_rows(values_only=True)) - 1}


def lifelines_weibull():
    """Fit a Weibull curve to ages of stopping known between limits."""
    import pandas as pd
    from lifelines import WeibullFitter

    rows = pd.read_csv(FITS[2])
    fitted = WeibullFitter().fit_interval_censoring(rows["lower"], rows["upper"])
    return {"scale": float(fitted.lambda_), "shape": float(fitted.rho_)}


def our_load():
    """Rows of each table of the store."""
    import duckdb

    with duckdb.connect("program.duckdb", read_only=True) as store:
        names = [name for (name,) in store.sql("from duckdb_tables() select table_name").fetchall()]
        return {name: store.table(name).count("*").fetchone()[0] for name in names}


def our_check():
    """Count the findings of each check that found any."""
    import polars as pl

    found = pl.read_csv("refused/checks.csv", columns=["check_name"])
    return dict(found.group_by("check_name").len().iter_rows())


def write_fits(draws_count):
    """Write the newest follow-up round, its replicates and register, and ages of stopping."""
    import numpy as np
    import polars as pl

    from planner.store.opening import open_store
    from planner.survey.use_intervals import stopping_ages

    with open_store(Path(), read_only=True) as store:
        until = {"before_date": store.query("latest_record").item()}
        frames = store.query("wave_frames", **until)
        register = store.query("households_by_wave", **until)
        rounds = frames["wave_id"].unique().to_list()
        homes = store.query("use_intervals", **until, wave_ids=rounds).filter("is_known")
    newest = frames.filter(pl.col("wave_kind") == "followup")["wave_id"].max()
    answers = frames.filter(pl.col("wave_id") == newest, "has_answered").select(
        *MARGINS, "is_in_use", weight=1.0 / pl.col("inclusion_probability")
    )
    # areas without an answer would have no weight to carry
    register = register.filter(
        pl.col("wave_id") == newest, pl.col("area_id").is_in(answers["area_id"].unique().implode())
    )
    # with few answers the counts of areas cannot be met besides the others
    if answers.height < LEAST_IN_AREA * answers["area_id"].n_unique():
        one = pl.lit("all").alias("area_id")
        answers, register = answers.with_columns(one), register.with_columns(one)
    answers.write_csv(FITS[0])
    np.random.default_rng(SEED).exponential(size=(int(draws_count), answers.height)).tofile(FITS[3])
    register.write_csv(FITS[1])
    ages = stopping_ages(homes)
    seen = pl.DataFrame({"lower": ages.lower, "upper": ages.upper}).filter(pl.col("upper") > 0)
    # on the first day nothing is in use yet: no curve of this form gives that a density
    seen.filter((pl.col("lower") > 0) | (pl.col("upper") != pl.col("lower"))).write_csv(FITS[2])


def our_rake():
    """Make a round agree with three counts of the register, in every replicate."""
    import numpy as np
    import polars as pl

    from planner.survey.calibration import Crossed, Margin, rake

    answers, register = (pl.read_csv(one, infer_schema_length=None) for one in FITS[:2])
    crossed = Crossed.of([Margin.of(answers, register, [name]) for name in MARGINS])
    weights, in_use = answers["weight"].to_numpy(), answers["is_in_use"].to_numpy()
    drawn = np.fromfile(FITS[3]).reshape(-1, weights.size)
    total = float(register["households_count"].sum())
    share = float(rake(weights[None, :], crossed)[0] @ in_use) / total
    shares = [
        rake(np.asfortranarray(drawn[start : start + AT_ONCE]) * weights, crossed) @ in_use / total
        for start in range(0, len(drawn), AT_ONCE)
    ]
    error = np.sqrt(np.mean((np.concatenate(shares) - share) ** 2))
    return {"share": share, "standard_error": float(error)}


def our_weibull():
    """Fit the same curve as the peers, by maximum likelihood alone."""
    import numpy as np
    import polars as pl

    from planner.survey.interval_likelihood import Intervals
    from tests.unit.survey.alone import fit_weibull

    rows = pl.read_csv(FITS[2], schema={"lower": pl.Float64, "upper": pl.Float64})
    seen = Intervals(rows["lower"].to_numpy(), rows["upper"].to_numpy())
    curve = fit_weibull(seen, np.ones((1, rows.height)))
    # where a share of 1/e is left, and twice that age, give scale and shape
    ages = np.linspace(0.01, 600.0, 200_001)
    hazard = -np.log(curve.in_use_share(ages)[0])
    scale = float(np.interp(1.0, hazard, ages))
    return {"scale": scale, "shape": float(np.log2(np.interp(2.0 * scale, ages, hazard)))}


def scan(name):
    """Read every column of the records once."""
    import duckdb

    with duckdb.connect(name, read_only=True, config={"threads": 1}) as store:
        for (table,) in store.sql("from duckdb_tables() select table_name").fetchall():
            store.table(table).aggregate("sum(hash(columns(*)))").fetchall()


def move(answers_count, draws_count):
    """Copy as many numbers as answers have draws, of single precision, as we keep them."""
    import numpy as np

    np.ones((int(answers_count), int(draws_count)), dtype=np.float32).copy()


def write_sheet(name):
    """Write the households as a workbook, row by row, as a register's export does."""
    import openpyxl
    import polars as pl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("households")
    rows = pl.read_csv("households.csv", try_parse_dates=True)
    sheet.append(rows.columns)
    for row in rows.iter_rows():
        sheet.append(row)
    book.save(name)


def write_program(folder, size, draws_count):
    """Write an invented program and name its files."""
    from tests.benchmarks import big_program

    paths = big_program.write_program(Path(folder), int(size), int(draws_count))
    return [str(path) for path in paths]


if __name__ == "__main__":
    print(json.dumps(globals()[sys.argv[1]](*sys.argv[2:])))
