"""For every kind of refusal: do what its message says, save it in LibreOffice, load, taken in.

What is written goes into the copy of refused rows twice over: as the value that a spreadsheet
makes of it, and as text in a cell whose format asks for a date or a number, where a copy could
go wrong for ever. LibreOffice then saves the copies, so that what is loaded is what it writes.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from planner.loading import load_files
from planner.paths import PROGRAM_FILE, REFUSED_FOLDER, TEMPLATES
from planner.store.opening import open_store
from tests.outside import needs_office, offices

COSTS = "cost_id;cost_date;category;amount\n"
REGISTER = "household_id;area_id;dwelling;people_count;registered_date;channel;may_contact\n"
AREAS = (
    "area_id;area_name;houses_count;townhouses_count;apartments_count;residents_count;"
    "kerbside_service;is_priority\nN1;North Ward;9;0;0;20;residual_only;no\n"
)
WRITTEN = {
    "costs.csv": {
        # row of the file: column of the copy, and what the message says to write
        "C1;31/02/2025;bins;5": ("cost_date", "28/02/2025"),
        "C2;45720;bins;5": ("cost_date", "04/03/2025"),
        "C3;03/03/2025;binns;5": ("category", "bins"),
        "C4;03/03/2025;bins;2-3": ("amount", "2.5"),
        "C5;03/03/2025;bins;(380.55)": ("amount", "-380.55"),
        "C6;03/03/2025;bins;$12": ("amount", "12"),
        "C7;03/03/2025;bins;": ("amount", "7"),
        "C8;03/03/2025;bins;1.234,5": ("amount", "1234.5"),
        ";03/03/2025;bins;5": ("cost_id", "C9"),
        "C10;03/03/1925;bins;5": ("cost_date", "03/03/2025"),
        "C11;03/03/2003;bins;5": ("cost_date", "03/03/2025"),
        "C1;03/03/2025;worms;6": ("cost_id", "C12"),
    },
    "register.csv": {
        "H1;Nroth Ward;house;2;03/03/2025;;yes": ("area_id", "North Ward"),
        "H2;N1;boat;2;03/03/2025;;yes": ("dwelling", "house"),
        "H3;N1;house;2.5;03/03/2025;;yes": ("people_count", "2"),
        "H4;N1;house;99;03/03/2025;;yes": ("people_count", "9"),
        "H5;N1;house;2;spring;;yes": ("registered_date", "03/03/2025"),
        "H6;N1;house;2;03/03/2025;;maybe": ("may_contact", "yes"),
        "H7;N1;house;2;03/03/2025;;": ("may_contact", "no"),
        "SE 0177;N1;house;2;03/03/2025;;yes": ("household_id", "SE-0177"),
        "H8;N1;house;2;03/03/2025;pigeon;yes": ("channel", "other"),
    },
}


def as_text(text):
    """Leave what is typed as text, as in a cell that is formatted as text."""
    return text


def as_value(text):
    """Make a date or a number of what is typed, as a spreadsheet does where it can."""
    try:
        return dt.datetime.strptime(text, "%d/%m/%Y")
    except ValueError:
        return float(text) if text.lstrip("-").replace(".", "").isdigit() else text


def refused_copies(folder):
    """Load files of wrong rows; every row is refused, and its copy is refused as it stands."""
    folder.mkdir()
    (folder / PROGRAM_FILE).write_bytes((TEMPLATES / PROGRAM_FILE).read_bytes())
    (folder / "areas.csv").write_text(AREAS, "utf-8")
    load_files(folder, [folder / "areas.csv"])
    heads = {"costs.csv": COSTS, "register.csv": REGISTER}
    for name, rows in WRITTEN.items():
        (folder / name).write_text(heads[name] + "\n".join(rows) + "\n", "utf-8")
    refused = load_files(folder, [folder / name for name in WRITTEN]).files
    assert [one.counts["refused_count"].to_list() for one in refused] == [
        [len(rows)] for rows in WRITTEN.values()
    ]
    stems = [Path(name).stem for name in WRITTEN]
    copies = [next((folder / REFUSED_FOLDER).glob(f"*_{stem}.xlsx")) for stem in stems]
    for loaded in load_files(folder, copies, dry_run=True).files:
        assert loaded.counts["new_count"].to_list() == [0], loaded.file
    return copies


def write(copy, rows, typed):
    """Write into each row of a copy what its message asks for."""
    book = openpyxl.load_workbook(copy)
    sheet = book.worksheets[0]
    headings = [cell.value for cell in sheet[2]]
    for number, (column, text) in enumerate(rows.values(), start=3):
        sheet.cell(number, headings.index(column) + 1).value = typed(text)
    book.save(copy)


@pytest.fixture(scope="module")
def saved(tmp_path_factory):
    """Folders and their copies, written in either way and saved in one start of LibreOffice."""
    top, made = tmp_path_factory.mktemp("fixed"), {}
    sources = []
    for typed in (as_text, as_value):
        folder = top / typed.__name__
        made[typed] = folder
        for copy, rows in zip(refused_copies(folder), WRITTEN.values(), strict=True):
            write(copy, rows, typed)
            sources.append(copy.rename(copy.with_name(f"{typed.__name__}_{copy.name}")))
    target = top / "saved"
    target.mkdir()
    offices(sources, target, "xlsx")
    return made, target


@pytest.mark.thorough
@needs_office
@pytest.mark.parametrize("typed", [as_text, as_value])
def test_what_the_message_says_is_written_saved_loaded_and_taken_in(saved, typed):
    made, target = saved
    folder, copies = made[typed], sorted(target.glob(f"{typed.__name__}_*"))
    for loaded in load_files(folder, copies).files:
        assert loaded.problems.is_empty(), (loaded.file, loaded.problems.rows())
    with open_store(folder, read_only=True) as store:
        assert store.records("costs").height == len(WRITTEN["costs.csv"])
        assert store.records("households").height == len(WRITTEN["register.csv"])
        amounts = dict(store.records("costs").select("cost_id", "amount").iter_rows())
        assert (amounts["C5"], amounts["C8"]) == (-380.55, 1234.5)
        days = dict(store.records("costs").select("cost_id", "cost_date").iter_rows())
        assert (days["C1"], days["C2"]) == (dt.date(2025, 2, 28), dt.date(2025, 3, 4))
        assert store.query("refusals")["resolved_by_load_id"].null_count() == 0
