"""Writes the state report, its figures and the priors it teaches."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import NORMAL_95
from planner.at_first_use import at_first_use
from planner.figures import INTERVAL_PERCENT
from planner.messages import said, say, write_papers_in
from planner.paths import FIGURES_FILE
from planner.pooling.contract import FEED, IN_USE, RATES
from planner.pooling.document import SHEETS, build_state_document
from planner.pooling.figures import register_pool, slugs
from planner.pooling.gathering import KEPT_FOLDER, gather
from planner.pooling.pool import pool
from planner.progress import Progress, no_progress
from planner.report.charts.drawing import Drawing, pictured, write_picture
from planner.report.charts.ranges import plot_bars, rows_in_words, rows_inches
from planner.report.page import write_page
from planner.report.replacing import replacing_folder
from planner.report.word.placeholders import PAPER_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.wording import Wording

with at_first_use():  # what writes waits until there is something to write
    from planner.report.workbook import page, quality, section_sheets

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence
    from pathlib import Path

    from matplotlib.axes import Axes

    from planner.figures import FigureRegister
    from planner.pooling.pool import Pool, PoolRequest

TAKEN = (IN_USE, FEED)
"""Rates that a plan takes as they are; what was landfilled before is asked in each council."""


def priors_text(pool: Pool) -> str:
    """Write the blocks, one a rate that enough councils have measured; empty where none is.

    An amount is lognormal. A share is given by its mean and 95% limits about it, which
    `planner size` turns into the beta shape of the same mean and variance.
    """
    blocks = [_block(pool, name) for name in RATES if name in pool.rates and name.startswith(TAKEN)]
    if not blocks:
        return ""
    head = said("pooled.priors", count=len(pool.exports), year=pool.label)
    return "\n".join([head, *blocks])


def _block(pool: Pool, name: str) -> str:
    draws = pool.rates[name].new_council
    if RATES[name].unit == "share":
        shape, value, half = "normal", draws[1:].mean(), NORMAL_95 * draws[1:].std()
        low, high = value - half, value + half
    else:
        shape, value = "lognormal", np.median(draws[1:])
        low, high = np.percentile(draws[1:], INTERVAL_PERCENT)
    named = {"title": pool.title, "year": pool.label}
    source = said("pooled.source", count=pool.rates[name].places.size, **named)
    return (
        f"[sizing.priors.{name}]\n"
        f"value = {value:.3g}\nlow = {low:.3g}\nhigh = {high:.3g}\n"
        f'shape = "{shape}"\nsource = {json.dumps(source, ensure_ascii=False)}\n'
    )


WORD, PAGE, WORKBOOK, PRIORS = "state.docx", "state.html", "state.xlsx", "priors.toml"
MOST_COUNCILS = 30
"""Bars of one chart."""


@dataclass(frozen=True)
class PoolResult:
    """Councils put together, the figures of their state report, and its files."""

    pool: Pool
    register: FigureRegister
    files: tuple[Path, ...]


def pool_councils(
    places: Sequence[str],
    target: Path,
    asked: PoolRequest,
    *,
    day: dt.datetime,
    progress: Progress = no_progress,
) -> PoolResult:
    """Put many councils together and write the state report to the target folder."""
    exports, missing = gather(places, target / KEPT_FOLDER, asked, progress)
    progress(say("pooled.doing.together", len(exports)))
    made = pool(exports, asked, missing)
    return PoolResult(made, *write_pool(target, made, day))


def write_pool(
    folder: Path, pool: Pool, written_at: dt.datetime
) -> tuple[FigureRegister, tuple[Path, ...]]:
    """Write the state report: figures, workbook, chart, Word document, page and priors.

    Raises
    ------
    ReportError
        The folder cannot be written; the report that was there stays.
    """
    write_papers_in(pool.country_locale, pool.language)
    register = register_pool(pool)
    wording = Wording(pool.country_locale, pool.currency, pool.language)
    drawing = councils_drawing(pool, register, wording)
    picture = pictured(drawing)
    document = build_state_document(pool, register, [picture], written_at)
    with replacing_folder(folder) as new:
        register.write(new)
        write_picture(new, picture.name, picture.png, picture.svg)
        write_word(new / WORD, document, register, PAPER_TEMPLATE, tuple(SHEETS))
        write_page(new / PAGE, document)
        sheets = page.Book(document.title, pool.title, wording)
        section_sheets.add_sections(sheets, document, SHEETS, register, SHEETS)
        quality.add_figures(sheets, register)
        (new / WORKBOOK).write_bytes(sheets.contents(written_at))
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
        plot_bars(axes, shown, said("pooled.chart.axis"), wording)

    total = wording.figure(register["kept_out_of_landfill_t"])
    caption = said("pooled.chart.caption")
    if len(shown) < len(ranked):
        caption += " " + said("pooled.chart.most", count=len(shown))
    count, year = len(pool.exports), pool.label
    return Drawing(
        "kept_out_by_council",
        said("pooled.chart.title", count=count, total=total, year=year),
        caption,
        rows_in_words(shown, wording),
        plot,
        rows_inches(len(shown)),
    )
