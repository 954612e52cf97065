"""Files of unknown make are looked at, asked about, and then loaded without a text editor."""

from __future__ import annotations

import datetime as dt
import difflib

import openpyxl
import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.cli.look import asked
from planner.intake.guessing import SURE
from planner.intake.questions import Answers, Question
from planner.looking import look_at_files
from planner.paths import PROGRAM_FILE
from planner.program import read_program
from planner.store.opening import open_store
from planner.tables import TABLES

runner = CliRunner()


@pytest.fixture
def folder(begun):
    path = begun / PROGRAM_FILE
    text = path.read_text("utf-8").replace('"en_GB"', '"fr_FR"').replace('"GBP"', '"EUR"')
    path.write_text(text, "utf-8")
    return begun


def areas_sheet(book):
    """Title above, headings in two rows with a merged one, a total below."""
    sheet = book.create_sheet("Quartiers")
    for row in (
        ["Ville d'exemple : quartiers desservis"],
        [],
        [
            "Code",
            "Nom du quartier",
            "Logements",
            None,
            None,
            "Habitants",
            "Collecte",
            "Prioritaire",
        ],
        [None, None, "Maisons", "Mitoyennes", "Appartements", None, None, None],
        ["CV", "Centre-Ville", 100, 50, 900, 2000, "ordures ménagères", "oui"],
        ["LM", "Les Maraîchers", 800, 20, 10, 2400, "biodéchets", "non"],
        ["Total", None, 900, 70, 910, 4400],
    ):
        sheet.append(row)
    sheet.merge_cells("A1:H1")
    sheet.merge_cells("C3:E3")


def register_sheet(book):
    """Write a note above, dates both as dates and as words, a column that no table has."""
    sheet = book.create_sheet("Registre 2025")
    sheet.append(["* à jour au 1er mars, ne pas diffuser"])
    known = ["N° foyer", "Quartier", "Logement", "Nb de personnes", "Inscrit le"]
    sheet.append([*known, "Par quel moyen", "Accepte d'être recontacté", "Remarques"])
    for n in range(24):
        day = dt.date(2025, 3, 1 + n) if n % 2 else f"{1 + n} mars 2025"
        area = ("Les Maraîchers", "Centre-Ville", "Centre-Vile")[n % 3]
        home = ("maison", "appartement", "pavillon")[n % 3]
        how = ("en ligne", "guichet", "tél.")[n % 3]
        sheet.append([f"F-{n:03d}", area, home, 1 + n % 5, day, how, ("oui", "non")[n % 2], "ras"])


@pytest.fixture
def book(folder):
    made = openpyxl.Workbook()
    made.remove(made.active)
    areas_sheet(made)
    register_sheet(made)
    notes = made.create_sheet("Notes")
    notes.append(["Appeler le fournisseur lundi"])
    path = folder / "ville.xlsx"
    made.save(path)
    return path


def look(folder, *words):
    return runner.invoke(app, ["look", *map(str, words), "--program", str(folder)])


@pytest.mark.thorough
def test_a_file_that_cannot_be_read_names_its_headings_and_the_command(folder, book):
    ended = runner.invoke(app, ["load", str(book), "--program", str(folder)])
    assert ended.exit_code == 2
    assert "Nom du quartier" in ended.stderr or "N° foyer" in ended.stderr
    assert f"planner look {book}" in ended.stderr


def test_after_one_look_every_row_is_taken_in(folder, book):
    assert look(folder, book, "--accept").exit_code == 0
    ended = runner.invoke(app, ["load", str(book), "--program", str(folder)])
    assert ended.exit_code == 0, ended.stdout
    with open_store(folder, read_only=True) as store:
        areas = store.records("areas").rows(named=True)
        households = store.records("households")
    assert [area["townhouses_count"] for area in areas] == [50, 20]
    assert [area["kerbside_service"] for area in areas] == [
        "residual_only",
        "food_and_garden_organics",
    ]
    assert households.height == 24
    assert households["area_id"].to_list().count("CV") == 16
    assert households["registered_date"].to_list()[:2] == [dt.date(2025, 3, 1), dt.date(2025, 3, 2)]


@pytest.mark.thorough
def test_the_rest_of_the_program_file_stays_to_the_letter(folder, book):
    before = (folder / PROGRAM_FILE).read_text("utf-8").splitlines()
    look(folder, book, "--accept")
    after = (folder / PROGRAM_FILE).read_text("utf-8").splitlines()
    changes = [line for line in difflib.ndiff(before, after) if line[:2] == "- "]
    assert changes == []
    assert read_program(folder / PROGRAM_FILE).columns["households"]["N° foyer"] == "household_id"


def test_what_is_unsure_stays_open_for_a_script_and_is_not_written(folder, book):
    ended = look(folder, book)
    assert ended.exit_code == 3
    words = " ".join(ended.stdout.split())
    assert "que veut dire le mot « Centre-Vile » dans area_id ? Peut-être CV ?" in words
    assert "Centre-Vile" not in (folder / PROGRAM_FILE).read_text("utf-8")


@pytest.mark.thorough
def test_nothing_is_written_when_asked_so(folder, book):
    before = (folder / PROGRAM_FILE).read_bytes()
    look(folder, book, "--accept", "--dry-run")
    assert (folder / PROGRAM_FILE).read_bytes() == before


def test_answers_come_from_options_and_from_a_file(folder, book):
    answers = folder / "answers.toml"
    answers.write_text('[words]\n"Centre-Vile" = "LM"\n[columns]\n"Remarques" = ""\n', "utf-8")
    words = (book, "--accept", "--answers", answers, "--heading", "Par quel moyen=")
    assert look(folder, *words).exit_code == 0
    program = read_program(folder / PROGRAM_FILE)
    assert program.synonyms["area_id"] == {"Centre-Vile": "LM"}
    assert "channel" not in program.columns["households"].values()


@pytest.mark.thorough
@pytest.mark.parametrize(
    "words",
    [("--heading", "Logement=dwelings"), ("--sheet", "Quartiers=area"), ("--word", "Centre-Vile")],
)
def test_an_answer_that_is_none_of_the_choices_is_refused(folder, book, words):
    ended = look(folder, book, *words)
    assert ended.exit_code == 2
    assert "attendu" in ended.stderr


@pytest.mark.thorough
def test_each_thing_is_asked_once_with_its_examples(folder, book):
    asked = []

    def ask(question):
        asked.append(question)
        return question.guess

    look_at_files(folder, [book], Answers(), ask, keep=True)
    words = [one for one in asked if one.kind == "word"]
    assert [one.about for one in words] == ["Centre-Vile"]
    assert words[0].examples == ("8 lignes",)
    assert all(one.likeness < SURE or one.kind != "table" for one in asked)
    again = []
    look_at_files(folder, [book], Answers(), again.append, keep=True)
    assert [one.kind for one in again] == []


@pytest.mark.parametrize(
    ("typed", "answer"),
    [(["dwelings", "dwelling"], "dwelling"), (["-"], ""), (["reason"], "reason")],
)
def test_in_a_terminal_it_asks_until_the_answer_is_one_of_the_choices(monkeypatch, typed, answer):
    question = Question(
        "column", "a.csv", "Home", "households", "", 0.5, ("dwelling", "reason"), ()
    )
    replies = iter(typed)
    monkeypatch.setattr("typer.prompt", lambda *_, **__: next(replies))
    assert asked(question) == answer
    assert next(replies, None) is None


@pytest.mark.thorough
def test_a_second_look_has_nothing_left_to_write(folder, book):
    look(folder, book, "--accept")
    before = (folder / PROGRAM_FILE).read_bytes()
    assert "0 en-tête ou mot écrit" in look(folder, book, "--accept").stdout
    assert (folder / PROGRAM_FILE).read_bytes() == before


@pytest.mark.thorough
def test_a_sheet_of_notes_is_left_out(folder, book):
    ended = look(folder, book, "--accept")
    assert "feuille Notes\xa0: aucune donnée d'une table connue, laissé de côté." in ended.stdout


@pytest.mark.thorough
def test_headings_that_are_the_columns_own_names_are_not_asked_for(folder):
    # a column may stand empty, as the currency of suppliers who quote in the council's own
    names = TABLES["suppliers"].column_names()
    path = folder / "suppliers.csv"
    row = {"supplier_id": "S1", "supplier_name": "Vers du Val", "lead_time_days": "14"}
    path.write_text(
        f"{','.join(names)}\n{','.join(row.get(name, '') for name in names)}\n", "utf-8"
    )
    asked = []
    look_at_files(folder, [path], Answers(), asked.append, keep=False)
    assert asked == []
