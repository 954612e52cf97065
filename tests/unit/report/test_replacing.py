"""A report replaces another wholly, however a command is cut off."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, read_register, register_in
from planner.paths import FIGURES_FILE, REPORT_FOLDER, WORKBOOK_FILE
from planner.report.explaining import find_figure
from planner.report.folder import other_registers
from planner.report.replacing import (
    NEW,
    READY,
    VERSION,
    WRITTEN,
    finish_report,
    in_order,
    replacing_folder,
)
from tests.power_cuts import followed, leave

OTHERS = ("a.png", "b.svg", "year-end.docx")
OWN = "the officer's own notes.txt"


class CutOffError(Exception):
    """Stands for a power cut."""


def put(folder, year, words, names=OTHERS):
    """Write a report of a year whose files all say the same words."""
    with replacing_folder(folder) as new:
        fill(new, year, words, names)


def fill(new, year, words, names=OTHERS):
    register = FigureRegister("Town", year, words)
    register.add(Figure("fed_t", "Scraps fed", 1.0, None, None, "t", "Weighed."))
    (new / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8")
    for name in (WORKBOOK_FILE, *names):
        (new / name).write_text(words, encoding="utf-8")


def says(folder):
    """Words of every file of the report that lies in a folder; figures say their version."""
    files = [p for p in folder.iterdir() if p.is_file() and p.name not in (WRITTEN, OWN)]
    words = {p.name: p.read_text(encoding="utf-8") for p in files if p.name != FIGURES_FILE}
    if (folder / FIGURES_FILE).exists():
        words[FIGURES_FILE] = read_register(
            (folder / FIGURES_FILE).read_text(encoding="utf-8")
        ).version
    return words


def whole(words, names=OTHERS):
    return dict.fromkeys((*names, WORKBOOK_FILE, FIGURES_FILE), words)


def test_a_report_replaces_that_of_the_same_year_and_leaves_other_files(tmp_path):
    put(tmp_path, "2025", "old", names=("gone.png", *OTHERS))
    (tmp_path / OWN).write_text("mine")
    put(tmp_path, "2025", "new")
    assert says(tmp_path) == whole("new")
    assert (tmp_path / OWN).read_text() == "mine"
    assert {p.name for p in tmp_path.iterdir() if p.is_dir()} == set()


def test_a_report_of_another_year_is_kept_and_versions_of_it_too(tmp_path):
    put(tmp_path, "2024", "first")
    put(tmp_path, "2025", "later")
    (tmp_path / OWN).write_text("mine")
    assert says(tmp_path / "2024") == whole("first")
    put(tmp_path, "2024", "again")
    assert says(tmp_path / "2025") == whole("later")
    put(tmp_path, "2025", "newest")
    assert says(tmp_path) == whole("newest")
    assert says(tmp_path / "2024") == whole("again")
    assert says(tmp_path / "2024" / f"{VERSION}1") == whole("first")
    assert (tmp_path / OWN).exists()
    versions = [one.version for one in other_registers(tmp_path, "2025")]
    assert versions == ["first", "again"]
    assert register_in(tmp_path / "2025" / FIGURES_FILE).version == "later"


def test_the_same_report_again_leaves_no_copy(tmp_path):
    put(tmp_path, "2024", "one")
    put(tmp_path, "2025", "two")
    put(tmp_path, "2024", "one")
    assert not (tmp_path / "2024").exists()
    put(tmp_path, "2025", "two")
    assert {p.name for p in tmp_path.iterdir() if p.is_dir()} == {"2024"}
    assert [p for p in (tmp_path / "2024").iterdir() if p.is_dir()] == []


def test_a_report_written_before_files_were_listed_is_kept_whole(tmp_path):
    fill(tmp_path, "2024", "old")
    put(tmp_path, "2025", "new")
    assert says(tmp_path / "2024") == whole("old")


def put_half(folder):
    with replacing_folder(folder) as new:
        fill(new, "2025", "new")
        raise CutOffError


def test_nothing_changes_where_writing_fails(tmp_path):
    put(tmp_path, "2025", "old")
    with pytest.raises(CutOffError):
        put_half(tmp_path)
    assert says(tmp_path) == whole("old")
    assert not list(tmp_path.glob(f"{NEW}*"))


def test_leftovers_of_a_killed_run_are_cleared(tmp_path):
    (tmp_path / f"{NEW}left").mkdir(parents=True)
    put(tmp_path, "2025", "new")
    assert says(tmp_path) == whole("new")
    assert not list(tmp_path.glob(f"{NEW}*"))


@pytest.mark.parametrize("year", ["2024", "2025"])
def test_the_officer_s_own_files_are_never_touched(tmp_path, year):
    fill(tmp_path, "2025", "written before files were listed")
    put(tmp_path, "2025", "new")
    for folder in (tmp_path, tmp_path / "2025"):
        folder.mkdir(exist_ok=True)
        (folder / OWN).write_text("mine")
    for words in ("newer", "newest", "newest"):
        put(tmp_path, year, words)
        put(tmp_path, "2025", words)
    for folder in (tmp_path, tmp_path / "2025"):
        assert (folder / OWN).read_text() == "mine"


def cut_after(monkeypatch, steps):
    """Let so many changes of the file system happen, then cut the power."""
    left = [steps]

    def counted(step):
        def wrapped(*args, **kwargs):
            if left[0] == 0:
                raise CutOffError
            left[0] -= 1
            return step(*args, **kwargs)

        return wrapped

    for name in ("replace", "mkdir", "unlink", "rmdir"):
        monkeypatch.setattr(Path, name, counted(getattr(Path, name)))
    monkeypatch.setattr(shutil, "rmtree", counted(shutil.rmtree))
    return left


def start(folder):
    put(folder, "2024", "first")
    put(folder, "2025", "later", names=("gone.png", *OTHERS))
    put(folder, "2024", "again")


@pytest.mark.parametrize("year", ["2024", "2025", "2026"])
def test_a_replacement_cut_at_any_step_is_the_old_report_or_is_finished(
    tmp_path, monkeypatch, year
):
    monkeypatch.setattr(os, "fsync", lambda _: None)
    start(tmp_path / "begun")
    shutil.copytree(tmp_path / "begun", tmp_path / "clean")
    put(tmp_path / "clean", year, "newest")
    expected = _all(tmp_path / "clean")
    for steps in range(200):
        folder = tmp_path / str(steps)
        shutil.copytree(tmp_path / "begun", folder)
        before = _all(folder)
        with monkeypatch.context() as cut:
            left = cut_after(cut, steps)
            try:
                put(folder, year, "newest")
                was_cut = False
            except CutOffError:
                was_cut = True
        ready = (folder / READY / FIGURES_FILE).exists()
        finish_report(folder)
        for temporary in folder.glob(f"{NEW}*"):
            shutil.rmtree(temporary)
        after = _all(folder)
        assert after in (before, expected), steps
        if ready:
            assert after == expected
        if not was_cut:
            assert left[0] >= 0
            break
    else:
        pytest.fail("the replacement never ended")
    assert steps > 8


def power_cuts(begun, year, folder, cuts=60):
    """Cut the power within a replacement, and after its end; tell what is then there.

    See tests/power_cuts.py for what may be on the disk after one.
    """
    whole_folder = Path(shutil.copytree(begun, folder / "whole"))
    with followed(whole_folder) as disk:
        put(whole_folder, year, "newest")
    states = {"before": _all(begun), "after": _all(whole_folder)}
    last = len(disk.steps) - 1
    rng = np.random.default_rng(int(year))
    found = []
    for cut, step in enumerate([*[last] * 40, *rng.integers(last, size=cuts)]):
        left = folder / f"cut {cut}"
        leave(disk.steps[step], rng, disk, left)
        with contextlib.suppress(ReportError):
            finish_report(left)
        for unfinished in left.glob(f"{NEW}*"):
            shutil.rmtree(unfinished)
        names = [name for name, files in states.items() if files == _all(left)]
        found.append((names[0] if names else "part", bool(step == last)))
    return found


@pytest.mark.skipif(sys.platform != "linux", reason="follows files by /proc")
@pytest.mark.parametrize("year", ["2024", "2025", "2026"])
def test_a_power_cut_leaves_the_old_report_or_the_new_one(tmp_path, year):
    start(tmp_path / "begun")
    found = power_cuts(tmp_path / "begun", year, tmp_path)
    assert {left for left, ended in found if ended} == {"after"}
    assert {left for left, _ in found} == {"before", "after"}


@pytest.mark.skipif(sys.platform != "linux", reason="follows files by /proc")
@pytest.mark.parametrize(
    ("call", "lost"), [("sync_file", ("part", False)), ("sync_folder", ("before", True))]
)
def test_the_model_finds_a_report_that_is_not_on_the_disk(tmp_path, monkeypatch, call, lost):
    monkeypatch.setattr(f"planner.report.replacing.{call}", lambda _: None)
    start(tmp_path / "begun")
    assert lost in power_cuts(tmp_path / "begun", "2026", tmp_path)


def test_each_stage_is_on_the_disk_before_the_next(tmp_path, monkeypatch):
    start(tmp_path)
    done = []

    def noted(word, call):
        def wrapped(path, *given):
            done.append((word, READY if path.name.startswith(NEW) else path.name))
            return call(path, *given)

        return wrapped

    monkeypatch.setattr("planner.report.replacing.sync_folder", noted("on disk", lambda _: None))
    monkeypatch.setattr(Path, "replace", noted("moved", Path.replace))
    monkeypatch.setattr(shutil, "rmtree", noted("removed", shutil.rmtree))
    put(tmp_path, "2024", "newest")
    top = ("on disk", tmp_path.name)
    assert done[:3] == [("on disk", READY), ("moved", READY), top]
    assert done[-3:] == [("moved", FIGURES_FILE), top, ("removed", READY)]


def _all(folder):
    """Every file of a folder and below, with its words."""
    return {
        path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8")
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may write anywhere")
def test_a_file_that_cannot_be_replaced_stops_the_report_before_anything_changes(tmp_path):
    put(tmp_path, "2025", "old")
    (tmp_path / WORKBOOK_FILE).chmod(0o400)
    with pytest.raises(ReportError, match="cannot be written"):
        put(tmp_path, "2025", "new")
    assert says(tmp_path) == whole("old")


def test_files_are_put_in_place_with_the_figures_last():
    names = ["b", FIGURES_FILE, "a", WORKBOOK_FILE]
    assert in_order(names) == [WORKBOOK_FILE, "a", "b", FIGURES_FILE]


def test_a_list_of_files_cannot_name_one_elsewhere(tmp_path):
    folder = tmp_path / "report"
    put(folder, "2024", "old")
    outside = tmp_path / "outside.txt"
    outside.write_text("mine")
    (folder / WRITTEN).write_text(f"../outside.txt\n{FIGURES_FILE}\n")
    put(folder, "2025", "new")
    assert outside.read_text() == "mine"


def test_figures_are_found_by_year(tmp_path):
    folder = tmp_path / REPORT_FOLDER
    folder.mkdir()
    put(folder, "2024", "first")
    put(folder, "2025", "later")
    assert find_figure(tmp_path, "fed_t")[0].version == "later"
    earlier, place = find_figure(tmp_path, "fed_t", "2024")
    assert (earlier.version, place) == ("first", "report/2024/figures.json")
    with pytest.raises(ReportError, match=r"found no report for 2023. Run `planner report --year"):
        find_figure(tmp_path, "fed_t", "2023")
    with pytest.raises(ReportError, match=r"found no report\. Run `planner report` first"):
        find_figure(tmp_path / "none", "fed_t")


def test_files_without_figures_are_told_of_and_what_was_there_stays(tmp_path):
    put(tmp_path, "2025", "old")

    def write_without():
        with replacing_folder(tmp_path) as new:
            (new / WORKBOOK_FILE).write_text("new")

    with pytest.raises(ReportError, match=f"1 new file came without {FIGURES_FILE}"):
        write_without()
    assert says(tmp_path) == whole("old")
    # one that another version left behind is not thrown away unseen
    (tmp_path / READY).mkdir()
    (tmp_path / READY / WORKBOOK_FILE).write_text("left")
    with pytest.raises(ReportError, match="move it elsewhere"):
        finish_report(tmp_path)
    assert (tmp_path / READY / WORKBOOK_FILE).read_text() == "left"
