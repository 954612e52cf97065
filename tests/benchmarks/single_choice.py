"""How far off shares of routes are where a survey asks only where most scraps went before.

Run ``python -m tests.benchmarks.single_choice``. Simulated households divide their scraps among
five routes; each is asked once for its shares and once for the route that took most, and both
kinds of answer go through the planner's own estimate. How much households mix is one number, the
weight of a Dirichlet distribution about the town's true shares: small, and each uses nearly one
route; large, and each does as the town does. ``--write`` puts the table into README.md.
"""

from __future__ import annotations

import sys

import numpy as np
import polars as pl

from planner.survey.prior_routes import prior_routes
from planner.tables import PRIOR_SHARES, RESIDUAL_BIN
from tests.benchmarks.results_page import write_table

HOUSEHOLDS = 20_000
MIXING = (0.5, 1.0, 2.0, 4.0)
TRUE_SHARES = (0.30, 0.45, 0.60, 0.75, 0.90)
ELSEWHERE = np.array([0.45, 0.30, 0.10, 0.15])
"""How what does not go to the residual bin is divided among the others; invented."""


def simulated(mixing, true_share, rng):
    """Shares that households give their routes, shape (households, 5)."""
    town = np.insert((1.0 - true_share) * ELSEWHERE, RESIDUAL_BIN, true_share)
    return rng.dirichlet(mixing * town, HOUSEHOLDS)


def single_choices(shares):
    """Give all of each household's scraps to the route that takes most of them."""
    return np.eye(shares.shape[1])[shares.argmax(axis=1)]


def residual_share(shares):
    """Share of the residual bin in all scraps by the planner's estimate from such answers."""
    count = len(shares)
    same = {"area_id": "A", "dwelling": "house", "kerbside_service": "residual_only"}
    answers = pl.DataFrame(shares, schema=list(PRIOR_SHARES)).with_columns(
        is_recalled=pl.lit(value=False), **{name: pl.lit(text) for name, text in same.items()}
    )
    areas = pl.DataFrame({"area_id": ["A"], "kerbside_service": ["residual_only"]})
    found = prior_routes(answers, np.ones((1, count)), areas, np.random.default_rng(1))
    return float(found.shares[0, 0, 0, RESIDUAL_BIN])


def table():
    """Set what single choices find beside what shares find (in brackets), for each town."""
    rng = np.random.default_rng(20_261)
    truths = " | ".join(f"truth {share:.0%}" for share in TRUE_SHARES)
    lines = [f"| main route takes | {truths} |", "| --- |" + " ---: |" * len(TRUE_SHARES)]
    for mixing in MIXING:
        towns = [simulated(mixing, share, rng) for share in TRUE_SHARES]
        cells = []
        for shares in towns:
            asked, chosen = residual_share(shares), residual_share(single_choices(shares))
            cells.append(f"{chosen:.0%} ({asked:.0%})")
        most = [shares.max(axis=1).mean() for shares in towns]
        lines.append(f"| {min(most):.0%} to {max(most):.0%} | {' | '.join(cells)} |")
    return "\n".join(lines)


if __name__ == "__main__":
    found = table()
    print(found)
    if "--write" in sys.argv:
        write_table("single choice", found)
