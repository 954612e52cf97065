"""A report given out stays as it was, and what changes it is found and split by cause."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil

import polars as pl
import pytest
from typer.testing import CliRunner

from planner import issuing, reporting
from planner.cli import app
from planner.errors import ReportError
from planner.figures import read_register
from planner.loading import load_files
from planner.messages import messages_for
from planner.paths import FIGURES_FILE, ISSUE_FILE, PAGE_FILE, PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.program import read_program
from planner.report.issues import altered_issues, digest, read_issues
from planner.report.restatement import CAUSES
from planner.report.wording import Wording
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from planner.store.undoing import undo_load

pytestmark = pytest.mark.thorough

TOWN, LABEL = "valdorra", "2025"
DAY, LATER = dt.date(2026, 2, 2), dt.date(2026, 3, 3)
LEVY_RISE = 10.0
MENDING = 2

SAID = messages_for("es_ES").say
"""As the officer of this sample reads it."""


@pytest.fixture(scope="module")
def issued(sample, tmp_path_factory):
    """Give the sample's last year out from a copy of its folder."""
    folder = tmp_path_factory.mktemp("issue") / TOWN
    shutil.copytree(sample(TOWN).folder, folder)
    for outlines in (SAMPLE_PROGRAMS / TOWN).glob("*.geojson"):
        shutil.copy(outlines, folder)
    program = folder / PROGRAM_FILE
    text = program.read_text("utf-8")
    assert "draws_count = 1000" in text
    program.write_text(text.replace("draws_count = 1000", "draws_count = 100"), "utf-8")
    ended, first = by_command(folder, "--date", f"{DAY}")
    assert ended.exit_code == 0, ended.output
    day = Wording.of(first.program).day(DAY)
    assert SAID("console.issued", number="1", day=day, folder=str(first.folder)) in ended.stdout
    assert "resumen" in ended.stdout
    before = files_of(folder)
    ended, _ = by_command(folder)
    assert (ended.exit_code, ended.stdout) == (MENDING, "")
    assert SAID("issuing.unchanged", number="1") in ended.stderr
    assert files_of(folder) == before
    return folder, first


@pytest.fixture(scope="module")
def changed(issued, tmp_path_factory):
    """Correct one ledger line, add another, and raise the levy, then ask what it restates."""
    folder, _ = issued
    ledger = tmp_path_factory.mktemp("more") / "costs.csv"
    old = _a_line_of_the_year(folder)
    # as the council's country writes numbers and days
    amount = f"{old['amount'] + 100.0:.2f}".replace(".", ",")
    ledger.write_text(
        "cost_id;cost_date;category;amount\n"
        f"{old['cost_id']};{old['cost_date']:%d/%m/%Y};{old['category']};{amount}\n"
        f"NEW1;11/11/2025;{old['category']};40,00\n"
    )
    (loaded,) = load_files(folder, [ledger]).files
    assert loaded.counts["refused_count"].sum() == 0
    raise_levy(folder)
    before = files_of(folder)
    ended, result = by_command(folder, "--date", f"{LATER}")
    # what it would change is shown, nothing is issued, and the way on is told
    assert ended.exit_code == MENDING
    words = " ".join(ended.stdout.split())
    assert "difieren de la publicación 1" in words
    assert SAID("console.changed.by") in words
    assert "archivo del programa" in words
    assert SAID("console.not_issued") in ended.stderr
    assert f"issue --year {LABEL} --restate --program {folder}" in ended.stderr
    assert files_of(folder) == before
    return result


def by_command(folder, *options):
    """Run the command as an officer does; give how it ended, and the result that it printed."""
    results = []

    def kept(*args, **options):
        results.append(run_issue(*args, **options))
        return results[-1]

    with pytest.MonkeyPatch.context() as patch:
        run_issue = issuing.issue
        patch.setattr(issuing, "issue", kept)
        line = ["issue", "--program", str(folder), "--year", LABEL, *options]
        ended = CliRunner().invoke(app, line)
    return ended, results[-1] if results else None


def files_of(folder):
    """Digest of every file of the folder by its name."""
    found = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): digest(path) for path in found}


def raise_levy(folder):
    program = folder / PROGRAM_FILE
    text, levy = program.read_text("utf-8"), run_levy(folder)
    before = f"landfill_levy_per_t = {levy}"
    head, _, tail = text.rpartition(before)
    program.write_text(f"{head}landfill_levy_per_t = {levy + LEVY_RISE}{tail}", "utf-8")


def noted(folder):
    with open_store(folder, read_only=True) as store:
        return store.query("listed_issues")


def run_levy(folder):
    return read_program(folder / PROGRAM_FILE).year(LABEL).landfill_levy_per_t


def _a_line_of_the_year(folder):
    with open_store(folder, read_only=True) as store:
        costs = store.records("costs")
    of_year = costs.filter(pl.col("cost_date").dt.year() == int(LABEL), pl.col("amount") > 0.0)
    return of_year.row(0, named=True)


def test_an_issue_holds_every_file_with_its_digest(issued):
    folder, first = issued
    assert first.issue.number == 1
    names = {path.name for path in first.folder.iterdir()}
    assert {"areas.geojson"} == set(first.issue.boundaries) <= names
    assert {ISSUE_FILE, PROGRAM_FILE, "factors", *first.issue.outputs} <= names
    assert altered_issues(folder, read_issues(folder), noted(folder)) == {}
    assert "Issue 1 of" in (first.folder / PAGE_FILE).read_text("utf-8")


def test_a_report_of_the_same_year_is_a_draft_and_leaves_the_issue_alone(issued):
    folder, first = issued
    before = (first.folder / FIGURES_FILE).read_bytes()
    result = reporting.report(folder, LABEL)
    assert any("this is a draft" in note for note in result.notes)
    assert (first.folder / FIGURES_FILE).read_bytes() == before
    page = next(path for path in result.files if path.name == PAGE_FILE).read_text("utf-8")
    assert "Draft, not issued" in page
    assert "Reports that were given out" in page


def test_changes_are_shown_and_nothing_is_issued_before_it_is_asked_for(issued, changed):
    folder, _ = issued
    assert changed.issue is None
    assert changed.before.number == 1
    assert len(read_issues(folder)) == 1


def row(changed, name):
    return changed.restated.row(by_predicate=pl.col("figure_id") == name, named=True)


def test_each_cause_moves_what_it_must_and_the_causes_add_up(changed):
    cost = row(changed, "program_cost")
    assert cost["corrected rows"] == pytest.approx(100.0)
    assert cost["new rows"] == pytest.approx(40.0)
    assert cost["program file"] == pytest.approx(0.0, abs=1e-9)
    levy, tonnes = row(changed, "avoided_levy"), changed.register["kept_out_of_landfill_t"].value
    assert levy["program file"] == pytest.approx(LEVY_RISE * tonnes)
    assert levy["corrected rows"] == pytest.approx(0.0, abs=1e-9)
    known = changed.restated.filter(pl.col("new rows").is_not_null())
    assert known.height > changed.restated.height / 2
    total = known.select(pl.sum_horizontal(CAUSES)).to_series()
    assert (total - known["change"]).abs().max() < 1e-6
    assert known["version"].abs().max() < 1e-9


def test_a_change_is_material_beyond_the_share_of_the_program_file(changed):
    known = changed.restated.filter(pl.col("change").is_not_null(), pl.col("issued") != 0.0)
    share = (known["change"] / known["issued"]).abs()
    assert (known["is_material"] == (share > 0.05)).all()


def test_rows_of_a_load_taken_back_count_as_corrected_whatever_else_has_changed(issued, tmp_path):
    folder, _ = issued
    copy = tmp_path / TOWN
    shutil.copytree(folder, copy)
    # an issue rests on a ledger line; the line is taken back and the levy raised
    ledger = tmp_path / "late.csv"
    ledger.write_text("cost_id;cost_date;category;amount\nLATE;11/11/2025;bins;500,00\n")
    (loaded,) = load_files(copy, [ledger]).files
    issuing.issue(copy, LABEL, day=DAY, restate=True)
    undo_load(copy, loaded.load_id, utc_now())
    raise_levy(copy)
    found = issuing.issue(copy, LABEL, day=LATER)
    cost, levy = row(found, "program_cost"), row(found, "avoided_levy")
    assert cost["corrected rows"] == pytest.approx(-500.0)
    assert cost["program file"] == pytest.approx(0.0, abs=1e-9)
    assert levy["program file"] == pytest.approx(levy["change"])
    assert levy["change"] > 0.0


def test_the_second_issue_restates_the_first_which_stays(issued, changed):
    folder, first = issued
    second = issuing.issue(folder, LABEL, day=LATER, restate=True)
    assert second.issue.number == 2
    assert (second.folder / "restatement.csv").exists()
    then = read_register((first.folder / FIGURES_FILE).read_text("utf-8"))
    assert then["program_cost"].value == pytest.approx(row(changed, "program_cost")["issued"])
    assert altered_issues(folder, read_issues(folder), noted(folder)) == {}
    manifest = first.folder / ISSUE_FILE
    text = json.loads(manifest.read_text("utf-8")) | {"issued_on": "2026-01-01"}
    manifest.chmod(0o644)
    manifest.write_text(json.dumps(text), "utf-8")
    wrong = altered_issues(folder, read_issues(folder))
    assert list(wrong) == [2]
    assert "Issue 2 is not what was given out: the issue before it." in wrong[2]
    wrong = altered_issues(folder, read_issues(folder), noted(folder))
    assert "Issue 1 is not what was given out: issue.json." in wrong[1]


def test_an_altered_or_missing_issue_is_told_and_nothing_is_set_against_it(issued, tmp_path):
    folder, _ = issued
    copy = tmp_path / TOWN
    shutil.copytree(folder, copy)
    newest = read_issues(copy)[-1]
    place = copy / "issued" / newest.name
    shutil.copytree(place, tmp_path / "kept")
    for name in (FIGURES_FILE, "areas.geojson", PROGRAM_FILE):
        (place / name).chmod(0o644)
        (place / name).write_text((place / name).read_text("utf-8") + "\n", "utf-8")
    shutil.rmtree(place / "factors")
    told = altered_issues(copy, read_issues(copy), noted(copy))[newest.number]
    for name in (FIGURES_FILE, "areas.geojson", PROGRAM_FILE, "factors"):
        assert name in told
    raise_levy(copy)
    with pytest.raises(ReportError, match=re.escape(told)):
        issuing.issue(copy, LABEL, day=LATER, restate=True)
    shutil.rmtree(place)
    assert "is missing" in altered_issues(copy, read_issues(copy), noted(copy))[newest.number]
    # a number that was given out is not given again
    assert issuing.issue(copy, "2024", day=LATER).issue.number == newest.number + 1
