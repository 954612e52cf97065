"""How long large samples take: the bootstrap, totals by domain, raking.

Run with ``python tests/benchmarks/survey_speed.py``: a million invented rows, 20 strata, three
variables. Where R and its package survey are there, the same totals are run in R too, on the
same rows with fewer replicates, and the ratio of time per replicate printed.
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

from planner.survey.calibration import rake
from planner.survey.estimators import Sample, means, totals
from planner.survey.linearisation import Design
from planner.survey.margins import Margin
from planner.survey.streamed_bootstrap import bootstrap_totals

ROWS, STRATA, DOMAINS, REPLICATES, CLUSTERS = 1_000_000, 20, 20, 500, 2_000
PEER_REPLICATES = 20
KIB_PER_GB = 1e6
LIMITS = {"bootstrap": 10.0, "totals by domain": 0.5}
PEER = """
library(survey)
rows <- read.csv(commandArgs(TRUE)[1])
design <- svydesign(id = ~1, strata = ~stratum, weights = ~weight, data = rows)
started <- proc.time()[3]
replicates <- as.svrepdesign(design, type = "subbootstrap", replicates = %d)
invisible(svytotal(~a + b + c, replicates))
cat(proc.time()[3] - started, "")
started <- proc.time()[3]
invisible(svyby(~a + b + c, ~domain, design, svytotal))
cat(proc.time()[3] - started)
"""


def timed(name, work):
    started = time.perf_counter()
    result = work()
    seconds = time.perf_counter() - started
    limit = LIMITS.get(name)
    allowed = "" if limit is None else f", limit {limit:g} s"
    print(f"{name:28s} {seconds:7.2f} s{allowed}")
    assert limit is None or seconds <= limit, name
    return result, seconds


def peer_seconds(columns):
    """Seconds of R for a few replicates and for the totals by domain; None without R."""
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
    return [float(word) for word in run.stdout.split()] if run.returncode == 0 else None


def main():
    rng = np.random.default_rng(20)
    stratum, domain = rng.integers(0, STRATA, ROWS), rng.integers(0, DOMAINS, ROWS)
    weights, values = rng.uniform(1.0, 20.0, ROWS), rng.gamma(2.0, 2.0, (ROWS, 3))
    share = np.full(STRATA, 0.1)
    design, _ = timed("design", lambda: Design(stratum, share))
    z = np.column_stack([weights[:, None] * values, weights])
    seed = np.random.SeedSequence(1)
    replicates, boot = timed("bootstrap", lambda: bootstrap_totals(z, design, REPLICATES, seed))
    found, domains = timed(
        "totals by domain", lambda: totals(values, Sample(weights, design, domain, DOMAINS))
    )
    timed("means by domain", lambda: means(values, Sample(weights, design, domain, DOMAINS)))
    unit = rng.integers(0, CLUSTERS // STRATA, ROWS) * STRATA + stratum
    clustered = Design(stratum, share, unit)
    timed("bootstrap of clusters", lambda: bootstrap_totals(z, clustered, REPLICATES, seed))
    timed(
        "clustered totals by domain",
        lambda: totals(values, Sample(weights, clustered, domain, DOMAINS)),
    )
    names = tuple(str(code) for code in range(STRATA))
    counts = np.bincount(stratum, weights) * rng.uniform(0.9, 1.1, STRATA)
    other = np.bincount(domain % 4, weights)
    margins = [
        Margin("area", stratum, names, counts),
        Margin("dwelling", domain % 4, names[:4], other * counts.sum() / other.sum()),
    ]
    timed("raking 20 and 4 cells", lambda: rake(weights, margins))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_GB
    print(f"peak memory {peak:.2f} GB, limit 1 GB")
    assert peak <= 1.0
    whole = totals(values, Sample.whole(weights, design)).standard_error[0]
    ratio = replicates[1:, :3].std(axis=0) / whole
    print("bootstrap over linearised errors:", ratio.round(3).tolist())
    assert np.all(np.abs(ratio - 1.0) < 4.0 / np.sqrt(2 * REPLICATES))
    assert np.isfinite(found.standard_error).all()
    columns = {"stratum": stratum, "weight": weights, "domain": domain}
    peers = peer_seconds({**columns, **dict(zip("abc", values.T, strict=True))})
    if peers is None:
        print("R with its package survey is not here: no ratio")
        return
    print(f"R over planner, a replicate: {peers[0] / PEER_REPLICATES / (boot / REPLICATES):.0f}")
    print(f"R over planner, totals by domain: {peers[1] / domains:.0f}")


if __name__ == "__main__":
    sys.exit(main())
