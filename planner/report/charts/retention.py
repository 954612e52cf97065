"""Chart of the share of bins still in use by their age."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report import style
from planner.report.charts.drawing import Drawing, Spot

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from planner.figures import FigureRegister
    from planner.report.wording import Wording

MARK_MONTHS = 12
LABEL_SHARE = 0.12
"""Height of the label on the mark: below any curve that a council would go on with."""

TICK_MONTHS = 6
LONG_TICK_MONTHS = 12
LONG_CURVE_MONTHS = 60
AGES_TOLD = (6, 12, 24, 36)


def retention_drawing(register: FigureRegister, wording: Wording) -> Drawing:
    """Chart of retention: the finding is the share in use after twelve months."""
    by_age = register.parts("retention_by_age")
    ages = np.array(sorted(int(age) for age in by_age))
    curve = np.array(
        [[getattr(by_age[str(age)], n) for n in ("value", "low", "high")] for age in ages], float
    )
    after_a_year = register["retention_12_months"]

    def plot(axes: Axes) -> None:
        axes.fill_between(ages, curve[:, 1], curve[:, 2], facecolor=style.BAND, **style.EDGED)
        axes.plot(ages, curve[:, 0], color=style.MAIN, linewidth=2.2)
        _plot_observed(axes, register)
        _mark(axes, after_a_year.value or 0.0, wording.amount(after_a_year))
        step = TICK_MONTHS if ages[-1] <= LONG_CURVE_MONTHS else LONG_TICK_MONTHS
        axes.set_xticks(np.arange(0, ages[-1] + 1, step))
        axes.set_xlim(0, ages[-1])
        axes.set_ylim(0.0, 1.05)
        axes.set_xlabel("months after the hand-over")
        axes.set_ylabel("share of bins in use")
        axes.yaxis.set_major_formatter(lambda tick, _: wording.share(tick))

    ages_named = [age for age in AGES_TOLD if str(age) in by_age]
    ages_in_words = "; ".join(
        f"{age} months, {wording.figure(by_age[str(age)])}" for age in ages_named
    )
    return Drawing(
        "retention_by_age",
        f"{wording.figure(after_a_year)} of bins are in use 12 months after the hand-over",
        "The band shows the 95% interval of a curve fitted to the follow-up answers; beyond "
        "the oldest bin asked about it carries on. Squares: plain shares of the answers by "
        "three months of age, with theirs.",
        f"Chart of the share of bins in use by months since the hand-over, from 0 to {ages[-1]} "
        f"months, with a 95% interval. After {ages_in_words}.",
        plot,
        section="chain",
        spots=tuple(
            Spot(figure.id, f"{age} months: {wording.figure(figure)}", x=(age - 0.5, age + 0.5))
            for age in map(int, ages)
            for figure in (by_age[str(age)],)
            if figure.value is not None
        ),
    )


def _plot_observed(axes: Axes, register: FigureRegister) -> None:
    """Set the plain shares beside the curve, each in the middle of its band of ages."""
    for band, figure in register.parts("retention_observed").items():
        first, last = (float(edge) for edge in band.split("-"))
        middle = (first + last) / 2.0
        if figure.value is None or figure.low is None or figure.high is None:
            continue
        axes.vlines(middle, figure.low, figure.high, color=style.INK, linewidth=1.0)
        axes.plot(middle, figure.value, "s", mfc="white", mec=style.INK, ms=5)


def _mark(axes: Axes, share: float, words: str) -> None:
    axes.vlines(MARK_MONTHS, 0.0, share, color=style.MUTED, linewidth=1.0, linestyle=(0, (2, 2)))
    axes.plot([MARK_MONTHS], [share], marker="o", color=style.INK, markersize=6)
    axes.annotate(
        f"{words} after 12 months",
        (MARK_MONTHS, LABEL_SHARE),
        (6, 0),
        textcoords="offset points",
        weight="bold",
        va="center",
    )
