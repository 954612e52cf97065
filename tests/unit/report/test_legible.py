"""Charts can be read: no text leaves the picture or lies on another, in grey print as well.

Contrast is that of WCAG 2.1, success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (parts of a
picture, 3:1), with relative luminance as defined there.
"""

from __future__ import annotations

import ast
import datetime as dt
import sys
from dataclasses import replace
from itertools import combinations, pairwise, product
from pathlib import Path
from types import SimpleNamespace

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.patches import Patch
from matplotlib.transforms import Bbox

import planner
from planner.figures import Figure, FigureRegister
from planner.pooling.figures import register_pool
from planner.pooling.pool import PoolRequest, pool
from planner.pooling.writing import councils_drawing
from planner.report import style
from planner.report.charts.area_map import MAPPED, SHADES, map_drawing
from planner.report.charts.boundaries import AreaShapes
from planner.report.charts.curves import retention_drawing
from planner.report.charts.drawing import NARROW_INCHES, SETTINGS, TALLER, _drawn
from planner.report.charts.headline import headline_drawing
from planner.report.charts.months import months_drawing
from planner.report.charts.ranges import areas_drawing
from planner.report.plan.charts import (
    drivers_drawing,
    fan_drawing,
    frontier_drawing,
    scenarios_drawing,
)
from planner.report.progress import Pace, pace_drawing
from planner.report.wording import Wording
from tests.unit.pooling.councils import export
from tests.unit.report import fuller, synthetic
from tests.unit.report.test_row_charts import EVERY, register

ALL = PoolRequest("All councils")
NAMED = tuple(product(("Aldermoor", "West Brackwell"), ("Council", "Rural District Council")))
WORDINGS = (Wording("en_GB", "GBP"), Wording("es_ES", "EUR"))
PLANNER = Path(planner.__file__).parent
PIXEL = 1.0
PAPER = "#FFFFFF"
APART, READ = 3.0, 4.5
OF_YEARS = {
    "headline": lambda one: headline_drawing(fuller.register(), 8.0, one),
    "months": lambda one: months_drawing(synthetic.register(), 8.0, one),
    "areas": lambda one: areas_drawing(synthetic.register(), synthetic.area_names(), one),
    "months with what happened": lambda one: months_drawing(
        synthetic.register(), 8.0, one, WARMTH, ROUNDS
    ),
    "map": lambda one: map_drawing(mapped(), SHAPES, synthetic.area_names(), one),
    "pace": lambda one: pace_drawing(
        Pace(synthetic.register(), dt.date(2025, 7, 1), np.linspace(8.0, 11.0, 201), 8.0),
        "9.5 t (8.1 to 10.9) expected by the end of 2025-26",
        one,
    ),
    "retention": lambda one: retention_drawing(synthetic.register(), one),
    "councils": lambda one: councils_drawing(POOL, register_pool(POOL), one),
}
OF_PLAN = {
    "frontier": lambda one: frontier_drawing(plan(), one),
    "fan": lambda one: fan_drawing(plan(), one),
    "drivers": lambda one: drivers_drawing(plan(), DRIVERS, one),
    "scenarios": lambda one: scenarios_drawing(plan(), one),
}
OF_ROWS = {draw.__name__: lambda one, draw=draw: draw(register(), one) for draw in EVERY}


def mapped():
    """Figures of a map: of each area a kilogram less than of the one before, one of them unsure."""
    made = synthetic.register()
    for place, area_id in enumerate(synthetic.area_names()):
        name = f"{MAPPED}[{area_id}]"
        if name not in made:
            half = 4.0 if place == 3 else 0.8
            middle = 12.0 - place
            made.add(Figure(name, "", middle, middle - half, middle + half, "kg", ""))
    return made


def plan():
    """Figures of a plan: costs, months, drivers and scenarios."""
    made = FigureRegister("Council", "2026-27", "1")

    def add(name, value, low=None, high=None, unit="t"):
        made.add(Figure(name, "", value, low, high, unit, ""))

    add("plan_bins", 300.0, unit="bins")
    add("plan_cost", 30_000.0, 28_000.0, 33_000.0, unit="GBP")
    add("plan_kept_out_t", 30.0 * 3.0**0.5, 40.0, 60.0)
    add("plan_next_tonne_cost", 1_200.0, unit="GBP per t")
    for step in range(1, 7):
        add(f"plan_frontier_cost[{step}]", 10_000.0 * step, unit="GBP")
        add(f"plan_frontier_bins[{step}]", 100.0 * step, unit="bins")
        add(f"plan_frontier_kept_out_t[{step}]", 30.0 * step**0.5)
    for place in range(24):
        month, level = f"{2026 + place // 12}-{place % 12 + 1:02d}", 1.0 + 0.1 * place
        add(f"plan_kept_out_t_in_month[{month}]", level, 0.6 * level, 1.5 * level)
        for percent, share in ((10, 0.8), (50, 1.0), (90, 1.2)):
            add(f"plan_kept_out_t_in_month_p{percent}[{month}]", share * level)
    add("plan_kept_out_t_in_year[2026-27]", 22.0, 14.0, 31.0)
    for name, share in (("feed", 0.5), ("show_ups", 0.3), ("prices", 0.1)):
        add(f"plan_variance_share_of_kept_out_t[{name}]", share, unit="share")
    for name, change in (("Fewer come", -6.0), ("A second year", 9.0)):
        add(f"plan_scenario_kept_out_t_difference[{name}]", change, change - 3.0, change + 3.0)
    return made


DRIVERS = SimpleNamespace(drivers=SimpleNamespace(drivers=("feed", "show_ups", "prices")))
WARMTH = (28.0, 27.0, 24.0, 18.0, 12.0, 8.0, 6.0, 9.0, 13.0, 18.0, 22.0, 26.0)
ROUNDS = (dt.date(2024, 9, 10), dt.date(2025, 9, 10), dt.date(2030, 1, 1))


POOL = pool([export(f"{a} {b} (invented)", 1.0 + n / 4, n) for n, (a, b) in enumerate(NAMED)], ALL)


def _square(east, north):
    corners = [(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]
    return (np.array([(east + x, north + y) for x, y in corners], float),)


SHAPES = AreaShapes(
    {name: _square(at % 3, at // 3) for at, name in enumerate(synthetic.area_names())}, ()
)

EVERY_CHART = {**OF_YEARS, **OF_ROWS, **OF_PLAN}


def test_no_chart_of_any_command_escapes():
    """Every function that returns a drawing, wherever it stands, is among the charts above."""
    declared = {
        (path.stem, one.name)
        for path in PLANNER.rglob("*.py")
        for one in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(one, ast.FunctionDef)
        and ast.unparse(one.returns or ast.Constant(None)) in ("Drawing", "Drawing | None")
    }
    drawn = set()

    def seen(frame, event, _):
        if event == "call":
            drawn.add((Path(frame.f_code.co_filename).stem, frame.f_code.co_name))

    sys.setprofile(seen)
    try:
        for draw in EVERY_CHART.values():
            draw(WORDINGS[0])
    finally:
        sys.setprofile(None)
    assert len(declared) > len(OF_PLAN)
    assert declared - drawn == set()


def luminance(colour):
    """Relative luminance after WCAG 2.1."""
    shares = mpl.colors.to_rgb(colour)
    red, green, blue = (
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in shares
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def on_canvas(drawing, width=style.CHART_WIDTH_INCHES):
    """Draw as it is saved, for a page or for a telephone."""
    tall = replace(drawing, height_inches=drawing.height_inches * TALLER)
    with mpl.rc_context(SETTINGS):
        canvas = _drawn(tall if width == NARROW_INCHES else drawing, width)
        canvas.draw_without_rendering()
    return canvas


def boxes(drawing, width):
    """Boxes of all texts of a drawing and of its picture [pixels]."""
    with mpl.rc_context(SETTINGS):
        canvas = on_canvas(drawing, width)
        renderer = canvas.canvas.get_renderer()
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
        for axis in (axes.xaxis, axes.yaxis) if axes.axison else ():
            yield axis.label
            yield from (tick.label1 for tick in axis._update_ticks())
        legend = axes.get_legend()
        if legend is not None:
            yield from legend.get_texts()


ENGLISH, SPANISH = WORDINGS
WIDE, NARROW = style.CHART_WIDTH_INCHES, NARROW_INCHES


@pytest.mark.parametrize(
    ("width", "wording"),
    [
        (WIDE, ENGLISH),
        (NARROW, SPANISH),
        pytest.param(WIDE, SPANISH, marks=pytest.mark.thorough),
        pytest.param(NARROW, ENGLISH, marks=pytest.mark.thorough),
    ],
    ids=["wide-en", "narrow-es", "wide-es", "narrow-en"],
)
@pytest.mark.parametrize("name", EVERY_CHART)
def test_texts_stay_inside_and_apart(name, width, wording):
    texts, canvas = boxes(EVERY_CHART[name](wording), width)
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


def filled(canvas):
    """Find filled areas as they lie over each other: colour, edge or None, and box [pixels]."""
    found = []
    for axes in [one for outer in canvas.axes for one in (outer, *outer.child_axes)]:
        shapes = [one for one in axes.get_children() if isinstance(one, Patch | PolyCollection)]
        for one in sorted(shapes, key=lambda shape: shape.get_zorder()):
            fill, edge = (np.ravel(c)[:4] for c in (one.get_facecolor(), one.get_edgecolor()))
            is_ground = one is axes.patch or len(fill) < 4 or fill[3] == 0.0
            if is_ground or isinstance(one, LineCollection):
                continue
            wide = float(np.ravel(one.get_linewidth())[0])
            has_edge = wide > 0.0 and len(edge) == 4 and edge[3] > 0.0
            found.append((fill[:3], edge[:3] if has_edge else None, one.get_window_extent()))
    return found


def are_told_apart(one, other, edge):
    """Whether two areas that touch differ enough, by themselves or by the line between them."""
    lines = edge is not None and min(contrast(edge, one), contrast(edge, other)) >= APART
    return contrast(one, other) >= APART or lines


def lines_of(axes):
    """Find the lines of a chart: colour, whether they have a white edge, and box [pixels]."""
    for line in axes.lines:
        yield line.get_color(), bool(line.get_path_effects()), line.get_window_extent()
    for many in axes.collections:
        if isinstance(many, LineCollection):
            for ends in many.get_segments():
                box = Bbox.null()
                box.update_from_data_xy(many.get_transform().transform(ends))
                yield np.ravel(many.get_color())[:3], bool(many.get_path_effects()), box


def lie_over_each_other(one, other):
    across = min(one.x1, other.x1) - max(one.x0, other.x0)
    along = min(one.y1, other.y1) - max(one.y0, other.y0)
    return min(across, along) >= 0.0 and max(across, along) > PIXEL


@pytest.mark.parametrize("name", EVERY_CHART)
def test_areas_lines_and_words_are_told_apart_in_grey(name):
    canvas = on_canvas(EVERY_CHART[name](WORDINGS[0]))
    areas = filled(canvas)
    for place, (fill, edge, box) in enumerate(areas):
        below = [one for one, _, under in areas[:place] if lie_over_each_other(box, under)]
        for ground in (PAPER, *below):
            is_same = contrast(fill, ground) == pytest.approx(1.0)
            assert is_same or are_told_apart(fill, ground, edge), mpl.colors.to_hex(fill)
    for colour, is_cased, box in lines_of(canvas.axes[0]):
        under = [fill for fill, _, one in areas if lie_over_each_other(box, one) and not is_cased]
        for ground in (PAPER, *under):
            assert contrast(colour, ground) >= APART, mpl.colors.to_hex(colour)
    texts = [one for one in _drawn_texts(canvas) if one.get_text().strip()]
    assert texts
    for one in texts:
        box = one.get_window_extent()
        under = [fill for fill, _, area in areas if lie_over_each_other(box, area)]
        # a number on a map has a ground of its own
        for ground in (PAPER, *(under if one.get_bbox_patch() is None else ())):
            assert contrast(one.get_color(), ground) >= READ, one.get_text()


def test_a_pair_too_alike_in_grey_is_found():
    # the two fills of the palette are 2.1:1; a line of ink between them tells them apart
    assert not are_told_apart(style.FILL, style.BAND, None)
    assert not are_told_apart(style.FILL, style.BAND, style.MUTED)
    assert are_told_apart(style.FILL, style.BAND, style.INK)
    # shades of a map grow darker by steps, in grey as well
    lights = [luminance(shade) for shade in SHADES]
    assert all(lighter - darker > 0.1 for lighter, darker in pairwise(lights))


def test_what_happened_stands_in_lanes_and_in_words():
    drawing = months_drawing(synthetic.register(), None, WORDINGS[0], WARMTH, ROUNDS)
    # by construction: means above 25 C from December to February, below 10 from June to August
    assert "Hot: Dec 2024 to Feb 2025 and Dec 2025 to Feb 2026." in drawing.alt_text
    assert "Cold: Jul 2024 to Aug 2024" in drawing.alt_text
    # a round after the last month is not of this chart
    assert "Survey: Sept 2024 and Sept 2025." in drawing.alt_text
    assert "Above the chart" not in months_drawing(synthetic.register(), None, WORDINGS[0]).caption


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
