"""How all tests run: no deadlines, and what is prepared once is used by one process."""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from pathlib import Path, PurePosixPath

import pytest
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadScopeScheduling

# the first import of planner, before any of numpy: it sets the threads of BLAS
from planner.messages import FIRST_LANGUAGE, set_language, write_papers_in

# DuckDB asks for pandas, which we do without, at every statement: a twelfth of a test of the store
sys.modules.setdefault("pandas", None)

ROOT = Path(__file__).resolve().parents[1]
OF_SAMPLE_PROGRAMS = PurePosixPath("tests", "programs")
BEGUN_FIRST = ("tests/programs", "tests/cli", "tests/properties")
"""Folders of files that may take half a minute each, with few tests."""

LARGE_SAMPLES = ("port_marrow", "thornquay")
"""Sample programs that only thorough runs go through; the quick run keeps to the smallest."""

# a deadline would fail an example for what else the machine does
settings.register_profile(
    "planner", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("planner")


def pytest_configure(config):
    """Leave thorough tests out of a run that names neither files nor marks."""
    names_files = config.args_source is pytest.Config.ArgsSource.ARGS
    if not (names_files or config.option.markexpr):
        config.option.markexpr = "not thorough"


class ByFile(LoadScopeScheduling):
    """Keep the tests of a file in one process, and all that ask for a loaded sample program.

    Marks of groups would do the same, but xdist 3.8 passes them on in the names of tests, which
    pytest 9.2 no longer lets it change: every fixture of a file was then made in each process.
    """

    def _split_scope(self, nodeid):
        return kept_together(nodeid)


def kept_together(nodeid):
    """Name what a test shares a process with: its file, or the folder of the sample programs."""
    path = PurePosixPath(nodeid.partition("::")[0])
    return str(path.parent if path.parent == OF_SAMPLE_PROGRAMS else path)


PROCESSES = defaultdict(set)
"""Processes that tests of a file reported from, where there are several."""


def pytest_runtest_logreport(report):
    if hasattr(report, "node"):
        PROCESSES[kept_together(report.nodeid)].add(report.node.gateway.id)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session):
    """Fail a run in which tests of one file came from two processes: fixtures were made twice."""
    torn = sorted(name for name, processes in PROCESSES.items() if len(processes) > 1)
    if torn:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
        writer = session.config.get_terminal_writer()
        writer.line(f"\nTests of one file ran in two processes: {', '.join(torn)}", red=True)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    return ByFile(config, log)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Begin with what takes longest, so that no process waits; mark the larger sample programs."""
    count = Counter(kept_together(item.nodeid) for item in items)

    def place(item):
        here = kept_together(item.nodeid)
        return not here.startswith(BEGUN_FIRST), -count[here], here

    items.sort(key=place)
    for item in items:
        is_of_samples = item.path.parent == ROOT / OF_SAMPLE_PROGRAMS
        # the parameters stand in the name, a town among them
        if is_of_samples and any(town in item.name for town in LARGE_SAMPLES):
            item.add_marker(pytest.mark.thorough)


@pytest.fixture(autouse=True)
def _english_again():
    """Let no test leave its council's languages, of talk and of papers, to the next."""
    yield
    set_language(FIRST_LANGUAGE)
    write_papers_in(FIRST_LANGUAGE, FIRST_LANGUAGE)
