"""Folders on which commands are killed, cut off or met with faults, prepared once for all."""

from __future__ import annotations

import pytest

from tests.killing import COMMANDS, prepare


@pytest.fixture(scope="session")
def prepared(tmp_path_factory):
    """Prepare the folder of each command once."""
    made = {}

    def prepared_once(name):
        if name not in made:
            made[name] = prepare(COMMANDS[name], tmp_path_factory.mktemp(name))
        return made[name]

    return prepared_once
