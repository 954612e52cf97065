"""Time, memory, recall and precision of the search for duplicates over a large register.

Run with ``python tests/benchmarks/duplicates.py COUNT [SEED]``. The register is that of
tests/unit/duplicates/simulated.py: invented people, two in a hundred registered twice.
"""

import resource
import sys
import time
from pathlib import Path

import polars as pl

sys.path.insert(0, str(Path(__file__).parents[2]))

from planner.duplicates.proposing import candidate_pairs, normalise_contacts
from planner.duplicates.scoring import score_pairs
from tests.unit.duplicates.simulated import register

KIB_PER_GIB = 1024**2


def share_found(planted: pl.DataFrame, pairs: pl.DataFrame) -> float:
    found = planted.join(pairs, on=["first", "second"], how="semi")
    return found.height / planted.height


def main(count: int, seed: int) -> None:
    contacts, is_flat, planted = register(count, seed)
    began = time.perf_counter()
    spelled = normalise_contacts(contacts)
    at_spelling = time.perf_counter()
    pairs = candidate_pairs(spelled)
    at_pairs = time.perf_counter()
    scored = score_pairs(spelled, is_flat, pairs)
    at_end = time.perf_counter()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / KIB_PER_GIB
    print(f"{contacts.height:,} registrations, {planted.height:,} of them a second one")
    print(
        f"spelling {at_spelling - began:.1f} s, blocking {at_pairs - at_spelling:.1f} s, "
        f"scoring {at_end - at_pairs:.1f} s; {at_end - began:.1f} s and {memory:.1f} GiB in all"
    )
    print(f"{pairs.height:,} pairs compared, which hold {share_found(planted, pairs):.3f}")
    for least in (0.3, 0.5, 0.9):
        chosen = scored.filter(pl.col("score") >= least)
        recall = share_found(planted, chosen)
        precision = recall * planted.height / chosen.height
        print(
            f"score {least} or more: {chosen.height:,} pairs, recall {recall:.3f}, "
            f"precision {precision:.3f}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
