"""Writes the state report, its figures and the priors it teaches."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import INTERVAL_PERCENT
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE
from planner.pooling.contract import FEED, IN_USE, RATES
from planner.pooling.document import SHEETS, build_state_document
from planner.pooling.figures import register_pool, slugs
from planner.report.charts.drawing import Drawing, png_and_svg_bytes
from planner.report.charts.ranges import plot_bars, rows_in_words, rows_inches
from planner.report.document.model import Picture
from planner.report.page import write_page
from planner.report.replacing import replaced_whole
from planner.report.word import PAPER_TEMPLATE, write_word
from planner.report.wording import Wording
from planner.report.workbook.book import Book
from planner.report.workbook.section_sheets import add_sections
from planner.report.workbook.trace import add_figures

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from matplotlib.axes import Axes

    from planner.figures import FigureRegister
    from planner.pooling.pool import Pool

NORMAL_HALF_WIDTH = 1.959964
"""Standard deviations from the mean to the 97.5th percentile of a normal distribution."""

TAKEN = (IN_USE, FEED)
"""Rates that a plan takes as they are; what was landfilled before is asked in each council."""

HEAD = """\
# What {count} councils measured in {label}, for a council like them that has not measured yet.
# Copy into program.toml; `planner size` then plans with it and names this as its source.
# value is the middle, low and high hold it for one more such council in 95 of 100 cases.
"""
SOURCE = "{title}: {count} councils, {label}, planner pool"


def priors_text(pool: Pool) -> str:
    """Write the blocks, one a rate that enough councils have measured; empty where none is.

    An amount is lognormal. A share is given by its mean and 95% limits about it, which
    `planner size` turns into the beta shape of the same mean and variance.
    """
    blocks = [_block(pool, name) for name in RATES if name in pool.rates and name.startswith(TAKEN)]
    if not blocks:
        return ""
    head = HEAD.format(count=len(pool.exports), label=pool.label)
    return "\n".join([head, *blocks])


def _block(pool: Pool, name: str) -> str:
    draws = pool.rates[name].new_council
    if RATES[name].unit == "share":
        shape, value, half = "normal", draws[1:].mean(), NORMAL_HALF_WIDTH * draws[1:].std()
        low, high = value - half, value + half
    else:
        shape, value = "lognormal", np.median(draws[1:])
        low, high = np.percentile(draws[1:], INTERVAL_PERCENT)
    source = SOURCE.format(title=pool.title, count=pool.rates[name].places.size, label=pool.label)
    return (
        f"[sizing.priors.{name}]\n"
        f"value = {value:.3g}\nlow = {low:.3g}\nhigh = {high:.3g}\n"
        f'shape = "{shape}"\nsource = {json.dumps(source, ensure_ascii=False)}\n'
    )


WORD, PAGE, WORKBOOK, PRIORS = "state.docx", "state.html", "state.xlsx", "priors.toml"
MOST_COUNCILS = 30
"""Bars of one chart."""


def write_pool(
    folder: Path, pool: Pool, written_at: dt.datetime
) -> tuple[FigureRegister, tuple[Path, ...]]:
    """Write the state report: figures, workbook, chart, Word document, page and priors.

    Parameters
    ----------
    folder
        Where it goes; made where it is not there.
    pool
        The councils.
    written_at
        Stands for the time of writing.

    Raises
    ------
    ReportError
        The folder cannot be written; the report that was there stays.
    """
    register = register_pool(pool)
    wording = Wording(pool.country_locale, pool.currency)
    drawing = councils_drawing(pool, register, wording)
    png, svg = png_and_svg_bytes(replace(drawing, caption=""))
    picture = Picture(drawing.name, drawing.title, drawing.caption, drawing.alt_text, png, svg)
    document = build_state_document(pool, register, [picture], written_at)
    with replaced_whole(folder) as new:
        (new / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8", newline="")
        (new / FIGURES_TABLE_FILE).write_text(register.to_csv(), encoding="utf-8-sig", newline="")
        (new / f"{picture.name}.png").write_bytes(picture.png)
        (new / f"{picture.name}.svg").write_bytes(picture.svg)
        write_word(new / WORD, document, register, PAPER_TEMPLATE, tuple(SHEETS))
        write_page(new / PAGE, document)
        book = Book(document.title, pool.title, wording)
        add_sections(book, document, SHEETS, register, wording, SHEETS)
        add_figures(book, register, wording)
        (new / WORKBOOK).write_bytes(book.contents(written_at))
        priors = priors_text(pool)
        if priors:
            (new / PRIORS).write_text(priors, encoding="utf-8", newline="\n")
        names = [WORD, PAGE, WORKBOOK, *([PRIORS] if priors else []), FIGURES_FILE]
    return register, tuple(folder / name for name in names)


def councils_drawing(pool: Pool, register: FigureRegister, wording: Wording) -> Drawing:
    """Chart the tonnes of each council, most first: the finding is their sum."""
    figures = {
        export.about.council: register[f"kept_out_of_landfill_t[{slug}]"]
        for slug, export in zip(slugs(pool), pool.exports, strict=True)
    }
    ranked = dict(sorted(figures.items(), key=lambda item: -(item[1].value or 0.0)))
    shown = dict(list(ranked.items())[:MOST_COUNCILS])

    def plot(axes: Axes) -> None:
        plot_bars(axes, shown, "Tonnes kept out of landfill in the year", wording)

    total = wording.figure(register["kept_out_of_landfill_t"])
    more = "" if len(shown) == len(ranked) else f" The {len(shown)} with most are drawn."
    return Drawing(
        "kept_out_by_council",
        f"{len(pool.exports)} councils kept {total} out of landfill in {pool.label}",
        "Bars are estimates, thin lines their 95% intervals. A longer bar mostly means a larger "
        f"program.{more}",
        rows_in_words(shown, wording),
        plot,
        rows_inches(len(shown)),
    )
