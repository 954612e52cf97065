"""How many small faults in the core the tests find: a sample of mutants, killed or not.

    uv pip install cosmic-ray
    python -m tests.benchmarks.mutation_study [--packages survey] [--mutants 30] [--seed 1]
        [--minutes 60] [--write]

A mutant is the package with one small fault: a sign, a comparison, a number, a condition.
Cosmic Ray makes them; annotations and decorators are left out, and so are shifts and
bits in place of arithmetic and `is` in place of a comparison, which fail by their type or are
bad style at most. The sample is the mutants with the smallest digest of seed, place and text, so
that a change elsewhere draws no others.

Tests are collected once and run once under coverage, which tells which of them reach which line.
For each mutant the code of its function is exchanged and those tests alone run, the most special
first, until one fails; what a module does on import is met in a new process, which imports the
mutant. One that takes ten times the work of its tests without it never ends, and is killed. Tests
are the units of these packages, laws, published numbers and doctests; tests of whole programs
would find more.

Results are kept in `.mutation/`, so that a study goes on where it was: what was killed stays so
while its function is the same, a survivor is met again by other tests. The study tells both what
the tests killed when they first met a mutant and what they kill now. Mutants of
`equal_mutants.toml` do the same as the code for the reason that stands there, and are counted
apart. `--write` puts what the study tells, every survivor with it, into README.md: nothing
there is written by hand. Draw by another seed before tests are written for what lives.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import datetime
import functools
import gc
import hashlib
import itertools
import json
import os
import re
import resource
import shutil
import signal
import sys
import time
import tomllib
from collections import Counter, defaultdict
from dataclasses import dataclass
from importlib.machinery import SourceFileLoader
from multiprocessing import get_context
from pathlib import Path
from types import CodeType, FunctionType

import coverage
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import MutationVisitor
from cosmic_ray.plugins import get_operator, operator_names
from hypothesis import Phase, settings

from tests.benchmarks.results_page import write_table

ROOT = Path(__file__).resolve().parents[2]
PLACE = ROOT / ".mutation"
PACKAGES = ("survey", "diversion", "emissions", "ordering", "sizing", "money", "worms")
TESTS = (
    *(f"tests/unit/{one}" for one in PACKAGES),
    "tests/reference",
    "tests/properties",
    *(f"planner/{one}" for one in PACKAGES),
)
SEED, TIMES_AS_LONG, LEAST_SECONDS = 20270117, 10.0, 20.0
EQUAL = tomllib.loads((Path(__file__).with_name("equal_mutants.toml")).read_text("utf-8"))["mutant"]
WORDS = ("-s", "--tb=no", "-rN", "-n", "0", "-W", "ignore::pytest.PytestAssertRewriteWarning")
_LEFT_OUT = re.compile(
    r"Variable|BinaryOperator_(?!Bit)\w+_(RShift|LShift|Bit\w+)$|Comparison\w+_Is(Not)?$"
)
_NOT_RUN = re.compile(r"@|if TYPE_CHECKING")
_OPERATORS = {one: get_operator(one)() for one in operator_names() if not _LEFT_OUT.search(one)}


def main():
    """Collect the tests; the study takes the place of running them."""
    os.chdir(ROOT)
    os.environ |= dict.fromkeys(
        ("POLARS_MAX_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), "1"
    )
    PLACE.mkdir(exist_ok=True)
    study = Study(_arguments())
    raise SystemExit(pytest.main([*WORDS, "-m", "not thorough", *TESTS], plugins=[study]))


@dataclass(frozen=True)
class Mutant:
    """One small fault: where, what the module is with it, and what tells it from others."""

    package: str
    path: str
    lines: tuple[int, int]
    operator: str
    occurrence: int
    key: str

    @functools.cached_property
    def code(self):
        return MutationVisitor.mutate_code(
            _source(self.path), get_operator(self.operator)(), self.occurrence
        )

    @functools.cached_property
    def altered(self):
        """Lines before and after, without their indents."""
        pairs = zip(_source(self.path).split("\n"), self.code.split("\n"), strict=False)
        return next(((a.strip(), b.strip()) for a, b in pairs if a != b), ("", ""))

    @functools.cached_property
    def why_the_same(self):
        """Say why it does the same as the code, or nothing."""
        before, after = map(_unspaced, self.altered)
        same = ((_unspaced(one["from"]), _unspaced(one["to"]), one["why"]) for one in EQUAL)
        return next((why for was, to, why in same if (was, to) == (before, after)), None)

    @contextlib.contextmanager
    def in_place(self):
        """Put the mutant's code in place of each function that it alters."""
        path = str(ROOT / self.path)
        was, new = (
            _functions_of(compile(code, path, "exec")) for code in (_source(self.path), self.code)
        )
        # what is loaded may differ from both in how it was compiled
        altered = {place for place, code in new.items() if code != was.get(place)}
        here = [one for one in _found()[0] if one.__code__.co_filename == path]
        changed = [(one, one.__code__) for one in here if _place(one.__code__) in altered]
        for one, code in changed:
            one.__code__ = new[_place(code)]
        _clear_caches()
        try:
            yield
        finally:
            for one, code in changed:
                one.__code__ = code
            _clear_caches()

    def passes_on_import(self, tests, seconds):
        """Run tests in this process, which has imported none of us, with the mutant's module."""
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds)))
        as_it_is, path = SourceFileLoader.get_code, str(ROOT / self.path)

        def get_code(loader, name):
            is_mine = loader.path == path
            return compile(self.code, path, "exec") if is_mine else as_it_is(loader, name)

        SourceFileLoader.get_code = get_code
        for name in [one for one in sys.modules if re.match(r"planner\b", one)]:
            del sys.modules[name]
        # pytest would read a module whose doctests are asked for itself, to rewrite its asserts
        os._exit(int(pytest.main([*WORDS, "--assert=plain", "-x", *tests])))


def sample(package, count, seed):
    """Draw so many mutants of a package by a seed."""
    ranked, seen = [], Counter()
    for path in (one for one in _modules() if one.startswith(f"planner/{package}/")):
        notes, lines = _Notes(path), _source(path).split("\n")
        for operator, occurrence, begins in _mutations(path):
            line = lines[begins[0] - 1].strip()
            if notes.annotates(begins) or _NOT_RUN.match(line):
                continue
            span, function = notes.around(begins[0])
            place = f"{path} {operator} {line}"
            seen[place] += 1
            key = f"{place} {seen[place]} {_digest([function])}"
            mutant = Mutant(package, path, span, operator, occurrence, key)
            ranked.append((_digest([str(seed), place, str(seen[place])]), mutant))
    drawn = (one for _, one in sorted(ranked, key=lambda pair: pair[0]))
    return list(itertools.islice(filter(_is_python, drawn), count))


def _is_python(mutant):
    """Tell stars of an unpacking, which take no other operator, from those of a power."""
    try:
        compile(mutant.code, mutant.path, "exec")
    except SyntaxError:
        return False
    return True


def _mutations(path):
    """Go through a module once, and name each operator, its occurrence and its place."""
    counts = Counter()
    for node in ast_nodes(get_ast(_source(path))):
        # the occurrence counts as Cosmic Ray counts: through the tree, for each operator
        for name, operator in _OPERATORS.items():
            for begins, _ in operator.mutation_positions(node):
                yield name, counts[name], begins
                counts[name] += 1


class _Notes:
    """What stands around a line of a module: its statement, its function, annotations."""

    def __init__(self, path):
        self.tree = ast.parse(_source(path))
        nodes = list(ast.walk(self.tree))
        self.statements = [one for one in nodes if isinstance(one, ast.stmt)]
        notes = [getattr(one, name, None) for one in nodes for name in ("annotation", "returns")]
        self.notes = [
            ((one.lineno, one.col_offset), (one.end_lineno, one.end_col_offset))
            for one in notes
            if one is not None
        ]

    def annotates(self, place):
        return any(begin <= tuple(place) < end for begin, end in self.notes)

    def around(self, line):
        """First and last line of the statement (its head, if it holds others); its function."""
        holding = [one for one in self.statements if _first(one) <= line <= one.end_lineno]
        inner = max(holding, key=lambda one: (one.lineno, -one.end_lineno))
        body = getattr(inner, "body", None)
        last = max(line, body[0].lineno - 1) if body else inner.end_lineno
        functions = [one for one in holding if isinstance(one, ast.FunctionDef)]
        return (_first(inner), last), ast.unparse(functions[-1] if functions else inner)


def _first(statement):
    """First line of a statement, its decorators included."""
    return min(
        [statement.lineno, *(one.lineno for one in getattr(statement, "decorator_list", []))]
    )


class Study:
    """Meets mutants where pytest would run the tests that it has collected."""

    def __init__(self, asked):
        self.asked, self.failed, self.seconds = asked, [], defaultdict(float)
        self.tracer, self.context = None, ""

    @pytest.hookimpl(trylast=True)
    def pytest_configure(self):
        """Draw the same examples each time, and look for no simpler ones that fail."""
        settings.register_profile(
            "study",
            settings.get_profile("planner"),
            phases=(Phase.explicit, Phase.generate),
            database=None,
            derandomize=True,
        )
        settings.load_profile("study")

    def pytest_runtestloop(self, session):
        """Draw the mutants, meet each, and tell."""
        temporary = session.config._tmp_path_factory.getbasetemp()  # one for all forks
        items = {one.nodeid: one for one in session.items}
        reached = self.map(items)
        known, ends = _kept(), time.monotonic() + 60.0 * self.asked.minutes
        asked = self.asked
        drawn = {name: sample(name, asked.mutants, asked.seed) for name in asked.packages}
        # a mutant of each package in turn, so that a study that is stopped knows of all
        turns = [
            one[n] for n in range(self.asked.mutants) for one in drawn.values() if n < len(one)
        ]
        for mutant in turns:
            tests = reaching(reached, mutant)
            told = known.get(mutant.key, {"killed": False, "tests": None})
            is_new = not told["killed"] and told["tests"] != _marks(reached, tests)
            if is_new and not mutant.why_the_same and time.monotonic() < ends:
                self.meet(mutant, tests, items, reached)
        shutil.rmtree(temporary, ignore_errors=True)
        told = tell(drawn, _kept(), asked.seed)
        print(told)
        if asked.write:
            write_table("mutants", told)
        return True

    def map(self, items):
        """Give the tests by name with their seconds and lines; run those that are not known."""
        path = PLACE / "reached.json"
        kept = _read(path) if path.exists() else {}
        files = {one.partition("::")[0] for one in items}
        new = {one for one in files if kept.get(one, {}).get("mark") != _mark(one, kept)}
        todo = [one for name, one in items.items() if name.partition("::")[0] in new]
        print(f"{len(items):,} tests, {len(todo):,} to be mapped", flush=True)
        for file in sorted(new):
            here = [one for one in todo if one.nodeid.partition("::")[0] == file]
            kept[file] = {"tests": self.trace(here)}
            kept[file]["mark"] = _mark(file, kept)
            path.write_text(json.dumps(kept), "utf-8")
            print(f"{file}: {len(here)} tests", flush=True)
        return {
            name: {**told, "mark": kept[file]["mark"]}
            for file in files
            for name, told in kept[file]["tests"].items()
        }

    def trace(self, items):
        """Note lines and seconds of each test; what the tests of a file share is the file's."""
        self.tracer = coverage.Coverage(data_file=None, source=["planner"], messages=False)
        self.tracer.start()
        self.run(items)
        self.tracer.stop()
        for name in self.failed:
            print(f"fails on the code as it is, and is left out: {name}", file=sys.stderr)
        names = [one.nodeid for one in items if one.nodeid not in self.failed]
        found = {
            name: {"seconds": self.seconds[name], "lines": {}}
            for name in (items[0].nodeid.partition("::")[0], *names)
        }
        data = self.tracer.get_data()
        for path in _modules():
            for line, names in data.contexts_by_lineno(str(ROOT / path)).items():
                for name in filter(found.get, names):
                    found[name]["lines"].setdefault(path, []).append(line)
        self.tracer = None
        return found

    def meet(self, mutant, tests, items, reached):
        """Meet a mutant with the tests that reach it; keep what became of it."""
        before = time.process_time()
        seconds = TIMES_AS_LONG * sum(reached[one]["seconds"] for one in tests) + LEAST_SECONDS
        is_killed = False
        if tests and _is_in_function(mutant):
            with mutant.in_place():
                is_killed = not self.run([items[one] for one in tests], seconds)
        elif tests:
            is_killed = not _passes_on_import(mutant, tests, seconds)
        told = {"key": mutant.key, "killed": is_killed, "tests": _marks(reached, tests)}
        with (PLACE / "results.jsonl").open("a", encoding="utf-8") as kept:
            kept.write(f"{json.dumps(told)}\n")
        what, work = "killed" if is_killed else "SURVIVED", time.process_time() - before
        print(f"{what:8} {work:5.1f} s, {len(tests):3} tests {mutant.key}", flush=True)

    def run(self, items, seconds=None):
        """Run tests, up to the first that fails if work is limited; tell whether all passed."""
        self.failed.clear()
        signal.signal(signal.SIGPROF, _out_of_time)
        signal.setitimer(signal.ITIMER_PROF, seconds or 0.0, 1.0)
        for item, later in zip(items, [*items[1:], None], strict=True):
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=later)
            if self.failed and seconds:
                break
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        item.session._setupstate.teardown_exact(None)
        return not self.failed

    def pytest_runtest_logreport(self, report):
        self.seconds[report.nodeid] += report.duration
        self.failed += [report.nodeid] if report.failed else []

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.context = item.nodeid
        if self.tracer:
            _clear_caches()  # what an earlier test left there, this one would not be seen to reach
            self.tracer.switch_context(self.context)
        return (yield)

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        is_shared = self.tracer and fixturedef.scope != "function"
        if is_shared:
            self.tracer.switch_context(self.context.partition("::")[0])
        try:
            return (yield)
        finally:
            if is_shared:
                self.tracer.switch_context(self.context)


def reaching(reached, mutant):
    """Name the tests that reach a mutant, those that reach the fewest lines first."""
    first, last = mutant.lines
    here = {name: one["lines"].get(mutant.path, []) for name, one in reached.items()}
    found = {name for name, lines in here.items() if any(first <= one <= last for one in lines)}
    if not found and not _is_in_function(mutant):
        found = {name for name, lines in here.items() if lines}
    names = [one for one in reached if one in found or one.partition("::")[0] in found]
    size = {one: sum(map(len, reached[one]["lines"].values())) for one in names}
    return sorted((one for one in names if "::" in one), key=lambda one: (size[one], one))


def tell(drawn, known, seed):
    """Say by package what was killed, at first and now, and name every survivor."""
    rows, all_of, lives = [], Counter(), []
    for package, mutants in drawn.items():
        met = [one for one in mutants if one.why_the_same or one.key in known]
        differ = [one for one in met if not one.why_the_same]
        counts = Counter(met=len(met), differ=len(differ))
        for when in ("at_first", "killed"):
            counts[when] = sum(known[one.key][when] for one in differ)
        rows.append(_row(package, counts))
        all_of += counts
        lives += [one for one in differ if not known[one.key]["killed"]]
    first = f"By seed {seed}, told on {datetime.date.today():%-d %B %Y}:"
    head = "| package | met | do the same | killed at first | killed now | of those that differ |"
    table = [head, "| --- | --- | --- | --- | --- | --- |", *rows, _row("all", all_of)]
    named = [f"- {one.path}: `{one.altered[0]}` as `{one.altered[1]}`" for one in lives]
    return "\n".join([first, "", *table, "", "Survivors:" if named else "None lives.", *named])


def _row(name, counts):
    met, differ, now = counts["met"], counts["differ"], counts["killed"]
    share = f"{now / differ:.0%}" if differ else ""
    at_first = f"{counts['at_first']} ({counts['at_first'] / differ:.0%})" if differ else ""
    return f"| {' | '.join(map(str, (name, met, met - differ, at_first, now, share)))} |"


def _passes_on_import(mutant, tests, seconds):
    """Tell whether tests pass in a process that imports a mutant, with libraries at hand."""
    context = get_context("forkserver")
    context.set_forkserver_preload(["polars", "scipy.stats", "hypothesis", "duckdb", "pytest"])
    child = context.Process(target=mutant.passes_on_import, args=(tests, seconds))
    child.start()
    child.join()
    return child.exitcode == 0


class OutOfTimeError(Exception):
    """A mutant has taken more work than it may."""


def _out_of_time(*_):
    raise OutOfTimeError


@functools.cache
def _found():
    """Functions of the packages, and what caches results, of all that is imported by now."""
    packages, all_of = tuple(f"planner.{one}" for one in PACKAGES), gc.get_objects()
    functions = [one for one in all_of if isinstance(one, FunctionType)]
    caches = [one for one in all_of if isinstance(one, functools._lru_cache_wrapper)]
    return (
        [one for one in functions if (one.__module__ or "").startswith(packages)],
        [one for one in caches if one.__module__.startswith(("planner", "tests."))],
    )


def _clear_caches():
    for one in _found()[1]:
        if one is not _found:
            one.cache_clear()


def _functions_of(code: CodeType):
    """Code of a module's functions by their names and lines, those inside others as well."""
    inner = [one for one in code.co_consts if isinstance(one, CodeType)]
    return {_place(one): one for one in inner} | {
        place: one for outer in inner for place, one in _functions_of(outer).items()
    }


def _place(code):
    return code.co_qualname, code.co_firstlineno


def _is_in_function(mutant):
    nodes = [
        one for one in ast.walk(ast.parse(_source(mutant.path))) if isinstance(one, ast.FunctionDef)
    ]
    return any(one.body[0].lineno <= mutant.lines[0] <= one.end_lineno for one in nodes)


@functools.cache
def _source(path):
    return (ROOT / path).read_text(encoding="utf-8")


@functools.cache
def _modules():
    return [
        str(path.relative_to(ROOT))
        for one in PACKAGES
        for path in sorted((ROOT / "planner" / one).rglob("*.py"))
    ]


def _mark(file, kept):
    """Digest a test file and the modules that its tests reach."""
    tests = kept.get(file, {}).get("tests", {}).values()
    paths = sorted({path for one in tests for path in one["lines"]})
    return _digest(_source(one) for one in [file, *paths] if (ROOT / one).exists())


def _read(path):
    return json.loads(path.read_text(encoding="utf-8"))


def _unspaced(line):
    """Leave blanks out: a number that is altered is written with one before it."""
    return "".join(line.split())


def _digest(texts):
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()[:12]


def _marks(reached, tests):
    """Digest the tests that a mutant is met with."""
    return _digest(f"{one} {reached[one]['mark']}" for one in tests)


def _kept():
    """Read what became of each mutant last, and whether it was killed when it was first met."""
    path, kept = PLACE / "results.jsonl", {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else []:
        told = json.loads(line)
        before = kept.get(told["key"], {"at_first": told["killed"]})
        kept[told["key"]] = {**told, "at_first": before["at_first"]}
    return kept


def _arguments():
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--packages", nargs="+", default=PACKAGES, choices=PACKAGES)
    parser.add_argument("--mutants", type=int, default=30, help="of each package")
    parser.add_argument("--minutes", type=float, default=60.0, help="begin none after these")
    parser.add_argument("--seed", type=int, default=SEED, help="by which they are drawn")
    parser.add_argument("--write", action="store_true", help="put what it tells in README.md")
    return parser.parse_args()


if __name__ == "__main__":
    main()
