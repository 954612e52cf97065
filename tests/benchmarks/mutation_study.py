"""How many small faults in the core the tests find: a sample of mutants, killed or not.

    uv pip install cosmic-ray
    python -m tests.benchmarks.mutation_study [--packages survey] [--match weights] [--mutants 30]
        [--minutes 60]

A mutant is the package with one small fault: a sign, a comparison, a number, a condition.
Cosmic Ray makes them, for it alters one place at a time in the source as it stands and leaves
the tests and the sampling to us; tools that rewrite the whole package beforehand stumble over
its data files and doctests. A copy of the checkout is altered, never the checkout. Mutants
are drawn with a fixed seed, the same number from each package; annotations, which no program
runs, are left out. Each is met with the package's unit tests and doctests, those that name its
module first, and with the published numbers and laws that import it, until one fails; tests of
whole programs would find more. Tests run in a fork of a process that holds the libraries; a
mutant that never ends counts as killed once it has taken ten times the work of the tests without
one, so that a busy machine kills none. Results are kept at once in `.mutation/results.jsonl`,
and a study that was stopped goes on from them; results of other code count no longer. Survivors
are printed as they are. Those of `equal_mutants.toml` do the same as the code itself, for the
reason that stands there and is printed; they are counted apart from the rest.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import hashlib
import importlib
import json
import os
import re
import resource
import shutil
import sys
import time
import tomllib
from collections import defaultdict
from pathlib import Path

import numpy as np
from cosmic_ray.commands import init
from cosmic_ray.mutating import use_mutation
from cosmic_ray.plugins import get_operator
from cosmic_ray.work_db import WorkDB

ROOT = Path(__file__).resolve().parents[2]
PLACE = ROOT / ".mutation"
COPIED = ("planner", "queries", "templates", "sample_programs", "tests", "pyproject.toml")
PACKAGES = ("survey", "diversion", "emissions", "ordering", "sizing", "money", "worms")
SEED, TIMES_AS_LONG = 20260701, 10.0
EQUAL = tomllib.loads((Path(__file__).with_name("equal_mutants.toml")).read_text("utf-8"))["mutant"]
_ONE_THREAD = ("POLARS_MAX_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
_LIBRARIES = ("polars", "scipy.stats", "hypothesis", "duckdb", "dataframely", "pydantic", "pytest")
_OTHER_TESTS = ("tests/reference", "tests/properties")


def main() -> None:
    """Draw mutants, meet each with the tests, and print what was killed by package."""
    asked = _arguments()
    copy = _copied()
    os.chdir(copy)
    sys.path.insert(0, str(copy))
    sys.dont_write_bytecode = True
    os.environ |= dict.fromkeys(_ONE_THREAD, "1")
    for name in _LIBRARIES:
        importlib.import_module(name)
    ends = time.monotonic() + 60.0 * asked.minutes
    known, seconds = _kept(), {}
    drawn = {name: sample(name, asked.mutants, asked.match) for name in asked.packages}
    # a mutant of each package in turn, so that a study that is stopped knows of all
    turns = [
        (name, one[n]) for n in range(asked.mutants) for name, one in drawn.items() if n < len(one)
    ]
    for package, mutation in turns:
        if _key(mutation) not in known and time.monotonic() < ends:
            if package not in seconds:
                seconds[package] = TIMES_AS_LONG * taken(package)
            known[_key(mutation)] = met(package, mutation, seconds[package])
    tell(drawn, known)


def sample(package, count, match=""):
    """Draw so many mutants of a package, in a random order that is always the same."""
    found = sorted((Path("planner") / package).rglob("*.py"))
    modules = [path for path in found if re.search(match, path.stem)]
    if not modules:
        return []
    database = WorkDB(":memory:", WorkDB.Mode.create)
    init(modules, database, {})
    found = [one.mutations[0] for one in database.work_items]
    database.close()
    notes = {path: _annotations(path) for path in modules}
    run = [one for one in found if not _is_inside(one, notes[one.module_path])]
    run.sort(key=lambda one: (str(one.module_path), one.operator_name, one.occurrence))
    order = np.random.default_rng(SEED).permutation(len(run))[:count]
    return [run[place] for place in order]


def taken(package):
    """Run the tests on the code as it is, which they must pass; give the seconds of work."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    assert passes(_tests(package)), f"{package}: tests fail on the code as it is"
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before


def passes(tests, seconds=None):
    """Tell whether tests pass in a fork of this process, within so many seconds of work."""
    child = os.fork()
    if child == 0:
        if seconds is not None:
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds)))
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (1, 2):
            os.dup2(nowhere, stream)
        asked = ["-q", "-x", "-n", "0", "-W", "ignore::pytest.PytestAssertRewriteWarning", *tests]
        os._exit(int(importlib.import_module("pytest").main(asked)))
    return os.waitpid(child, 0)[1] == 0


def met(package, mutation, seconds):
    """Meet a mutant with the tests; keep and return what became of it."""
    operator = get_operator(mutation.operator_name)(**mutation.operator_args)
    with use_mutation(mutation.module_path, operator, mutation.occurrence) as (code, mutant):
        is_killed = not passes(_tests(package, mutation.module_path.stem), seconds)
    name = str(mutation.module_path)
    diff = difflib.unified_diff(code.split("\n"), mutant.split("\n"), name, name, n=2, lineterm="")
    told = {"key": _key(mutation), "killed": is_killed, "diff": "\n".join(diff)}
    with (PLACE / "results.jsonl").open("a", encoding="utf-8") as kept:
        kept.write(f"{json.dumps(told)}\n")
    print(
        f"{package}: {mutation.module_path.name}:{mutation.start_pos[0]} {mutation.operator_name} "
        f"{'killed' if is_killed else 'SURVIVED'}",
        flush=True,
    )
    return told


def tell(drawn, known):
    """Print the share killed of each package, and every survivor."""
    totals = defaultdict(int)
    for package, mutations in drawn.items():
        met_ones = [known[_key(one)] for one in mutations if _key(one) in known]
        killed = sum(one["killed"] for one in met_ones)
        survivors = [one["diff"] for one in met_ones if not one["killed"]]
        reasons = [_reason(diff) for diff in survivors]
        equal = len([one for one in reasons if one])
        totals["met"] += len(met_ones)
        totals["killed"] += killed
        totals["equal"] += equal
        print(f"{package:10} {killed:4} of {len(met_ones):4} killed, {equal:2} do the same")
        for diff, reason in zip(survivors, reasons, strict=True):
            print(diff)
            print(f"  does the same: {reason}" if reason else "  SURVIVED")
    print(
        f"{'all':10} {totals['killed']:4} of {totals['met']:4} killed, {totals['equal']:2} the same"
    )


def _reason(diff):
    """Say why a mutant does the same as the code, or nothing."""
    lines = [line[1:].strip() for line in diff.splitlines() if line.startswith(("-", "+"))]
    return next((one["why"] for one in EQUAL if one["from"] in lines and one["to"] in lines), None)


def _tests(package, module=""):
    """Name the tests of a package: its own, and the published numbers and laws that import it."""
    imports = re.compile(rf"^from planner(\.| import .*\b){package}\b", re.MULTILINE)
    others = [path for folder in _OTHER_TESTS for path in sorted(Path(folder).glob("test_*.py"))]
    held = [str(path) for path in others if imports.search(path.read_text(encoding="utf-8"))]
    own = sorted(
        Path("tests/unit", package).glob("test_*.py"), key=lambda path: module not in path.stem
    )
    return [*map(str, own), f"planner/{package}", *held]


def _annotations(path):
    """Lines and columns of a module's annotations, from and to."""
    nodes = list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))
    noted = [getattr(node, name, None) for node in nodes for name in ("annotation", "returns")]
    return [
        ((one.lineno, one.col_offset), (one.end_lineno, one.end_col_offset))
        for one in noted
        if one is not None
    ]


def _is_inside(mutation, places):
    return any(begin <= tuple(mutation.start_pos) < end for begin, end in places)


def _key(mutation):
    """Name a mutant by its place and by the code that it alters."""
    code = hashlib.sha256(mutation.module_path.read_bytes()).hexdigest()[:12]
    return f"{mutation.module_path} {code} {mutation.operator_name} {mutation.occurrence}"


def _kept():
    path = PLACE / "results.jsonl"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return {one["key"]: one for one in map(json.loads, lines)}


def _copied():
    copy = PLACE / "checkout"
    shutil.rmtree(copy, ignore_errors=True)
    copy.mkdir(parents=True)
    leave = shutil.ignore_patterns("__pycache__")
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, copy / name, ignore=leave)
        else:
            shutil.copy(source, copy / name)
    return copy


def _arguments():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--packages", nargs="+", default=PACKAGES, choices=PACKAGES)
    parser.add_argument("--match", default="", help="modules whose name holds this pattern")
    parser.add_argument("--mutants", type=int, default=30, help="of each package")
    parser.add_argument("--minutes", type=float, default=60.0, help="begin none after these")
    return parser.parse_args()


if __name__ == "__main__":
    main()
