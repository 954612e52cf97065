"""planner backup and restore, as an officer types them."""

from __future__ import annotations

import datetime as dt
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import BACKUP_FOLDER, KEY_FILE, PROGRAM_FILE, STORE_FILE
from planner.store.keeping import back_up
from tests.killing import COMMANDS, state

GOOD, NEEDS_MENDING = 0, 2
NOON = dt.datetime(2026, 7, 1, 12)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Back up one load, then take in another."""
    folder = tmp_path_factory.mktemp("restore") / "Compost à l'école"
    folder.mkdir()
    COMMANDS["undo"].prepare(folder)
    before = state(folder)
    path = back_up(folder, folder.with_name("drive"), NOON)
    planner(folder, "undo", "L0002")
    return folder, path, before, state(folder)


@pytest.fixture
def folder(prepared, tmp_path):
    made = Path(shutil.copytree(prepared[0], tmp_path / prepared[0].name))
    (made / "backups.json").unlink()
    return made


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


def commands(told):
    """Commands that an output names on lines of their own, as words."""
    lines = (line.strip() for line in told.stderr.splitlines())
    return [shlex.split(line)[1:] for line in lines if line.startswith("planner ")]


def test_a_backup_prints_its_file_alone_and_says_how_to_go_back(folder, tmp_path):
    done = planner(folder, "backup", str(tmp_path / "USB drive"))
    assert done.exit_code == GOOD
    path = Path(done.stdout.strip())
    assert path.parent == tmp_path / "USB drive"
    assert path.is_file()
    assert "a copy of the key" in done.stderr
    before = state(folder)
    (folder / PROGRAM_FILE).write_text("# another\n", encoding="utf-8")
    (restore,) = commands(done)
    assert CliRunner().invoke(app, restore).exit_code == GOOD
    assert state(folder) == before


@pytest.mark.thorough
def test_a_backup_goes_into_the_program_folder_unless_said(folder):
    path = Path(planner(folder, "backup").stdout.strip())
    assert path.parent == folder / BACKUP_FOLDER


@pytest.mark.thorough
def test_a_place_that_is_a_file_is_told(folder, tmp_path):
    (tmp_path / "drive").touch()
    refused = planner(folder, "backup", str(tmp_path / "drive"))
    assert refused.exit_code == NEEDS_MENDING
    assert "Name a folder" in refused.stderr
    assert not list(folder.rglob("*.zip*"))


@pytest.mark.thorough
def test_a_dry_run_tells_when_the_backup_was_made_and_changes_nothing(prepared, folder):
    _, path, _, present = prepared
    assert "no backup is there" in planner(folder, "restore", "--dry-run").stderr
    dry = planner(folder, "restore", str(path), "--dry-run")
    assert dry.exit_code == GOOD
    assert "made 01/07/2026, 12:00 UTC, " in dry.stdout
    assert "every part can be read; sealed with the key of this program" in dry.stdout
    assert state(folder) == present
    assert not (folder / BACKUP_FOLDER).exists()


def test_a_restore_names_the_way_back_and_the_next_step(prepared, folder):
    _, path, before, present = prepared
    (restore,) = commands(planner(folder, "restore", str(path), "--dry-run"))
    done = CliRunner().invoke(app, restore)
    assert done.exit_code == GOOD
    assert f"restored to {folder}" in done.stdout
    assert state(folder) == before
    back, loads = commands(done)
    assert "L0002" in CliRunner().invoke(app, loads).stdout
    assert CliRunner().invoke(app, back).exit_code == GOOD
    assert state(folder) == present


@pytest.mark.thorough
def test_a_store_that_does_not_open_is_kept_aside_and_named(prepared, folder):
    _, path, before, _ = prepared
    (folder / STORE_FILE).write_bytes(b"not a database" * 1000)
    done = planner(folder, "restore", str(path))
    assert done.exit_code == GOOD
    assert "did not open; its files are in" in done.stderr
    assert state(folder) == before


@pytest.mark.thorough
def test_another_key_changes_nothing_and_names_the_backup(prepared, folder):
    _, path, _, present = prepared
    key = (folder / KEY_FILE).read_text()
    (folder / KEY_FILE).write_text("0123456789abcdef" * 4)
    refused = planner(folder, "restore", str(path))
    assert refused.exit_code == NEEDS_MENDING
    assert f"{path}: " in refused.stderr
    assert "sealed with another key" in refused.stderr
    assert ".opened" not in refused.stderr
    (folder / KEY_FILE).write_text(key)
    assert state(folder) == present


@pytest.mark.thorough
def test_a_new_folder_needs_the_key_first(prepared, tmp_path):
    _, path, before, _ = prepared
    other = tmp_path / "new machine"
    refused = planner(other, "restore", str(path))
    assert refused.exit_code == NEEDS_MENDING
    assert str(other / KEY_FILE) in refused.stderr
    shutil.copy(prepared[0] / KEY_FILE, other / KEY_FILE)
    assert planner(other, "restore", str(path)).exit_code == GOOD
    assert state(other) == before


@pytest.mark.thorough
@pytest.mark.parametrize("harm", ["cut off", "changed", "no backup", "not there"])
def test_a_damaged_backup_changes_nothing(prepared, folder, tmp_path, harm):
    _, whole, _, present = prepared
    path = tmp_path / "copy.zip"
    content = bytearray(whole.read_bytes())
    if harm == "cut off":
        path.write_bytes(content[:-500])
    elif harm == "changed":
        content[len(content) // 2] ^= 0xFF
        path.write_bytes(content)
    elif harm == "no backup":
        path.write_text("household_id,full_name\n")
    refused = planner(folder, "restore", str(path))
    assert refused.exit_code == NEEDS_MENDING
    assert str(path) in refused.stderr
    expected = "no such file" if harm == "not there" else "Nothing was changed; try another"
    assert expected in refused.stderr
    assert state(folder) == present
    assert not list(folder.glob("replaced*"))


@pytest.mark.thorough
def test_every_setting_that_a_restore_puts_back_is_named(prepared, folder):
    _, path, _, _ = prepared
    program = folder / PROGRAM_FILE
    text = program.read_text("utf-8").replace('name = "Your council"', 'name = "Elsewhere"')
    program.write_text(text.replace("draws_count = 1000", "draws_count = 200"), "utf-8")
    done = planner(folder, "restore", str(path))
    assert [line for line in done.stdout.splitlines() if line.startswith("  program.toml")] == [
        '  program.toml, council.name: "Elsewhere" before, "Your council" now',
        "  program.toml, method.draws_count: 200 before, 1000 now",
    ]
