"""Councils measured on a cluster of machines, through Dask.

Dask was chosen over Ray: 22 MB to install against 209, nothing compiled but small parts, it
runs on Windows, and it brings fsspec, which reads object stores.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.errors import PoolError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from planner.pooling.gathering import Outcome, Work
    from planner.pooling.pool import PoolAsked

ANSWER_SECONDS = 30


def on_cluster(
    folders: Sequence[str], asked: PoolAsked, work: Work, taken_down: Outcome
) -> Iterator[tuple[str, Outcome]]:
    """Measure councils on the cluster, each as its own task, in the order in which they end.

    A worker that is lost loses its tasks to the others; a task that has taken down several
    workers is given up (Dask's `distributed.scheduler.allowed-failures`).

    Parameters
    ----------
    folders
        Program folders, under names that every worker can read: a mounted share or an address.
    asked
        What to measure; its scheduler is the cluster's.
    work
        Measures one folder.
    taken_down
        What is said of a folder that is given up.

    Raises
    ------
    PoolError
        Dask is not installed, or the cluster does not answer.
    """
    try:
        from distributed import Client, as_completed
        from distributed.scheduler import KilledWorker
    except ImportError:
        message = (
            "--scheduler needs an optional part of the planner. Install it with "
            "pip install 'wormbin-planner[cluster]', or leave --scheduler out."
        )
        raise PoolError(message) from None
    try:
        client = Client(asked.scheduler, timeout=ANSWER_SECONDS)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        message = f"--scheduler {asked.scheduler}: no cluster answers there ({error})."
        raise PoolError(message) from error
    with client:
        futures = {client.submit(work, one, asked, pure=False): one for one in folders}
        for future in as_completed(futures):  # type: ignore[no-untyped-call]
            try:
                yield futures[future], future.result()
            except KilledWorker:
                yield futures[future], taken_down
