"""A command starts with what it uses: help and completion load no library of numbers."""

import json
import subprocess
import sys

import pytest

from planner.messages import subject_words
from tests.programs.conftest import copy_loaded

# runs commands one after another in one process, and says which modules it holds then
CHILD = """
import contextlib, io, json, os, sys
from planner.cli import app
said = []
for environment, words in json.loads(sys.argv[1]):
    os.environ.update(environment)
    with contextlib.redirect_stdout(io.StringIO()) as out, contextlib.suppress(SystemExit):
        app(words, prog_name="planner")
    said.append(out.getvalue())
ran = {name for name, one in sys.modules.items() if type(one).__name__ != "_LazyModule"}
print(json.dumps([said, sorted(ran)]))
"""
HELP_IMPORTS = {
    "planner",
    "planner.at_first_use",
    "planner.errors",
    "planner.field",
    "planner.field.calling_request",
    "planner.country_writing",
    "planner.messages",
    "planner.ordering",
    "planner.ordering.request",
    "planner.paths",
    "planner.progress",
    "planner.report",
    "planner.report.due",
    "planner.report.orders",
    "planner.report.sheet",
    "planner.report.word",
    "planner.rounding",
    "planner.run",
    "planner.sampling",
    "planner.sampling.request",
    "planner.shells",
    "planner.starting",
    "planner.store",
    "planner.units",
}
"""Modules of ours behind the command line that help runs: defaults, words and file names; packages
of nothing but their name."""

OF_TYPER = {"typer", "annotated_doc", "shellingham"}
TURNS_WORDS_INTO_VALUES = {
    "annotated_types",
    "pydantic",
    "pydantic_core",
    "typing_extensions",
    "typing_inspection",
}
"""What Typer imports to turn the words of a command line into values."""

PARTS_OF_SCIPY = {
    f"scipy.{name}" for name in ("linalg", "ndimage", "optimize", "sparse", "special", "stats")
}
"""What computes; scipy itself is a table of contents."""

DRAWS_WRITES_OR_SEARCHES = PARTS_OF_SCIPY | {
    "docx",
    "docxtpl",
    "fastexcel",
    "jinja2",
    "matplotlib",
    "openpyxl",
    "rapidfuzz",
}


def ran(commands, folder):
    """Run commands in a process of their own; give what they printed and what was imported."""
    child = [sys.executable, "-c", CHILD, json.dumps(commands)]
    ended = subprocess.run(child, cwd=folder, capture_output=True, text=True, check=True)
    said, modules = json.loads(ended.stdout)
    return said, set(modules)


def completion(words):
    """Give what a shell tells a command that it asks how a line goes on."""
    told = {"COMP_WORDS": words, "COMP_CWORD": str(len(words.split()) - 1)}
    return [{"_PLANNER_COMPLETE": "complete_bash", **told}, []]


@pytest.fixture(scope="module")
def helped(tmp_path_factory):
    commands = [
        [{}, ["--help"]],
        [{}, ["--version"]],
        [{}, ["order", "--help"]],
        completion("planner lo"),
        completion("planner order --fo"),
        [{"_PLANNER_COMPLETE": "", "LC_ALL": "fr_FR.UTF-8"}, ["order", "--help"]],
    ]
    return ran(commands, tmp_path_factory.mktemp("anywhere"))


def test_help_imports_the_command_line_and_nothing_behind_it(helped):
    _, modules = helped
    ours = {name for name in modules if name.partition(".")[0] == "planner"}
    assert {name for name in ours if not name.startswith("planner.cli")} == HELP_IMPORTS


def test_help_imports_no_library_but_that_of_the_command_line(helped):
    _, modules = helped
    libraries = {name.partition(".")[0] for name in modules} - set(sys.stdlib_module_names)
    assert {name for name in libraries if name[0] != "_"} - {
        "planner"
    } <= OF_TYPER | TURNS_WORDS_INTO_VALUES


def test_help_version_and_completion_say_what_they_are_asked(helped):
    (top, version, order, commands, options, french), _ = helped
    assert "Load files into the records" in top
    assert version.startswith("planner ")
    assert "--accept-changes" in order
    assert commands.split() == ["look", "load", "loads"]
    assert options.split() == ["--forecast", "--force"]
    assert subject_words("fr", "usage")["usage.order.force"] in french
    assert subject_words("en", "usage")["usage.order.force"] in order


@pytest.mark.thorough
def test_commands_on_the_records_wait_for_no_chart_workbook_or_search(tmp_path):
    copy_loaded(tmp_path, "valdorra")
    commands = [
        ["loads"],
        ["undo", "L0001", "--dry-run"],
        ["check"],
        ["backup"],
        ["factors", "landfill"],
    ]
    said, modules = ran([[{}, words] for words in commands], tmp_path)
    assert all(said)
    assert {"polars", "duckdb"} <= modules
    assert not DRAWS_WRITES_OR_SEARCHES & modules


WORKS_WITHOUT_DRAWING = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(f"planner.{name}")
print(*(name for name in sys.modules if type(sys.modules[name]).__name__ != "_LazyModule"))
"""


@pytest.mark.parametrize(
    ("steps", "late"),
    [
        (
            "checks field.booking field.calling field.feeding field.shared_bins loading looking "
            "pooling.pool report.due.gathering report.explaining report.nursery "
            "report.orders.folder report.page sampling.drawing",
            PARTS_OF_SCIPY | {"docx", "docxtpl", "fastexcel", "matplotlib"},
        ),
        (
            "checks field.shared_bins issuing ordering.breeding ordering.steps pooling.exporting "
            "report.due.gathering report.plan.making reporting",
            DRAWS_WRITES_OR_SEARCHES,
        ),
    ],
    ids=["steps", "estimates"],
)
def test_no_step_imports_what_draws_writes_or_solves_before_its_work_begins(steps, late, tmp_path):
    """Half a second of matplotlib, and a quarter of scipy's parts, wait until there is work."""
    child = [sys.executable, "-c", WORKS_WITHOUT_DRAWING, *steps.split()]
    ended = subprocess.run(child, cwd=tmp_path, capture_output=True, text=True, check=True)
    imported = set(ended.stdout.split())
    assert {f"planner.{name}" for name in steps.split()} <= imported
    assert not late & imported


TWO_OF_ONE = """
import importlib, sys
import planner.run
importlib.import_module(sys.argv[1])
mine = {name: one for name, one in sys.modules.items()
        if name.startswith("planner.") and type(one).__name__ != "_LazyModule"}
for name, module in mine.items():
    for thing in list(vars(module).values()):
        home, called = getattr(thing, "__module__", None), getattr(thing, "__qualname__", None)
        if home in mine and isinstance(called, str) and called.isidentifier():
            if getattr(mine[home], called, thing) is not thing:
                print(f"{name} holds another {home}.{called}")
"""


@pytest.mark.parametrize("first", ["report.issues", "report.plan.making", "ordering.steps"])
def test_no_module_runs_twice_whichever_is_asked_for_first(first, tmp_path):
    """A class or a name set in one copy of a module is not that of the other."""
    child = [sys.executable, "-c", TWO_OF_ONE, f"planner.{first}"]
    ended = subprocess.run(child, cwd=tmp_path, capture_output=True, text=True, check=True)
    assert ended.stdout == ""
