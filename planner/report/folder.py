"""The report folder: every file of one reporting year, replaced together."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import ReportError
from planner.figures import read_register
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE, WORKBOOK_FILE
from planner.report.charts import write_charts
from planner.report.workbook import Quality, write_workbook

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from planner.factors import FactorTable
    from planner.figures import FigureRegister
    from planner.program import Program


def write_report(
    folder: Path,
    register: FigureRegister,
    program: Program,
    table: FactorTable,
    area_names: Mapping[str, str],
    quality: Quality,
) -> tuple[Path, ...]:
    """Write figures, workbook and charts beside the folder, then put them in their place.

    The report of another year that lies in the folder is moved to a folder of its own
    inside it.

    Parameters
    ----------
    folder
        Report folder; made where it is not there.
    register, program, table, area_names, quality
        What is said.

    Returns
    -------
    tuple of Path
        The files, in the order in which they are best opened.

    Raises
    ------
    ReportError
        The folder cannot be written, or a file in it is open in another program.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _keep_other_year(folder, register.reporting_year)
        with tempfile.TemporaryDirectory(prefix=".new-", dir=folder) as new:
            _write(Path(new), register, program, table, area_names, quality)
            names = _as_opened(path.name for path in Path(new).iterdir())
            for name in names:
                (Path(new) / name).replace(folder / name)
    except OSError as error:
        message = (
            f"{error.filename or folder}: cannot be written ({error.strerror}). Close it in "
            "other programs, or give the folder the right to be written."
        )
        raise ReportError(message, path=str(folder)) from error
    return tuple(folder / name for name in names)


def other_registers(folder: Path, reporting_year: str) -> tuple[FigureRegister, ...]:
    """Read the figures of the reports of other years that lie in the report folder.

    Raises
    ------
    ReportError
        A file of figures is not one.
    """
    files = sorted([*folder.glob(FIGURES_FILE), *folder.glob(f"[!.]*/{FIGURES_FILE}")])
    registers = [read_register(path.read_text(encoding="utf-8")) for path in files]
    return tuple(one for one in registers if one.reporting_year != reporting_year)


def _as_opened(names: Iterable[str]) -> list[str]:
    """Order names as they are best opened; the one likeliest to be open comes first.

    A workbook that is open and cannot be replaced then stops the report before any other
    file has changed.
    """
    first = [WORKBOOK_FILE, FIGURES_FILE, FIGURES_TABLE_FILE]
    return [*first, *sorted(set(names) - set(first))]


def _write(
    folder: Path,
    register: FigureRegister,
    program: Program,
    table: FactorTable,
    area_names: Mapping[str, str],
    quality: Quality,
) -> None:
    (folder / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8", newline="")
    (folder / FIGURES_TABLE_FILE).write_text(register.to_csv(), encoding="utf-8-sig", newline="")
    write_workbook(folder / WORKBOOK_FILE, register, program, table, area_names, quality)
    write_charts(folder, register, program, area_names)


def _keep_other_year(folder: Path, reporting_year: str) -> None:
    figures = folder / FIGURES_FILE
    if not figures.exists():
        return
    earlier = read_register(figures.read_text(encoding="utf-8")).reporting_year
    if earlier == reporting_year:
        return
    kept = folder / earlier
    kept.mkdir(exist_ok=True)
    files = [path for path in folder.iterdir() if path.is_file()]
    # the figures last: while they are here, a move that was stopped is taken up again
    for path in sorted(files, key=lambda path: path.name == FIGURES_FILE):
        shutil.move(path, kept / path.name)
