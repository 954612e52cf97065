"""Write the progress of a year that runs: page, Word document, and half a page alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.charts.drawing import png_and_svg_bytes
from planner.report.document import Picture
from planner.report.folder import write_figures
from planner.report.page import write_page
from planner.report.progress.document import COMMITTEE, progress_document
from planner.report.progress.pace import Pace, pace_drawing
from planner.report.replacing import replaced_whole
from planner.report.targets import chance_of, standing
from planner.report.word import PART_TEMPLATE, write_word
from planner.report.wording import labelled
from planner.store import open_store

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import numpy as np
    import polars as pl
    from numpy.typing import NDArray

    from planner.report.document import Contents

PROGRESS_FOLDER = "progress"
PAGE, WORD, HALF_PAGE = "progress.html", "progress.docx", "committee.docx"
MAIN = "kept_out_of_landfill_t"


@dataclass(frozen=True)
class Field:
    """Rows of the records as they stand.

    Parameters
    ----------
    turnout
        Query turnout_by_event: who came and who did not, by day held.
    coming
        Query upcoming_events: days to come in the year.
    stock
        Query stock_reconciled.
    stays
        Why the page must stay in the office; empty where it may leave it.
    """

    turnout: pl.DataFrame
    coming: pl.DataFrame
    stock: pl.DataFrame
    stays: tuple[str, ...] = ()


def read_field(folder: Path, before_date: dt.date, end_date: dt.date) -> Field:
    """Read the rows up to a day, and the days to come up to the year's end.

    Parameters
    ----------
    folder
        Program folder.
    before_date
        First day that is not recorded.
    end_date
        First day after the year.
    """
    with open_store(folder, read_only=True) as store:
        return Field(
            store.query("turnout_by_event", before_date=before_date),
            store.query("upcoming_events", from_date=before_date, before_date=end_date),
            store.query("stock_reconciled", as_of=before_date),
        )


def write_progress(
    folder: Path, contents: Contents, field: Field, forecast_t: NDArray[np.float64]
) -> tuple[Path, ...]:
    """Write the page, the document and the half-page.

    Parameters
    ----------
    folder
        Program folder.
    contents
        Figures and records of the year so far.
    field
        Hand-over days, stock and what is to come.
    forecast_t
        Draws of the year's tonnes, shape (1 + draws_count,).

    Raises
    ------
    ReportError
        A file is open in another program, or the folder cannot be written.
    """
    start, end = contents.program.months(contents.label)
    wording = contents.saying.wording
    pace = Pace(contents.register, start, forecast_t, contents.block.kept_out_of_landfill_t_target)
    drawing = pace_drawing(pace, _title(contents), wording)
    shown = (drawing.name, drawing.title, drawing.caption, drawing.alt_text)
    picture = Picture(*shown, *png_and_svg_bytes(replace(drawing, caption="")))
    document = progress_document(contents, field, (picture,), end)
    keys = tuple(section.key for section in document.sections)
    with replaced_whole(folder / PROGRESS_FOLDER) as new:
        # the figures say of which year the folder is: without them nothing is put in its place
        write_figures(new, contents.register)
        write_page(new / PAGE, document)
        write_word(new / WORD, document, contents.register, PART_TEMPLATE, keys)
        write_word(new / HALF_PAGE, document, contents.register, PART_TEMPLATE, COMMITTEE)
    return tuple(folder / PROGRESS_FOLDER / name for name in (PAGE, WORD, HALF_PAGE))


def _title(contents: Contents) -> str:
    """Say how the year stands to its target, or what is expected where it has none."""
    register, wording = contents.register, contents.saying.wording
    ahead = wording.figure(register[f"forecast_{MAIN}"])
    found = paper().say("progress.chart.title", ahead=ahead, year=contents.label)
    chance = chance_of(register, MAIN)
    return labelled(found, standing(chance, wording)) if chance else found
