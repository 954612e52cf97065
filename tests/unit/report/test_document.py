"""What the report says, and by which rules it chooses its words."""

from __future__ import annotations

import dataclasses
import re

import polars as pl
import pytest

from planner.figures import Figure
from planner.report.document import Paragraph, Picture, Shown, Table
from planner.report.document.advice import advice
from planner.report.document.building import SECTION_KEYS, build_document
from planner.report.wording import worded
from tests.prose import HIDDEN
from tests.unit.report import fuller, synthetic
from tests.unit.report.read_back import is_shown_by
from tests.unit.report.readability import grade, words_of

OF_APPENDICES = ("details", "method", "factors", "records", "glossary")
PLAIN_NUMBERS = re.compile(
    r"95%|80%|100 years|19 times in 20|CO2-e|20\d\d-\d\d|\b1 is full agreement|"
    r"within 3\b|within 12\b|"
    r"12 months(?: later)?|(?:after|next) \d+(?: months)?|2006, guideline 3\.2\.9"
)
"""Numbers in the text that no figure stands behind: names, dates, rules, ages."""

LOCALES = [("en_GB", "GBP"), ("de_DE", "EUR"), ("fr_FR", "EUR"), ("en_IN", "INR")]


def statements(document, keys=SECTION_KEYS):
    for section in document.sections:
        if section.key in keys:
            yield from _of_section(section)


def _of_section(section):
    for block in section.blocks:
        if isinstance(block, Paragraph):
            yield from block.statements
        elif isinstance(block, Table):
            yield from (cell for row in block.rows for cell in row)
    for part in section.parts:
        yield from _of_section(part)


def with_figure(made, figure_id, **changed):
    """Give the register with one figure changed."""
    copy = dataclasses.replace(made, _figures=dict(made._figures))
    copy._figures[figure_id] = dataclasses.replace(made[figure_id], **changed)
    return copy


def short(one):
    """Words of an advice."""
    return worded(one.short) if isinstance(one.short, str) else one.short.words


def tables_of(document, key):
    """Tables of a section and its parts, by key."""
    section = document.section(key)
    blocks = (*section.blocks, *(block for part in section.parts for block in part.blocks))
    return {block.key: block for block in blocks if isinstance(block, Table)}


def section_words(contents, key):
    return " ".join(one.words for one in statements(build_document(contents), (key,)))


@pytest.mark.parametrize(("country_locale", "currency"), LOCALES)
def test_every_number_shown_is_that_of_its_figure(country_locale, currency):
    contents = fuller.contents(country_locale=country_locale, currency=currency)
    shown = [
        part
        for one in statements(build_document(contents))
        for part in one.parts
        if isinstance(part, Shown)
    ]
    wrong = [
        one
        for one in shown
        if not is_shown_by(one.words, contents.register[one.figure_id], country_locale)
    ]
    assert wrong == []
    assert len({one.figure_id for one in shown}) > 100


def test_no_number_of_the_text_is_without_its_figure():
    document = build_document(fuller.contents())
    ages = {"3", "6", "12", "24", "36"}
    rates = {"3.5%", "7.0%"}
    for one in statements(document, set(SECTION_KEYS) - {*OF_APPENDICES}):
        plain = "".join(part for part in one.parts if isinstance(part, str))
        left = PLAIN_NUMBERS.sub("", plain)
        is_name = plain in ages | rates or re.search(r"\d{4}|Milestone", plain)
        assert is_name or not re.search(r"\d", left), plain


def test_sections_stand_in_order_and_tables_are_whole():
    document = build_document(fuller.contents())
    assert [section.key for section in document.sections] == list(SECTION_KEYS)
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, Table):
                assert block.rows, block.key
                assert all(len(row) == len(block.columns) for row in block.rows)
                assert all(row[0].words for row in block.rows)


def test_a_bare_register_makes_a_report_too():
    made = synthetic.register()
    contents = dataclasses.replace(fuller.contents(), register=made)
    keys = [section.key for section in build_document(contents).sections]
    assert keys == [key for key in SECTION_KEYS if key != "earlier"]


def test_charts_stand_in_their_sections_and_unknown_ones_with_the_results(tmp_path):
    contents = fuller.contents(tmp_path)
    first = contents.charts[0]
    charts = (*contents.charts, dataclasses.replace(first, name="never_heard_of"))
    document = build_document(dataclasses.replace(contents, charts=charts))
    placed = [
        block.name
        for section in document.sections
        for block in section.blocks
        if isinstance(block, Picture)
    ]
    assert sorted(placed) == sorted(chart.name for chart in charts)
    results = document.section("results").blocks
    assert "never_heard_of" in [b.name for b in results if isinstance(b, Picture)]


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.92, "above"), (0.5, "on"), (0.08, "below")],
)
def test_a_target_is_judged_by_the_chance_that_it_was_reached(chance, words):
    name = "target_reached_share[kept_out_of_landfill_t]"
    contents = fuller.contents(made=with_figure(fuller.register(), name, value=chance))
    summary = section_words(contents, "summary")
    assert f"That is {words} " in summary
    assert f"target of 8 tonnes was reached is {chance:.0%}" in summary
    judged = [one.words for one in statements(build_document(contents), ("results",))]
    assert f"{words} target: {chance:.0%} chance that it was reached" in judged


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (0.1, 9.0, "will avoid"),
        (-0.1, 9.0, "may avoid emissions or add some"),
        (-9.0, -0.1, "A minus sign means added"),
    ],
)
def test_emissions_are_called_avoided_only_where_the_whole_interval_is(low, high, words):
    name = "emissions_avoided_100_years_t_co2e"
    made = with_figure(fuller.register(), name, value=(low + high) / 2, low=low, high=high)
    summary = section_words(fuller.contents(made=made), "summary")
    assert words in summary
    assert sum(sign in summary for sign in ("will avoid", "will add", "may avoid")) == 1


@pytest.mark.parametrize(
    ("agrees", "summary", "detail"),
    [
        (True, "as a check agree with", "Audit and survey agree"),
        (False, "as a check do not agree with", "Audit and survey do not agree"),
    ],
)
def test_audit_and_survey_agree_where_zero_lies_in_the_interval_of_their_gap(
    agrees, summary, detail
):
    contents = fuller.contents(made=fuller.register(agrees=agrees))
    assert summary in section_words(contents, "summary")
    assert detail in section_words(contents, "sureness")
    first = short(advice(contents)[0])
    assert (first == "Find out why the bin audit and the survey differ.") == (not agrees)


def test_an_audit_that_could_not_tell_its_own_change_from_none_is_called_too_small():
    name = "audit_food_kg_per_household_week_change"
    made = with_figure(fuller.register(), name, low=-0.9, high=0.1)
    contents = fuller.contents(made=made)
    assert "too few were opened to prove it" in section_words(contents, "summary")
    assert "the audit is too small" in section_words(contents, "sureness")


def test_an_audit_without_figures_is_said_not_to_be_there():
    contents = fuller.contents(made=synthetic.register())
    assert "Nobody has yet opened and weighed" in section_words(contents, "summary")


def test_advice_follows_the_results():
    made = fuller.register()
    lost_late = with_figure(made, "retention_by_age[3]", value=0.99, low=0.98, high=1.0)
    assert any("six months" in short(one) for one in advice(fuller.contents(made=lost_late)))
    mostly_landfilled = [short(one) for one in advice(fuller.contents(made=made))]
    assert not any("still go to landfill" in one for one in mostly_landfilled)
    little = with_figure(made, "landfill_share", value=0.3, low=0.25, high=0.36)
    assert any("still go to landfill" in short(one) for one in advice(fuller.contents(made=little)))
    answered = with_figure(made, "response_share[follow]", value=0.81)
    shorts = [short(one) for one in advice(fuller.contents(made=answered))]
    assert not any("did not reply" in one for one in shorts)


def test_calls_to_the_silent_are_advised_with_what_is_at_stake_and_once_only():
    made = fuller.register()
    made.add(Figure("if_users_odds[bins_in_use|2]", "If twice", 443.0, None, None, "bins", "Odds."))
    contents = fuller.contents(made=made)
    (silent,) = (one for one in advice(contents) if "did not reply" in short(one))
    assert "440 bins are in use" in silent.reason.words
    waves = contents.quality.waves.with_columns(again_count=pl.lit(40))
    called = dataclasses.replace(contents.quality, waves=waves)
    again = advice(dataclasses.replace(contents, quality=called))
    assert not any("did not reply" in short(one) for one in again)


def test_a_single_choice_is_said_to_count_as_all_of_the_scraps():
    contents = fuller.contents()
    words = "Some answers say only where most scraps went before"
    assert words not in section_words(contents, "sureness")
    checks = contents.quality.checks.with_columns(check_name=pl.lit("prior_main_route_only"))
    asked = dataclasses.replace(contents.quality, checks=checks)
    assert words in section_words(dataclasses.replace(contents, quality=asked), "sureness")


def test_money_over_budget_and_without_a_ledger_is_said_so():
    made = fuller.register()
    over = with_figure(made, "program_cost", value=60_001.0)
    assert "That is over the budget" in section_words(fuller.contents(made=over), "summary")
    unknown = with_figure(made, "program_cost", value=None)
    unknown = with_figure(unknown, "cost_per_t_kept_out", value=None, low=None, high=None)
    words = section_words(fuller.contents(made=unknown), "summary")
    assert "What the program cost is not known" in words
    assert "None " not in words.replace("None of this", "")


def test_lines_of_the_account_have_the_words_of_their_figures():
    tables = tables_of(build_document(fuller.contents()), "details")
    names = [[row[0].words for row in tables[key].rows] for key in ("account", "apart")]
    assert names == [
        ["Landfill methane avoided", "Methane of the bins"],
        ["Landfill methane that bins out of use do not avoid"],
    ]


def test_an_interval_without_width_is_not_printed_twice():
    made = with_figure(fuller.register(), "castings_t", value=0.00157, low=0.00157, high=0.00157)
    contents = fuller.contents(made=made)
    assert contents.saying.cell("castings_t", "spread").words == ""
    assert contents.saying.cell("fed_t", "spread").words


def test_restatements_are_listed_with_their_reasons():
    tables = tables_of(build_document(fuller.contents()), "details")
    rows = [[cell.words for cell in row] for row in tables["restatements"].rows]
    assert ["2024-25", "Food scraps fed, t", "5.1", "5.5", "data: files loaded since"] in rows
    assert tables["changes"].rows[0][-1].words in ("higher", "lower", "no clear difference")


def test_hidden_areas_have_no_row_and_no_number():
    contents = fuller.contents()
    document = build_document(contents)
    names = [name for a, name in contents.area_names.items() if _is_hidden(contents, a)]
    assert len(names) == fuller.HIDDEN_AREAS
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, Table):
                assert not any(row[0].words in names for row in block.rows)
    table = next(b for b in document.section("areas").blocks if isinstance(b, Table))
    assert all(name in table.note for name in names)


def _is_hidden(contents, area_id):
    return contents.register[f"kept_out_of_landfill_t[{area_id}]"].method == HIDDEN


def test_small_counts_of_records_are_not_told():
    contents = fuller.contents()
    assert contents.quality.refusals["rows_count"].sum() == 4
    words = section_words(contents, "sureness")
    assert "Some records have errors" in words
    clean = dataclasses.replace(contents.quality, refusals=pl.DataFrame())
    assert "refused" not in section_words(dataclasses.replace(contents, quality=clean), "sureness")


@pytest.mark.parametrize("agrees", [True, False])
def test_the_brief_is_plain_and_fits_a_page(agrees):
    """Flesch-Kincaid grade 9 or easier; a page of 10 points with a chart holds 400 words."""
    contents = fuller.contents(made=fuller.register(agrees=agrees))
    said = [one.words for one in statements(build_document(contents), ("summary",))]
    assert grade([one for one in said if len(words_of(one)) > 4]) <= 9.0
    assert 200 <= len(words_of(" ".join(said))) <= 400


def test_other_ways_are_called_cheaper_or_dearer_by_the_interval_of_the_difference():
    """Two normal results with half widths of 100 differ by 100 times the root of 2, 141.4."""
    said = section_words(fuller.contents(), "summary")
    assert f"Cheaper by the tonne: {fuller.CHEAP}." in said
    assert f"Dearer by the tonne: {fuller.DEAR}." in said
    assert f"costs less by the tonne before you fund more: {fuller.CHEAP}." in said
    net, other = "net_cost_per_t_kept_out_service_life", "other_way_net_cost_per_t"
    made = with_figure(fuller.register(), net, value=400.0, low=300.0, high=500.0)
    for cheap, words in ((258.0, "Cheaper by the tonne"), (259.0, "Too close to call")):
        at = {"value": cheap, "low": cheap - 100.0, "high": cheap + 100.0}
        found = with_figure(made, f"{other}[{fuller.CHEAP}]", **at)
        assert f"{words}: {fuller.CHEAP}." in section_words(fuller.contents(made=found), "summary")


def test_the_target_that_is_advised_is_that_of_the_plan():
    made = fuller.register()
    fuller.add(made, "next_plan_kept_out_t", 14.2, 11.0, 18.0)
    fuller.add(made, "next_plan_bins", 310.0, unit="bins")
    said = section_words(fuller.contents(made=made), "summary")
    assert "Set the target for 2026-27 at 14 tonnes or less" in said
    # a normal estimate of 0.44 standard errors above its target reaches it with a chance of 67%
    far, near = (14.2 - z * (18.0 - 11.0) / (2 * 1.96) for z in (0.44, 0.42))
    for target, words in ((far, "14 tonnes or less"), (near, "Keep the target of")):
        known = with_figure(made, "kept_out_of_landfill_t_target", value=target)
        assert words in section_words(fuller.contents(made=known), "summary")


def test_no_climate_claim_is_advised_where_the_effect_may_be_below_zero():
    name = "emissions_avoided_100_years_t_co2e"
    for low, is_advised in ((-0.1, True), (0.1, False)):
        made = with_figure(fuller.register(), name, value=3.0, low=low, high=9.0)
        words = [short(one) for one in advice(fuller.contents(made=made))]
        assert any("no climate claim" in one for one in words) == is_advised


def test_a_year_that_is_still_running_is_said_so():
    made = dataclasses.replace(fuller.register(), through_date="2026-03-31")
    contents = fuller.contents(made=made)
    assert "(up to 31 Mar 2026)" in section_words(contents, "summary")
    assert "so far" in build_document(contents).subtitle


def test_text_in_another_language_s_numbers_stays_english():
    document = build_document(fuller.contents(country_locale="es_ES", currency="EUR"))
    assert document.language == "en-GB"
    assert build_document(fuller.contents(country_locale="en_AU")).language == "en-AU"


def test_saying_refuses_what_a_figure_does_not_have():
    contents = fuller.contents()
    with pytest.raises(ValueError, match="nothing of a figure is called width"):
        contents.saying.say("{fed_t:width}")
    contents.register.add(Figure("none", "None", None, None, None, "t", HIDDEN))
    assert contents.saying.say("{none}").words == "not shown"
    with pytest.raises(ValueError, match="none has no value"):
        contents.saying.value("none")


def test_where_landfill_costs_nothing_no_fee_is_called_saved():
    made = with_figure(fuller.register(), "disposal_price_per_t", value=0.0)
    said = section_words(fuller.contents(made=made), "summary")
    assert "No levy or gate fee is set" in said
    assert "cost more than they save" not in said
