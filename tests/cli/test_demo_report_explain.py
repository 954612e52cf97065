"""planner demo, report and explain, as an officer runs them: from folders, with mistakes."""

from __future__ import annotations

import fnmatch
import html
import itertools
import json
import os
import re
import shlex
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import docx
import openpyxl
import polars as pl
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

from planner.cli import app, helping
from planner.cli.options import WIDTH
from planner.cli.reporting import HEADLINE_IDS
from planner.figures import read_register
from planner.messages import messages_for
from planner.paths import (
    BRIEF_FILE,
    FIGURES_FILE,
    FIGURES_TABLE_FILE,
    PROGRAM_FILE,
    REPORT_FOLDER,
    STORE_FILE,
    WORD_FILE,
    WORKBOOK_FILE,
)
from planner.starting import sample_towns
from planner.store.opening import open_store
from tests.prose import ISO_DATE, odd_numbers

runner = CliRunner()
TOWN, OLDER, NEWER = "valdorra", "2024", "2025"
MENDING = 2
QUOTING = ("explain", "factors")
"""Commands that print published values with the digits of their source."""

KEYED = ("check", "explain", "loads")
"""Commands that print keys of records and times of loading as the records have them."""

IS_CODE = re.compile(r"[\\/`]|planner |--|^ *\w*_\w*\b")
"""Lines with a path, a command or a name of the records."""

RETENTION = "contacts_retention_months = 36"
COMMANDS = typer.main.get_command(app).commands
IS_ROOT = hasattr(os, "geteuid") and os.geteuid() == 0


def files_of(folder):
    """Content of every file of a folder and of those inside it, by name."""
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def assert_mending(ended, *words):
    """Check that a command ended with code 2, in words, with no result and no traceback."""
    assert ended.exit_code == MENDING, ended.output
    assert ended.stdout == ""
    assert "Traceback" not in ended.stderr
    for word in words:
        assert word in ended.stderr


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Run a demo in a folder whose path has spaces and accents, and keep what it printed."""
    folder = tmp_path_factory.mktemp("cli") / "Año nuevo – Valdorra" / "el programa"
    ended = runner.invoke(app, ["demo", str(folder), "--town", TOWN])
    assert ended.exit_code == 0, ended.output
    return folder, ended


@pytest.fixture
def program(shown, tmp_path):
    """Copy the demo's folder, for a test to change."""
    return Path(shutil.copytree(shown[0], tmp_path / "mi programa"))


def test_a_demo_ends_with_the_headline_table_and_its_files(shown):
    folder, ended = shown
    for figure_id in HEADLINE_IDS:
        assert sum(line.strip().startswith(figure_id) for line in ended.stdout.splitlines())
    said = messages_for("es_ES").say  # the council of this sample is Spanish
    table, _, listed = ended.stdout.partition(f"\n{said('console.files')}\n")
    assert "intervalo" in table
    # the officer's own words, and in the papers theirs
    label = messages_for("es_ES").text("figure.bins_given.label").partition("{")[0]
    assert label.strip() in table
    assert "Bins given" in (folder / REPORT_FOLDER / FIGURES_TABLE_FILE).read_text("utf-8")
    paths = [Path(line.strip()) for line in listed.splitlines()]
    assert paths[0] == folder / REPORT_FOLDER / WORD_FILE
    assert all(path.is_file() for path in paths)
    shown_files = {p for p in (folder / REPORT_FOLDER).iterdir() if not p.name.startswith(".")}
    assert set(paths) == shown_files


def test_numbers_of_a_report_are_rounded_by_one_rule(shown):
    report = shown[0] / REPORT_FOLDER
    for name in (WORD_FILE, BRIEF_FILE):
        paper = docx.Document(report / name)
        cells = [cell.text for table in paper.tables for row in table.rows for cell in row.cells]
        text = "\n".join([*(one.text for one in paper.paragraphs), *cells])
        assert odd_numbers(text) == []
        assert not ISO_DATE.search(text)
    assert odd_numbers("3.14 t (2.7 to 3.6), -0.0 and 2.1e-07") == [
        "-0.0",
        "2.1e-07",
        "3.14 t (2.7 to 3.6",
    ]
    # published values and what is put in keep the digits they came with
    formats = {
        cell.number_format
        for sheet in openpyxl.load_workbook(report / WORKBOOK_FILE)
        if sheet.title not in ("Assumptions", "Factors")
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, float)
    }
    # what a cell shows has its places from the interval: none shows all it holds
    assert "General" not in formats
    assert all(len(places) <= 6 for form in formats for places in re.findall(r"\.(0+)", form))


def test_a_demo_says_what_it_does_apart_from_its_result(shown):
    _, ended = shown
    assert "invented" in ended.stderr
    assert "planner explain kept_out_of_landfill_t --program" in ended.stderr
    assert "planner explain" not in ended.stdout


def test_the_files_of_a_demo_open(shown):
    report = shown[0] / REPORT_FOLDER
    register = read_register((report / FIGURES_FILE).read_text("utf-8"))
    assert register.reporting_year == NEWER
    table = pl.read_csv(report / FIGURES_TABLE_FILE)
    assert table["id"].to_list() == [figure.id for figure in register]
    assert openpyxl.load_workbook(report / WORKBOOK_FILE).sheetnames
    charts = sorted(report.glob("*.png"))
    assert len(charts) == len(list(report.glob("*.svg"))) >= 3
    for chart in charts:
        with Image.open(chart) as image:
            image.verify()
        assert ET.parse(chart.with_suffix(".svg")).getroot().tag.endswith("svg")  # noqa: S314


@pytest.fixture(scope="module")
def of_readme(tmp_path_factory):
    """Run the demo of the README, where one stands in an empty folder."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path_factory.mktemp("standing"))
        yield runner.invoke(app, ["demo"])


def next_lines(ended):
    """Give the lines that a demo prints to be pasted, as words without ``planner``."""
    lines = reversed(ended.stderr.rstrip().splitlines())
    last = itertools.takewhile(lambda line: line.startswith("  planner "), lines)
    return [shlex.split(line)[1:] for line in reversed([*last])]


@pytest.mark.thorough
def test_the_demo_of_the_readme_makes_a_folder_where_one_stands(of_readme):
    assert of_readme.exit_code == 0, of_readme.output
    assert Path("demo-port_marrow", REPORT_FOLDER, WORKBOOK_FILE).is_file()
    assert "kept_out_of_landfill_t" in of_readme.stdout


@pytest.mark.thorough
def test_every_use_of_the_tool_is_a_line_of_the_demo_and_works_as_printed(of_readme):
    lines = next_lines(of_readme)
    # a record to change, or a file
    needs_more = {"demo", "look", "load", "undo", "withdraw", "restore", "erase", "retain"}
    assert {words[0] for words in lines} == set(COMMANDS) - needs_more
    for words in lines:
        ended = runner.invoke(app, words)
        assert ended.exit_code == 0, (words, ended.output)
        assert ended.stdout
        wide = [line for line in ended.output.splitlines() if len(line.rstrip()) > WIDTH]
        # a path or a command to paste stays in one piece
        assert [line for line in wide if "demo-port_marrow" not in line] == [], words
        # published factors keep the digits of their source, and commands take dates of ISO 8601
        assert words[0] in QUOTING or odd_numbers(ended.output) == [], words
        said = [line for line in ended.stdout.splitlines() if not IS_CODE.search(line)]
        is_of_records = words[0] in KEYED
        assert is_of_records or not any(ISO_DATE.search(line) for line in said), words
    files = [path for path in Path().rglob("*") if path.is_file()]
    unread = [path.as_posix() for path in files if not reader_of(path)]
    assert unread == [], "say in DEVELOPERS.md who reads it"


def guide_in(path):
    """Write the guide; give its text and its examples as words without ``planner``."""
    assert runner.invoke(app, ["guide", str(path)]).exit_code == 0
    text = html.unescape(re.sub("</?span>", "", path.read_text("utf-8")))
    lines = re.findall(r'class="line"><code>(.+?)</code>', text)
    return text, [line.split()[1:] for line in lines]


def test_the_guide_shows_every_command_and_needs_no_network(tmp_path):
    text, examples = guide_in(tmp_path / "the guide.html")
    assert not re.search(r"(?:https?:)?//\w", text)
    assert {words[0] for words in examples} == set(COMMANDS)
    assert all(re.search(rf"<code>planner {name}\b", text) for name in COMMANDS)
    again = runner.invoke(app, ["guide", str(tmp_path / "the guide.html")])
    assert_mending(again, "is there already")


@pytest.mark.thorough
def test_every_example_of_the_guide_is_a_line_of_the_demo_or_works_as_printed(of_readme):
    _, examples = guide_in(Path("the guide.html"))
    # as the guide says: a copy first, and a time after which details are erased
    assert runner.invoke(app, ["backup", "--program", "demo-port_marrow"]).exit_code == 0
    settings = Path("demo-port_marrow", PROGRAM_FILE)
    kept = settings.read_text("utf-8").replace("[privacy]", f"[privacy]\n{RETENTION}")
    settings.write_text(kept, "utf-8")
    for words in examples:
        if words == ["demo"] or words in next_lines(of_readme):
            continue
        assert words[-3:-1] == ["--dry-run", "--program"]
        ended = runner.invoke(app, words)
        # look ends with 3 where it has a question left
        is_asking = words[0] == "look" and "Next: answer in a terminal" in ended.stderr
        assert ended.exit_code == (3 if is_asking else 0), (words, ended.output)


def reader_of(path):
    """Find who reads a file, by the first row of the developers' table that names it."""
    place = path.as_posix().removeprefix("demo-port_marrow/").removeprefix("my-program/")
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
    rows = re.findall(r"^\| (`.*?) \| (published|supplier|auditor|office) \|", text, re.MULTILINE)
    told = ((pattern, who) for named, who in rows for pattern in re.findall("`(.*?)`", named))
    # a pattern without a folder is of the program folder's own files
    near = ((one, who) for one, who in told if ("/" in one) == ("/" in place))
    return next((who for one, who in near if fnmatch.fnmatchcase(place, one)), None)


@pytest.mark.thorough
def test_the_lines_of_another_demo_order_for_the_days_to_come(shown):
    (order,) = (words for words in next_lines(shown[1]) if words[0] == "order")
    ended = runner.invoke(app, [*order, "--dry-run"])
    assert ended.exit_code == 0, ended.output
    # the council of this sample is Spanish
    assert re.search(r"^\d+ jornadas de entrega, \d+ plazas", ended.stdout)


def test_a_demo_leaves_a_folder_that_holds_something_as_it_was(tmp_path):
    (tmp_path / "letters.txt").write_text("mine", encoding="utf-8")
    before = files_of(tmp_path)
    assert_mending(runner.invoke(app, ["demo", str(tmp_path)]), "holds files already")
    assert files_of(tmp_path) == before


def test_a_demo_of_an_unknown_town_names_those_there_are(tmp_path):
    ended = runner.invoke(app, ["demo", str(tmp_path / "x"), "--town", "atlantis"])
    assert_mending(ended, "atlantis", *sample_towns())
    assert not (tmp_path / "x").exists()


def test_a_report_of_a_year_that_is_not_in_the_program_names_those_that_are(program):
    before = files_of(program / REPORT_FOLDER)
    ended = runner.invoke(app, ["report", "--year", "2031", "--program", str(program)])
    assert_mending(ended, "2031", OLDER, NEWER)
    assert files_of(program / REPORT_FOLDER) == before


def test_a_report_without_a_store_says_how_to_load(begun):
    assert_mending(runner.invoke(app, ["report", "--program", str(begun)]), "planner load")
    assert not (begun / REPORT_FOLDER).exists()


def test_a_report_of_an_empty_store_says_that_nothing_is_recorded(begun):
    with open_store(begun):
        pass
    ended = runner.invoke(app, ["report", "--program", str(begun)])
    assert_mending(ended, "No hand-over, answer or ledger line is recorded")
    assert not (begun / REPORT_FOLDER).exists()


@pytest.mark.parametrize("command", ["report", "explain fed_t"])
def test_a_folder_without_a_program_is_told_how_to_start_one(tmp_path, command):
    ended = runner.invoke(app, [*command.split(), "--program", str(tmp_path)])
    assert_mending(ended, PROGRAM_FILE, "planner new DIR")


def test_explaining_before_any_report_says_to_run_one(begun):
    ended = runner.invoke(app, ["explain", "fed_t", "--program", str(begun)])
    assert_mending(ended, "planner report")


def test_explaining_an_unknown_figure_names_the_nearest(shown):
    ended = runner.invoke(app, ["explain", "kept_out_of_landfil_t", "--program", str(shown[0])])
    assert_mending(ended, "kept_out_of_landfil_t", "decir kept_out_of_landfill_t")


def test_figures_that_cannot_be_read_are_named(program):
    (program / REPORT_FOLDER / FIGURES_FILE).write_text("{", encoding="utf-8")
    for command in (["explain", "fed_t"], ["report"]):
        ended = runner.invoke(app, [*command, "--program", str(program)])
        assert_mending(ended, FIGURES_FILE, "Ponga el archivo en otro sitio")


@pytest.mark.parametrize("figure_id", [*HEADLINE_IDS, "kept_out_of_landfill_t[BRAVA]"])
def test_every_headline_and_a_hidden_area_can_be_explained(shown, figure_id):
    ended = runner.invoke(app, ["explain", figure_id, "--program", str(shown[0])])
    assert ended.exit_code == 0
    head, _, method = ended.stdout.partition("\nHow it came about\n")
    assert f"[{figure_id}]" in head
    assert f", {NEWER}" in head
    assert method.strip()


def test_explaining_nothing_names_the_headline_figures(begun):
    ended = runner.invoke(app, ["explain", "--program", str(begun)])
    assert ended.exit_code == 0
    assert ended.stdout.split() == [*HEADLINE_IDS]


def test_an_explanation_goes_down_to_records_factors_and_files(shown):
    ended = runner.invoke(app, ["explain", "kept_out_of_landfill_t", "--program", str(shown[0])])
    for word in ("followup_answers", "prior_shares", "landfilled_share_of_residual", "answers.csv"):
        assert word in ended.stdout


@pytest.mark.thorough
def test_a_report_from_its_own_folder_moves_the_other_year_aside(program, monkeypatch):
    before = files_of(program / REPORT_FOLDER)
    monkeypatch.chdir(program)
    ended = runner.invoke(app, ["report", "--year", OLDER])
    assert ended.exit_code == 0, ended.output
    report = Path(REPORT_FOLDER)
    assert json.loads((report / FIGURES_FILE).read_text("utf-8"))["reporting_year"] == OLDER
    assert files_of(report / NEWER) == before
    assert runner.invoke(app, ["explain", "fed_t"]).stdout.splitlines()[1].endswith(OLDER)


@pytest.mark.thorough
def test_a_report_by_the_path_of_the_program_says_the_same_in_the_same_place(
    program, tmp_path, monkeypatch
):
    before = files_of(program / REPORT_FOLDER)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    assert runner.invoke(app, ["report", "--program", os.path.relpath(program)]).exit_code == 0
    assert files_of(program / REPORT_FOLDER) == before
    assert list(elsewhere.iterdir()) == []


@pytest.mark.thorough
def test_a_workbook_that_cannot_be_replaced_stops_the_report_before_any_other_file(program):
    report = program / REPORT_FOLDER
    (report / WORKBOOK_FILE).unlink()
    (report / WORKBOOK_FILE).mkdir()  # stands for a file that another program holds open
    (report / WORKBOOK_FILE / "held").write_text("", encoding="utf-8")
    (report / FIGURES_TABLE_FILE).write_text("of the last report", encoding="utf-8")
    before = files_of(report)
    ended = runner.invoke(app, ["report", "--program", str(program)])
    assert_mending(ended, WORKBOOK_FILE, "no se puede escribir", "otros programas")
    assert files_of(report) == before


@pytest.mark.thorough
def test_a_file_in_the_place_of_the_report_folder_is_named(program):
    shutil.rmtree(program / REPORT_FOLDER)
    (program / REPORT_FOLDER).write_text("", encoding="utf-8")
    ended = runner.invoke(app, ["report", "--program", str(program)])
    assert_mending(ended, str(program / REPORT_FOLDER), "no se puede escribir")


@pytest.mark.skipif(IS_ROOT, reason="nothing is forbidden to root")
def test_a_report_folder_that_may_not_be_written_is_named(program):
    (program / REPORT_FOLDER).chmod(0o500)
    ended = runner.invoke(app, ["report", "--program", str(program)])
    (program / REPORT_FOLDER).chmod(0o700)
    assert_mending(ended, "no se puede escribir")


def test_a_store_that_is_no_store_is_named(program):
    (program / STORE_FILE).write_bytes(b"x" * 5000)
    ended = runner.invoke(app, ["report", "--program", str(program)])
    assert_mending(ended, STORE_FILE, "no es la base de este programa")


def test_a_mistyped_program_file_is_told_by_its_key(program):
    path = program / PROGRAM_FILE
    text = path.read_text("utf-8").replace("seed =", "seeed =", 1)
    path.write_text(text, encoding="utf-8")
    ended = runner.invoke(app, ["report", "--program", str(program)])
    assert_mending(ended, "method.seeed", "¿Quería decir seed?")


@pytest.mark.parametrize("name", COMMANDS)
def test_help_is_an_imperative_sentence_and_says_what_each_word_means(name):
    ended = runner.invoke(app, [name, "--help"])
    assert ended.exit_code == 0
    usage, _, rest = ended.stdout.strip().partition("\n\n")
    assert usage.startswith(f"Usage: planner {name}") or f" {name} " in usage
    first_word = rest.split()[0]
    assert first_word[0].isupper()
    assert not first_word.endswith(("s", "ing"))
    with helping._said(COMMANDS[name]):
        said = {param.name: param.help for param in COMMANDS[name].params}
    for option, words in said.items():
        assert words.split()[0][0].isupper(), option
        assert words.endswith("."), option


def test_every_command_is_listed_with_its_help():
    ended = runner.invoke(app, ["--help"])
    assert ended.exit_code == 0
    for name in COMMANDS:
        assert any(line.split()[:1] == [name] for line in ended.stdout.splitlines())
