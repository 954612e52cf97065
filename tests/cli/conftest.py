"""What several files of commands begin with, made once a process."""

from __future__ import annotations

import shutil

import pytest

from planner.starting import start_program


@pytest.fixture(scope="session")
def started(tmp_path_factory):
    """Start a program folder, to be copied."""
    place = tmp_path_factory.mktemp("started")
    start_program(place)
    return place


@pytest.fixture
def begun(started, tmp_path):
    """Copy a program folder without records."""
    return shutil.copytree(started, tmp_path, dirs_exist_ok=True)
