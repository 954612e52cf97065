"""planner erase and retain, as an officer types them."""

from __future__ import annotations

import datetime as dt
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.loading import load_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.store.keeping import back_up
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from tests.killing import state
from tests.queries.given import frame

GOOD, NEEDS_MENDING = 0, 2
NAME = "Wilhelmina Quillfeather"
CONTACTS = (
    "household_id,full_name,street_address,postcode\n"
    f"H1,{NAME},17 Sundial Row,0123\nH2,Barnaby Thimblewick,8 Bobbin Court,0123\n"
)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Register H1 on 1 January and H2 on 1 June 2020, both with their details."""
    folder = tmp_path_factory.mktemp("erase") / "Compost à l'école"
    folder.mkdir()
    shutil.copyfile(TEMPLATES / PROGRAM_FILE, folder / PROGRAM_FILE)
    inbox = folder.with_name("inbox")
    inbox.mkdir()
    days = {"H1": dt.date(2020, 1, 1), "H2": dt.date(2020, 6, 1)}
    households = [{"household_id": key, "registered_date": day} for key, day in days.items()]
    frame("areas", [{"area_id": "A"}]).write_csv(inbox / "areas.csv")
    frame("households", households).write_csv(inbox / "households.csv")
    (inbox / "contacts.csv").write_text(CONTACTS, encoding="utf-8")
    # long ago, and before every reporting year of the program
    meant = frozenset({"households.registered_date.far_date"})
    loaded = load_files(folder, sorted(inbox.iterdir()), accepted=meant)
    assert all(one.problems.is_empty() for one in loaded.files)
    return folder


@pytest.fixture
def folder(prepared, tmp_path):
    return Path(shutil.copytree(prepared, tmp_path / prepared.name))


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


def names(folder):
    with open_store(folder, read_only=True) as store:
        return store.records("contacts")["household_id"].to_list()


def last_command(told):
    """Words of the command that the last line of an output names."""
    return shlex.split(told.output.splitlines()[-1])[1:]


def test_a_dry_run_changes_nothing_and_names_the_command_that_does(folder):
    before = state(folder)
    dry = planner(folder, "erase", "H1", "--dry-run")
    assert dry.exit_code == GOOD
    assert "H1: personal details would be erased" in dry.stdout
    assert "1 contact, 0 former ones" in dry.stdout
    assert state(folder) == before
    assert not (folder / "receipts").exists()
    done = CliRunner().invoke(app, last_command(dry))
    assert done.exit_code == GOOD
    assert names(folder) == ["H2"]


def test_an_erasure_names_its_receipt_and_what_is_left_to_do(folder):
    backup = back_up(folder, None, utc_now())
    own = folder / "my list.csv"
    own.write_text(CONTACTS, encoding="utf-8")
    done = planner(folder, "erase", "H1")
    assert done.exit_code == GOOD
    assert f"contacts in the backup {backup.absolute()}" in done.stdout
    assert f"{own}: still holds details" in done.stderr
    assert "copies of a backup that you keep elsewhere" in done.stderr
    (line,) = [line for line in done.stdout.splitlines() if line.startswith("Receipt")]
    receipt = Path(line.split(": ", maxsplit=1)[1])
    assert NAME not in receipt.read_text(encoding="utf-8")
    assert NAME not in done.output


@pytest.mark.thorough
def test_what_a_neighbour_has_too_is_not_to_be_deleted(folder, tmp_path):
    more = tmp_path / "contacts.csv"
    head = "household_id,full_name,street_address,postcode\n"
    # one in a house whose number only ends alike, one in the same house
    more.write_text(f"{head}H2,Barnaby Thimblewick,117 Sundial Row,0123\n", encoding="utf-8")
    assert planner(folder, "load", str(more)).exit_code == GOOD
    alone = planner(folder, "erase", "H1", "--dry-run").output
    assert "contacts.duckdb" not in alone
    more.write_text(f"{head}H2,Barnaby Thimblewick,17 Sundial Row,0123\n", encoding="utf-8")
    assert planner(folder, "load", str(more)).exit_code == GOOD
    erased = " ".join(planner(folder, "erase", "H1").output.split())
    assert "another household has the same" in erased
    assert "contacts.duckdb, contacts.street_address: still holds" not in erased
    assert names(folder) == ["H2"]


@pytest.mark.thorough
def test_erasing_twice_is_no_error(folder):
    planner(folder, "erase", "H1")
    again = planner(folder, "erase", "H1")
    assert again.exit_code == GOOD
    assert "0 contacts" in again.stdout


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("household", "told"),
    [("H9", "named by its household_id"), ("h1", "Did you mean H1?")],
)
def test_an_unknown_household_needs_mending_and_nothing_is_erased(folder, household, told):
    before = state(folder)
    refused = planner(folder, "erase", "H2", household)
    assert refused.exit_code == NEEDS_MENDING
    assert f"{household}: no such household. Nothing was erased." in refused.stderr
    assert told in " ".join(refused.stderr.split())
    assert "H2:" not in refused.output
    assert state(folder) == before


@pytest.mark.thorough
@pytest.mark.parametrize("words", [("erase", "H1"), ("undo", "L0001"), ("backup",)])
def test_a_folder_without_records_is_told_and_stays_empty(tmp_path, words):
    refused = planner(tmp_path, *words)
    assert refused.exit_code == NEEDS_MENDING
    assert "no records yet" in refused.stderr
    assert "planner load" in refused.stderr
    assert not list(tmp_path.iterdir())


@pytest.mark.thorough
def test_a_missing_key_is_told_and_nothing_is_erased(folder):
    (folder / "program.key").unlink()
    refused = planner(folder, "erase", "H1")
    assert refused.exit_code == NEEDS_MENDING
    assert "Put the key file back" in refused.stderr


def months_since(day):
    now = utc_now()
    return (now.year - day.year) * 12 + now.month - day.month


def keep_for(folder, months):
    path = folder / PROGRAM_FILE
    text = path.read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if "contacts_retention_months" not in line]
    at = lines.index("[privacy]") + 1
    path.write_text("\n".join([*lines[:at], f"contacts_retention_months = {months}", *lines[at:]]))


def test_retention_erases_what_is_older_and_keeps_the_rest(folder):
    # the middle of the months between the two registrations
    keep_for(folder, months_since(dt.date(2020, 4, 1)))
    before = state(folder)
    dry = planner(folder, "retain", "--dry-run")
    assert dry.exit_code == GOOD
    assert "H1: personal details would be erased" in dry.stdout
    assert state(folder) == before
    done = CliRunner().invoke(app, last_command(dry))
    assert "H1: personal details erased" in done.stdout
    assert names(folder) == ["H2"]
    none = planner(folder, "retain")
    assert none.exit_code == GOOD
    assert "No personal details are older" in none.stdout


@pytest.mark.thorough
def test_a_program_without_a_retention_period_is_told_where_to_write_it(folder):
    before = state(folder)
    refused = planner(folder, "retain")
    assert refused.exit_code == NEEDS_MENDING
    assert "[privacy]" in refused.stderr
    assert "contacts_retention_months = 36" in refused.stderr
    assert state(folder) == before
