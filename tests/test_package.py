"""The wheel carries everything that the planner reads, and runs without the checkout."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SHIPPED = ("queries", "templates", "sample_programs")
NO_PIP = importlib.util.find_spec("pip") is None
RUN = "import sys; from planner import cli, paths; print(paths.QUERIES); cli.main()"

pytestmark = pytest.mark.skipif(NO_PIP, reason="building a wheel needs pip")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Build the wheel; takes some seconds, and the package registry for its build tool."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--no-deps", "-q", "-w", folder, ROOT]
    built = subprocess.run(command, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stderr
    (path,) = folder.glob("*.whl")
    return path


def tracked(folder, *, without=()):
    """Names of a folder's files in the checkout, but those that tools leave behind."""
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / folder).rglob("*")
        if path.is_file()
        and path.name[0] not in ".~"
        and path.suffix != ".pyc"
        and not set(path.parts) & set(without)
    }


@pytest.mark.parametrize("folder", SHIPPED)
def test_queries_templates_and_sample_programs_travel_in_the_wheel(wheel, folder):
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
        wanted = tracked(folder)
        assert wanted
        assert {f"planner/shipped/{name}" for name in wanted} <= inside
        for name in wanted:
            assert archive.read(f"planner/shipped/{name}") == (ROOT / name).read_bytes()


def test_three_towns_travel_with_their_spreadsheets(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    towns = {
        name.split("/")[3]
        for name in names
        if name.endswith("/program.toml") and "/sample_programs/" in name
    }
    assert len(towns) == 3
    for town in towns:
        own = [name for name in names if f"/sample_programs/{town}/" in name]
        assert sum(name.endswith((".xlsx", ".csv")) for name in own) >= 3


def test_factor_tables_and_their_sources_travel_in_the_wheel(wheel):
    with zipfile.ZipFile(wheel) as archive:
        inside = set(archive.namelist())
    factors = {name for name in tracked("planner/factors") if name.endswith((".csv", ".toml"))}
    assert "planner/factors/sources.toml" in factors
    assert factors <= inside


def test_nothing_that_only_developers_need_travels(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert not [name for name in names if name.startswith(("tests/", ".ci/"))]
    assert not [name for name in names if name.endswith((".pyc", ".duckdb"))]
    assert any(name.endswith("licenses/LICENSE") for name in names)


@pytest.mark.thorough
def test_the_wheel_runs_a_demo_without_the_checkout(wheel, tmp_path):
    library = tmp_path / "library"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(library)
    command = [sys.executable, "-W", "error", "-c", RUN, "demo", "out", "--town", "valdorra"]
    environment = {**os.environ, "PYTHONPATH": str(library)}
    ended = subprocess.run(
        command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stderr
    assert ended.stdout.startswith(str(library / "planner" / "shipped" / "queries"))
    assert (tmp_path / "out" / "report" / "figures.json").is_file()
