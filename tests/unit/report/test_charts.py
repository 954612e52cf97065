"""Charts: what they say, and that they say it the same way twice."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import matplotlib as mpl
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from planner.figures import FigureRegister
from planner.report.charts import write_charts
from planner.report.charts.curves import retention_drawing
from planner.report.charts.drawing import SETTINGS, _drawn, render_chart
from planner.report.charts.months import months_drawing
from planner.report.charts.ranges import areas_drawing
from planner.report.wording import Wording
from tests.prose import HIDDEN
from tests.unit.report import synthetic

SVG = "{http://www.w3.org/2000/svg}"
BRITISH = Wording("en_GB", "GBP")


def svg_root(chart):
    return ElementTree.fromstring(chart.svg)  # noqa: S314 - of our own making


@pytest.fixture(scope="module")
def charts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("charts")
    return write_charts(folder, synthetic.register(), synthetic.program(), synthetic.area_names())


def test_each_chart_is_written_as_png_and_svg(charts):
    assert len(charts) >= 3
    for chart in charts:
        assert chart.png.startswith(b"\x89PNG")
        assert svg_root(chart).tag == f"{SVG}svg"


def test_the_svg_carries_title_and_description(charts):
    for chart in charts:
        root = svg_root(chart)
        assert root.findtext(f"{SVG}title") == chart.title
        assert root.findtext(f"{SVG}desc") == chart.alt_text


@pytest.mark.thorough
def test_the_same_figures_give_the_same_bytes(charts, tmp_path):
    again = write_charts(
        tmp_path, synthetic.register(), synthetic.program(), synthetic.area_names()
    )
    for first, second in zip(charts, again, strict=True):
        assert first == second
        for name, content in ((f"{first.name}.png", first.png), (f"{first.name}.svg", first.svg)):
            assert (tmp_path / name).read_bytes() == content


@pytest.mark.parametrize(
    ("target_t", "words"),
    [
        # the register's total is 7.742 t with an interval of 6.12 to 9.69 t
        (6.0, "above the target of 6 t"),
        (8.0, "on the target of 8 t"),
        (10.5, "below the target of 10.50 t"),
    ],
)
def test_the_title_of_months_says_how_the_year_stands_to_its_target(target_t, words):
    drawing = months_drawing(synthetic.register(), target_t, BRITISH)
    assert drawing.title.startswith("7.7 t (6.1 to 9.7) of food scraps")
    assert drawing.title.endswith(words)


def test_without_a_target_no_pace_is_mentioned():
    drawing = months_drawing(synthetic.register(), None, BRITISH)
    assert "target" not in drawing.title + drawing.caption + drawing.alt_text


def test_the_alt_text_of_months_names_the_ends_and_extremes():
    register = synthetic.register()
    months = register.parts("kept_out_of_landfill_t_in_month")
    most = max(months, key=lambda name: months[name].value)
    alt_text = months_drawing(register, None, BRITISH).alt_text
    assert f"Most in {BRITISH.month(most)}: {BRITISH.figure(months[most])}" in alt_text
    assert "from Jul 2024 to Jun 2026" in alt_text


def test_a_hidden_month_is_named_has_no_bar_and_is_no_extreme():
    register = synthetic.register()
    name = "kept_out_of_landfill_t_in_month"
    months = register.parts(name)
    most = max(months, key=lambda month: months[month].value)
    hidden = FigureRegister(register.council, register.reporting_year, register.version)
    for figure in register:
        is_most = figure.id == f"{name}[{most}]"
        hidden.add(
            replace(figure, value=None, low=None, high=None, method=HIDDEN) if is_most else figure
        )
    drawing = months_drawing(hidden, None, BRITISH)
    assert f"Not shown, because counts are small: {BRITISH.month(most)}." in drawing.alt_text
    assert f"Most in {BRITISH.month(most)}" not in drawing.alt_text
    assert "Months without a bar" in drawing.caption
    assert "Months without a bar" not in months_drawing(register, None, BRITISH).caption
    assert render_chart(drawing)[0].startswith(b"\x89PNG")


def test_retention_is_told_at_twelve_months():
    register = synthetic.register()
    drawing = retention_drawing(register, BRITISH)
    assert drawing.title.startswith(BRITISH.figure(register["retention_12_months"]))
    for age in (6, 12, 24, 36):
        words = BRITISH.figure(register[f"retention_by_age[{age}]"])
        assert f"{age} months, {words}" in drawing.alt_text


def test_hidden_areas_are_named_but_have_no_number():
    drawing = areas_drawing(synthetic.register(), synthetic.area_names(), BRITISH)
    for text in (drawing.caption, drawing.alt_text):
        told, _, rest = text.partition("Not shown")
        for name in ("Tiny Hamlet", "Little Green"):
            assert name in rest
            assert name not in told
        assert not any(character.isdigit() for character in rest)


def test_many_areas_are_cut_to_the_largest_and_the_rest_counted():
    register, names = synthetic.register(areas_count=200), synthetic.area_names(200)
    drawing = areas_drawing(register, names, BRITISH)
    assert "168 more" in drawing.caption  # 200 less 2 hidden less 30 drawn
    assert drawing.alt_text.count(" t (") == 30
    assert drawing.height_inches < 10.0


def test_overlap_with_the_first_area_is_said():
    # by construction: Harbour 1.65 t from 1.15, Northfield 1.10 t to 1.50, Mill Lane to 1.12
    title = areas_drawing(synthetic.register(), synthetic.area_names(), BRITISH).title
    assert title.startswith("Harbour kept most")
    assert title.endswith("overlaps that of Northfield")


def test_ten_years_of_months_are_drawn_without_a_warning():
    register = synthetic.register("EUR", months_count=120)
    drawing = months_drawing(register, 8.0, Wording("es_ES", "EUR"))
    assert drawing.title.startswith("7,7 t (6,1 to 9,7)")
    assert all(render_chart(drawing)[:2])


def test_a_name_full_of_signs_is_drawn_as_it_stands(tmp_path):
    names = synthetic.area_names() | {"a000": "A $\\frac{$ & <B>"}
    charts = write_charts(tmp_path, synthetic.register(), synthetic.program(), names)
    root = svg_root(next(c for c in charts if c.name == "kept_out_by_area"))
    assert names["a000"] in root.findtext(f"{SVG}title")


def test_a_title_of_wide_digits_stays_on_the_chart():
    drawing = months_drawing(synthetic.register(), None, BRITISH)
    wide = replace(drawing, title="$12,100 WMWM " * 14)
    with mpl.rc_context(SETTINGS):
        canvas = _drawn(wide)
        title = canvas.texts[0].get_window_extent(FigureCanvasAgg(canvas).get_renderer())
    assert title.x1 <= canvas.bbox.x1
    assert title.y0 > 0.0
