"""Charts of parts and years: the finding follows the figures, nothing is drawn of nothing."""

from xml.etree import ElementTree

import numpy as np
import pytest

from planner.figures import Figure, FigureRegister
from planner.messages import write_papers_in
from planner.report.charts.curves import costs_drawing, decay_drawing
from planner.report.charts.drawing import _drawn, render_chart
from planner.report.charts.ranges import limits
from planner.report.charts.rows import (
    account_drawing,
    audit_drawing,
    chain_drawing,
    cohorts_drawing,
    drivers_drawing,
    routes_drawing,
)
from planner.report.wording import Wording

BRITISH = Wording("en_GB", "GBP")
GAP = "audit_less_survey_food_kg_per_household_week"
METHANE = "landfill_methane_avoided_by_year_t_co2e"
EVERY = (
    account_drawing,
    audit_drawing,
    chain_drawing,
    cohorts_drawing,
    drivers_drawing,
    routes_drawing,
    costs_drawing,
    decay_drawing,
)


def register(**changed):
    """Invented figures; `changed` are other values of figures by id with _ for brackets."""
    rows = {
        "prior_route_share[residual_bin]": (0.6, 0.5, 0.7, "share"),
        "prior_route_share[animals]": (0.4, 0.3, 0.5, "share"),
        "gross_claim_t": (75.0, None, None, "t"),
        "bins_in_use": (300.0, 280.0, 320.0, "bins"),
        "bins_in_use_by_year_given[2024-25]": (100.0, 90.0, 110.0, "bins"),
        "bins_in_use_by_year_given[2025-26]": (200.0, 190.0, 210.0, "bins"),
        "account_t_co2e[100_years.landfill_methane]": (30.0, 20.0, 40.0, "t CO2-e"),
        "account_t_co2e[100_years.bin_methane]": (-6.0, -11.0, -1.0, "t CO2-e"),
        "account_t_co2e[100_years.net]": (24.0, 12.0, 36.0, "t CO2-e"),
        "landfill_methane_avoided_100_years_t_co2e": (30.0, 20.0, 40.0, "t CO2-e"),
        "cost_per_t_kept_out_through_year[2024-25]": (9000.0, 8000.0, 10_000.0, "GBP per t"),
        "cost_per_t_kept_out_through_year[2025-26]": (4000.0, 3500.0, 4500.0, "GBP per t"),
        "variance_share[survey]": (0.2, None, None, "share"),
        "variance_share[food_decay_rate_per_year]": (0.8, None, None, "share"),
        "audit_food_kg_per_household_week_change": (-0.8, -1.1, -0.5, "kg"),
        "survey_food_kg_per_household_week_change": (-0.7, -0.8, -0.6, "kg"),
        GAP: (-0.1, -0.4, 0.2, "kg"),
    }
    steps = (
        *("given", "set_up", "in_use", "fed", "from_residual_bin"),
        *("landfilled", "not_composted_anyway", "kept_out"),
    )
    tonnes_of_steps = (80.0, 70.0, 56.0, 54.0, 40.0, 36.0, 34.0, 30.0)
    for step, tonnes in zip(steps, tonnes_of_steps, strict=True):
        rows[f"gross_to_net[{step}]"] = (tonnes, tonnes - 5, tonnes + 5, "t")
    # a stock of 30 t halving each year: 15, 7.5, ...
    for year in range(101):
        part = 30.0 * 0.5 ** (year + 1)
        rows[f"{METHANE}[{year}]"] = (part, part / 2, part * 2, "t CO2-e")
    made = FigureRegister("Brackwell Council (invented)", "2025-26", "0")
    for name, (value, low, high, unit) in (rows | changed).items():
        made.add(Figure(name, name, value, low, high, unit, ""))
    return made


def without(*prefixes):
    made, kept = register(), FigureRegister("Brackwell Council (invented)", "2025-26", "0")
    for figure in made:
        if not figure.id.startswith(prefixes):
            kept.add(figure)
    return kept


@pytest.mark.parametrize("draw", EVERY, ids=lambda draw: draw.__name__)
def test_each_is_drawn_with_title_and_words(draw):
    drawing = draw(register(), BRITISH)
    root = ElementTree.fromstring(render_chart(drawing)[1])  # noqa: S314 - of our own making
    texts = {child.tag.rpartition("}")[2]: child.text for child in root}
    assert texts["title"] == drawing.title
    assert texts["desc"] == drawing.alt_text
    assert render_chart(drawing) == render_chart(drawing)


@pytest.mark.parametrize("draw", EVERY, ids=lambda draw: draw.__name__)
def test_nothing_is_drawn_of_nothing(draw):
    empty = FigureRegister("Brackwell Council (invented)", "2025-26", "0")
    assert draw(empty, BRITISH) is None


def test_the_chain_says_gross_and_net():
    drawing = chain_drawing(register(), BRITISH)
    assert "80 t" in drawing.title
    assert "30 t" in drawing.title
    assert "75 t" in drawing.caption


def test_a_hidden_step_leaves_the_chain_out():
    hidden = (None, None, None, "t")
    assert chain_drawing(register(**{"gross_to_net[fed]": hidden}), BRITISH) is None


def test_a_net_that_may_be_below_zero_is_said_to_be_unsure():
    crossing = (2.0, -3.0, 7.0, "t CO2-e")
    drawing = account_drawing(register(**{"account_t_co2e[100_years.net]": crossing}), BRITISH)
    assert "not sure" in drawing.title
    assert "not sure" not in account_drawing(register(), BRITISH).title


def test_half_of_a_stock_that_halves_each_year_comes_in_its_first():
    assert "in the year itself" in decay_drawing(register(), BRITISH).title


@pytest.mark.parametrize(
    ("last", "words"),
    [
        ((4000.0, 3500.0, 4500.0, "GBP per t"), "fell from £9,000"),
        ((20_000.0, 18_000.0, 22_000.0, "GBP per t"), "rose from £9,000"),
        ((8800.0, 7800.0, 9800.0, "GBP per t"), "has cost £8,800"),
    ],
)
def test_a_change_of_cost_is_told_where_the_intervals_are_apart(last, words):
    made = register(**{"cost_per_t_kept_out_through_year[2025-26]": last})
    assert words in costs_drawing(made, BRITISH).title


def test_one_year_has_no_course():
    assert costs_drawing(without("cost_per_t_kept_out_through_year[2024"), BRITISH) is None


def test_the_greatest_source_comes_first():
    drawing = drivers_drawing(register(), BRITISH)
    assert drawing.title.startswith("What we know least is speed of decay in a landfill: 80%")
    assert drawing.alt_text.index("speed of decay") < drawing.alt_text.index("survey")


def test_audit_and_survey_agree_where_the_gap_holds_zero():
    assert "Audit and survey agree" in audit_drawing(register(), BRITISH).title
    apart = register(**{GAP: (-0.6, -0.9, -0.3, "kg")})
    assert "do not agree" in audit_drawing(apart, BRITISH).title
    small = register(audit_food_kg_per_household_week_change=(-0.3, -0.9, 0.2, "kg"))
    assert "too small" in audit_drawing(small, BRITISH).title


def test_a_figure_without_interval_is_its_own_limits():
    found = limits({"a": Figure("a", "", 2.0, None, None, "t", "")})
    assert np.array_equal(found, [[2.0, 2.0, 2.0]])


@pytest.mark.parametrize("language", ["en", "es", "fr"])
def test_the_axis_of_shares_is_in_per_cent_in_every_language(language):
    write_papers_in("en_GB", language)
    try:
        drawing = routes_drawing(register(), Wording("en_GB", "GBP", language))
        canvas = _drawn(drawing)
        ticks = {text.get_text() for text in canvas.axes[0].get_xticklabels()}
    finally:
        write_papers_in("en_GB", "en")
    assert all(tick.rstrip().endswith("%") for tick in ticks)
