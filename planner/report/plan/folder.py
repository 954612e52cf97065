"""The sizing folder: figures, workbook, charts and the allocation, replaced together."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE
from planner.report.plan.charts import write_plan_charts
from planner.report.plan.workbook import write_plan_workbook
from planner.report.replacing import replaced_whole
from planner.sizing.allocation_file import ALLOCATION_FILE, allocation_rows

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.figures import FigureRegister
    from planner.sizing.sizing import Sizing

SIZING_FOLDER = "sizing"
SIZE_WORKBOOK_FILE = "size.xlsx"
PLAN_PREFIX = "plan_"
"""With it the ids of a plan's figures begin."""


@dataclass(frozen=True)
class PlanFiles:
    """Files of a plan, in the order in which they are best opened."""

    paths: tuple[Path, ...]


def write_plan(
    folder: Path, register: FigureRegister, sizing: Sizing, written_at: dt.datetime
) -> PlanFiles:
    """Write everything into a new folder, then put it in the place of the old.

    A plan of another year that lies there is moved to a folder of that year.

    Parameters
    ----------
    folder
        Sizing folder; made where it is not there.
    register, sizing
        What is said.
    written_at
        Dates the workbook.

    Raises
    ------
    ReportError
        The folder cannot be written, or a file in it is open in another program.
    """
    with replaced_whole(folder) as new:
        (new / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8", newline="")
        table = register.to_csv()
        (new / FIGURES_TABLE_FILE).write_text(table, encoding="utf-8-sig", newline="")
        with (new / ALLOCATION_FILE).open("w", encoding="utf-8-sig", newline="") as file:
            csv.writer(file).writerows(allocation_rows(sizing.main))
        charts = write_plan_charts(new, register, sizing)
        write_plan_workbook(new / SIZE_WORKBOOK_FILE, register, sizing, charts, written_at)
        names = [SIZE_WORKBOOK_FILE, *(chart.path_png.name for chart in charts)]
    return PlanFiles(tuple(folder / name for name in (*names, ALLOCATION_FILE, FIGURES_FILE)))
