"""How long the weights of a large round take: replicates and raking, as `report` runs them.

Run with ``python tests/benchmarks/survey_speed.py``: a census of ten thousand invented answers
in 20 strata with 1,000 replicates. Where R and its package survey are there, the same replicates
are made and raked in R too, with fewer replicates, and the ratio of time per replicate printed.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from planner.survey.calibration import Margin, rake
from planner.survey.replicates import gamma_multipliers

ROWS, STRATA, KINDS, REPLICATES = 10_000, 20, 4, 1000
PEER_REPLICATES = 20
KIB_PER_GB = 1e6
LIMITS = {"replicate multipliers": 5.0, "raking 20 and 4 cells": 5.0}
PEER = """
library(survey)
rows <- read.csv(commandArgs(TRUE)[1])
design <- svydesign(id = ~1, strata = ~stratum, weights = ~weight, data = rows)
started <- proc.time()[3]
replicates <- as.svrepdesign(design, type = "subbootstrap", replicates = %d)
area <- aggregate(weight ~ stratum, rows, sum); names(area)[2] <- "Freq"
kind <- aggregate(weight ~ kind, rows, sum); names(kind)[2] <- "Freq"
invisible(rake(replicates, list(~stratum, ~kind), list(area, kind)))
cat(proc.time()[3] - started)
"""


def timed(name, work):
    started = time.perf_counter()
    result = work()
    seconds = time.perf_counter() - started
    print(f"{name:28s} {seconds:7.2f} s, limit {LIMITS[name]:g} s")
    assert seconds <= LIMITS[name], name
    return result, seconds


def peer_seconds(columns):
    """Seconds of R for a few replicates, raked; None without R."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        rows, script = Path(folder) / "rows.csv", Path(folder) / "peer.R"
        pl.DataFrame(columns).write_csv(rows)
        script.write_text(PEER % PEER_REPLICATES, encoding="utf-8")
        run = subprocess.run(
            ["Rscript", script, rows],  # noqa: S607 - the peer that stands on the path
            capture_output=True,
            text=True,
            check=False,
        )
    return float(run.stdout.split()[-1]) if run.returncode == 0 else None


def main():
    rng = np.random.default_rng(20)
    stratum, kind = rng.integers(0, STRATA, ROWS), rng.integers(0, KINDS, ROWS)
    weights, uniforms = rng.uniform(1.0, 20.0, ROWS), rng.random((REPLICATES, ROWS))
    multipliers, drawing = timed(
        "replicate multipliers", lambda: gamma_multipliers(uniforms, stratum, np.zeros(STRATA))
    )
    names = tuple(str(code) for code in range(STRATA))
    of_kind = np.bincount(kind, weights)
    margins = [
        Margin("area", stratum, names, np.bincount(stratum, weights)),
        Margin("dwelling", kind, names[:KINDS], of_kind),
    ]
    raked, raking = timed("raking 20 and 4 cells", lambda: rake(weights * multipliers, margins))
    np.testing.assert_allclose(raked @ np.eye(KINDS)[kind], np.tile(of_kind, (1001, 1)), rtol=1e-9)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_GB
    print(f"peak memory {peak:.2f} GB, limit 1 GB")
    assert peak <= 1.0
    peer = peer_seconds({"stratum": stratum, "kind": kind, "weight": weights})
    if peer is None:
        print("R with its package survey is not here: no ratio")
        return
    each = (drawing + raking) / REPLICATES
    print(f"R over planner, a replicate: {peer / PEER_REPLICATES / each:.0f}")


if __name__ == "__main__":
    sys.exit(main())
