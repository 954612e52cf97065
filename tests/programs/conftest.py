"""The sample programs, each loaded once a session, and its years, each estimated once."""

from __future__ import annotations

import re
import shutil
import tomllib
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from planner.factors import read_factors
from planner.loading import LoadResult, load_files
from planner.messages import write_papers_in
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.program import Program, read_program
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.starting import last_day_of_records, sample_towns
from planner.store.opening import open_store

TOWNS = sample_towns()


def years_of(town):
    program = read_program(SAMPLE_PROGRAMS / town / PROGRAM_FILE)
    return [year.reporting_year for year in program.reporting_years]


TOWN_YEARS = [(town, year) for town in TOWNS for year in years_of(town)]


def spreadsheets(town):
    return sorted(p for p in (SAMPLE_PROGRAMS / town).iterdir() if p.suffix in (".xlsx", ".csv"))


@dataclass
class Sample:
    """One sample program: its loaded folder, its truth, and its years as they are asked for."""

    folder: Path
    program: Program
    truth: dict
    loaded: LoadResult
    _years: dict = field(default_factory=dict)

    def year(self, label):
        """Estimate a reporting year and register its figures."""
        if label not in self._years:
            with open_store(self.folder, read_only=True) as store:
                counts = count_year(store, self.program, label)
            year = estimate_year(self.program, label, counts, read_factors())
            self._years[label] = year, register_year(year)
        return self._years[label]

    def true_year(self, label):
        """Find the truth of a reporting year."""
        (found,) = [year for year in self.truth["years"] if year["reporting_year"] == label]
        return found


def load_sample(folder, town, files=None):
    """Load a sample program into an empty folder, its files in any order."""
    for path in (SAMPLE_PROGRAMS / town / PROGRAM_FILE, *SAMPLE_PROGRAMS.glob(f"{town}/*.geojson")):
        shutil.copyfile(path, folder / path.name)
    program = read_program(folder / PROGRAM_FILE)
    loaded = load_files(folder, files or spreadsheets(town), day=last_day_of_records(program))
    truth = tomllib.loads((SAMPLE_PROGRAMS / town / "truth.toml").read_text("utf-8"))
    return Sample(folder, program, truth, loaded)


def copy_loaded(folder, town):
    """Copy a loaded sample program into a folder; all processes of a run load it once between them.

    It lies beside their own temporary folders. Where two begin at the same time, both load it and
    the first that ends is copied from.
    """
    run_folder = next(one for one in folder.parents if re.fullmatch(r"pytest-\d+", one.name))
    shared = run_folder / f"loaded_{town}"
    if not shared.exists():
        made = folder.with_name(f"{folder.name}_loading")
        made.mkdir()
        load_sample(made, town)
        try:
            made.rename(shared)
        except OSError:  # another process was first
            shutil.rmtree(made)
    shutil.copytree(shared, folder, dirs_exist_ok=True)


@pytest.fixture(scope="session")
def sample(tmp_path_factory):
    """Give a sample program by its town, loaded when it is first asked for."""
    known = {}

    def of(town):
        if town not in known:
            known[town] = load_sample(tmp_path_factory.mktemp(town), town)
        council = known[town].program.council
        # whoever asks for it again may come after a council of another language
        write_papers_in(council.country_locale, council.report_language)
        return known[town]

    return of
