"""README and guide tell of every command, and of no other."""

import re

import pytest
import typer

from planner.cli import app
from planner.paths import TEMPLATES
from planner.tables import TABLES

README = (TEMPLATES.parent / "README.md").read_text(encoding="utf-8")
GUIDE = re.sub("</?code>", "`", (TEMPLATES / "guide.html").read_text(encoding="utf-8"))
COMMANDS = typer.main.get_command(app).commands
PURCHASES = ("suppliers", "offers", "orders", "deliveries", "invoices", "stock_counts")


def test_the_readme_stays_short():
    # beyond this a reader wants the guide
    assert len(README.split()) <= 1870


@pytest.mark.parametrize("name", COMMANDS)
def test_the_readme_tells_of_every_command(name):
    assert re.search(rf"planner {name}\b", README)


@pytest.mark.parametrize("name", sorted(set(re.findall(r"`planner ([a-z]+)", README + GUIDE))))
def test_no_command_is_named_that_is_not_there(name):
    assert name in COMMANDS


@pytest.mark.parametrize(
    "option", sorted(set(re.findall(r"`planner ([a-z]+[^`]*--[^`]*)`", README + GUIDE)))
)
def test_the_options_that_are_named_are_there(option):
    name, *words = option.split()
    known = {opt for param in COMMANDS[name].params for opt in param.opts}
    assert {word for word in words if word.startswith("--")} <= known


@pytest.mark.parametrize("table", PURCHASES)
def test_the_guide_names_the_sheets_of_an_order(table):
    assert table in TABLES
    assert f"`{table}`" in GUIDE


def test_every_file_that_the_pages_for_developers_name_is_there():
    root = TEMPLATES.parent
    pages = (root / "DEVELOPERS.md", root / "tests" / "benchmarks" / "README.md")
    text = "".join(page.read_text(encoding="utf-8") for page in pages)
    named = set(re.findall(r"`((?:[a-z_]+/)*[a-z_]+\.(?:py|toml|sql))\b", text))
    kept = ("planner", "queries", "templates", "tests", "sample_programs", "pyproject.toml")
    files = [path for name in kept for path in (root / name, *(root / name).rglob("*.*"))]
    there = [f"/{path.relative_to(root).as_posix()}" for path in files]
    lost = [name for name in named if not any(path.endswith(f"/{name}") for path in there)]
    assert named
    assert lost == []
    modules = set(re.findall(r"python -m ((?:tests|planner|sample_programs)[\w.]*)", text))
    programs = set(re.findall(r"python (tests/\S+?\.py)", text))
    files_of = (root / name.replace(".", "/") for name in modules)
    gone = [one for one in files_of if not (one.with_suffix(".py").exists() or one.is_dir())]
    assert (gone, [one for one in programs if not (root / one).is_file()]) == ([], [])
