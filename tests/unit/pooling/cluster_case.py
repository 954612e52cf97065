"""Measure stand-in councils on a cluster of two processes; print who is missing."""

from __future__ import annotations

import json
import logging
import sys
from pathlib import Path

from planner.pooling.gathering import measure_all
from planner.pooling.pool import PoolRequest
from tests.unit.pooling.work import ANY_PORT, ONE_LOSS, work


def main():
    from distributed import LocalCluster

    folder = Path(sys.argv[1])
    logging.disable(logging.CRITICAL)
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=ANY_PORT
    ) as cluster:
        asked = PoolRequest("All", scheduler=cluster.scheduler_address)
        todo = {str(folder / one): folder / f"{one}.parquet" for one in ONE_LOSS}
        missing = measure_all(todo, asked, lambda _: None, work)
    sys.stdout.write(json.dumps(missing) + "\n")


if __name__ == "__main__":
    main()
