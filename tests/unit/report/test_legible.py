"""Charts can be read: no text leaves the picture or lies on another, contrast is enough.

Contrast is that of WCAG 2.1, success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (parts of a
picture, 3:1), with relative luminance as defined there.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import matplotlib as mpl
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from planner.report import style
from planner.report.charts.areas import areas_drawing
from planner.report.charts.drawing import NARROW_INCHES, SETTINGS, TALLER, _drawn
from planner.report.charts.headline import headline_drawing
from planner.report.charts.months import months_drawing
from planner.report.charts.retention import retention_drawing
from planner.report.wording import Wording
from tests.unit.report import fuller, synthetic
from tests.unit.report.test_row_charts import EVERY, register

WORDINGS = (Wording("en_GB", "GBP"), Wording("es_ES", "EUR"))
PIXEL = 1.0
PAPER = "#FFFFFF"
OF_YEARS = {
    "headline": lambda one: headline_drawing(fuller.register(), 8.0, one),
    "months": lambda one: months_drawing(synthetic.register(), 8.0, one),
    "areas": lambda one: areas_drawing(synthetic.register(), synthetic.area_names(), one),
    "retention": lambda one: retention_drawing(synthetic.register(), one),
}
OF_ROWS = {draw.__name__: lambda one, draw=draw: draw(register(), one) for draw in EVERY}


def luminance(colour):
    """Relative luminance after WCAG 2.1."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def boxes(drawing, width):
    """Boxes of all texts of a drawing and of its picture [pixels]."""
    tall = replace(drawing, height_inches=drawing.height_inches * TALLER)
    with mpl.rc_context(SETTINGS):
        canvas = _drawn(tall if width == NARROW_INCHES else drawing, width)
        agg = FigureCanvasAgg(canvas)
        agg.draw()
        renderer = agg.get_renderer()
        texts = [
            (one.get_text(), one.get_window_extent(renderer))
            for one in _drawn_texts(canvas)
            if one.get_text().strip() and one.get_visible()
        ]
    return texts, canvas.bbox


def _drawn_texts(canvas):
    """Texts that are drawn: of tick labels only those within the axes."""
    yield from canvas.texts
    for axes in canvas.axes:
        yield from axes.texts
        for axis in (axes.xaxis, axes.yaxis):
            yield axis.label
            yield from (tick.label1 for tick in axis._update_ticks())
        legend = axes.get_legend()
        if legend is not None:
            yield from legend.get_texts()


@pytest.mark.parametrize("wording", WORDINGS, ids=lambda one: one.country_locale)
@pytest.mark.parametrize("width", [style.CHART_WIDTH_INCHES, NARROW_INCHES])
@pytest.mark.parametrize("name", [*OF_YEARS, *OF_ROWS])
def test_texts_stay_inside_and_apart(name, width, wording):
    texts, canvas = boxes({**OF_YEARS, **OF_ROWS}[name](wording), width)
    assert len(texts) > 3
    for words, box in texts:
        assert box.x0 >= -PIXEL, words
        assert box.y0 >= -PIXEL, words
        assert box.x1 <= canvas.x1 + PIXEL, words
        assert box.y1 <= canvas.y1 + PIXEL, words
    for (first, a), (second, b) in combinations(texts, 2):
        apart = a.x1 <= b.x0 + PIXEL or b.x1 <= a.x0 + PIXEL
        apart = apart or a.y1 <= b.y0 + PIXEL or b.y1 <= a.y0 + PIXEL
        assert apart, (first, second)


def test_contrast_is_that_of_the_guidelines():
    # black on white is 21:1 and white on white 1:1, by definition
    assert contrast("#000000", PAPER) == pytest.approx(21.0)
    assert contrast(PAPER, PAPER) == 1.0
    for colour in (style.INK, style.MUTED, style.MAIN, style.ACCENT):
        assert contrast(colour, PAPER) >= 4.5
    # intervals and best estimates are drawn in ink over bars and bands
    for ground in (style.FILL, style.BAND, style.BAND_80, style.BAND_50):
        assert contrast(style.INK, ground) >= 3.0
    # bars themselves, and the line of the target with its white edge
    assert contrast(style.FILL, PAPER) >= 3.0
    assert contrast(style.ACCENT, PAPER) >= 3.0
