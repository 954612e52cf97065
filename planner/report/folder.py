"""The report folder: every file of one reporting year, and the reports of others."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from planner.cells import csv_text
from planner.figures import FigureRegister, register_in
from planner.paths import (
    APPENDIX_FILE,
    BRIEF_FILE,
    FIGURES_FILE,
    FIGURES_TABLE_FILE,
    PAGE_FILE,
    REPORT_FOLDER,
    RESTATEMENT_FILE,
    WORD_FILE,
    WORKBOOK_FILE,
)
from planner.report.charts import write_charts
from planner.report.document.building import build_document
from planner.report.document.contents import Contents
from planner.report.issues import Issue
from planner.report.page import write_page
from planner.report.replacing import VERSION, finish_report, replacing_folder
from planner.report.word.writing import write_parts, write_word
from planner.report.workbook.writing import write_workbook

if TYPE_CHECKING:
    from planner.report.charts.boundaries import AreaShapes


def write_report(
    folder: Path,
    contents: Contents,
    shapes: AreaShapes | None = None,
    template: Path | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write figures, workbook, charts, Word document and page, then put them in their place.

    The report of another year that lies in the folder is moved to a folder of its own
    inside it. The `template` is the council's own; the planner's unless given.

    Returns
    -------
    tuple of Path, tuple of str
        The files in the order in which they are best opened, and the headings of sections that
        the template has no place for.
    """
    register, program, rounds = contents.register, contents.program, contents.quality.waves
    with replacing_folder(folder) as new:
        register.write(new)
        of_areas = contents.area_names, shapes
        charts = write_charts(new, register, program, *of_areas, rounds["opens_date"])
        contents = replace(contents, charts=charts)
        document = build_document(contents)
        write_workbook(new / WORKBOOK_FILE, contents, document)
        left_out = write_word(new / WORD_FILE, document, register, template)
        write_parts(new, document, register)
        write_page(new / PAGE_FILE, document)
        if contents.restated is not None:
            text = csv_text(contents.restated)
            (new / RESTATEMENT_FILE).write_text(text, encoding="utf-8-sig", newline="")
        names = _as_opened(path.name for path in new.iterdir())
    return tuple(folder / name for name in names), left_out


def other_registers(folder: Path, reporting_year: str) -> tuple[FigureRegister, ...]:
    """Read the figures of the reports of other years, of each year the latest last.

    Raises
    ------
    ReportError
        A file of figures is not one.
    """
    finish_report(folder)
    places = (f"[!.]*/{VERSION}*/{FIGURES_FILE}", f"[!.]*/{FIGURES_FILE}", FIGURES_FILE)
    files = [path for place in places for path in sorted(folder.glob(place))]
    return tuple(
        one for path in files if (one := register_in(path)) and one.reporting_year != reporting_year
    )


def put_back_issue(folder: Path, issue: Issue) -> tuple[Path, ...]:
    """Put the files of an unaltered issue in the report folder as they were given out."""
    with replacing_folder(folder / REPORT_FOLDER) as new:
        for name in issue.outputs:
            shutil.copyfile(folder / issue.place / name, new / name)
    return tuple(folder / REPORT_FOLDER / name for name in _as_opened(issue.outputs))


def _as_opened(names: Iterable[str]) -> list[str]:
    first = [WORD_FILE, BRIEF_FILE, APPENDIX_FILE, PAGE_FILE, WORKBOOK_FILE]
    first += [FIGURES_FILE, FIGURES_TABLE_FILE]
    return [*first, *sorted(set(names) - set(first))]
