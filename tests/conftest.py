"""How all tests run: no deadlines, and what is prepared once is used by one process."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# the first import of planner, before any of numpy: it sets the threads of BLAS
from planner.messages import FIRST_LANGUAGE, speak

ROOT = Path(__file__).resolve().parents[1]
OF_SAMPLE_PROGRAMS = Path("tests", "programs")

# a deadline would fail an example for what else the machine does
settings.register_profile(
    "planner", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("planner")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Keep the tests of a file in one process, and all that ask for a loaded sample program."""
    for item in items:
        place = item.path.relative_to(ROOT)
        group = place.parent if place.parent == OF_SAMPLE_PROGRAMS else place
        item.add_marker(pytest.mark.xdist_group(group.as_posix()))


@pytest.fixture(autouse=True)
def _english_again():
    """Let no test leave its council's language to the next."""
    yield
    speak(FIRST_LANGUAGE)
