"""The program file: every wrong key, type or range is named with what is allowed."""

from __future__ import annotations

import datetime as dt
import json

import pytest
import tomlkit
from pydantic import ValidationError

from planner.errors import ProgramError
from planner.messages import messages_for, set_language
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import HandOver, Sizing, read_program, written_language
from planner.program.money import OtherWay
from planner.program.ordering import Nursery, Ordering
from planner.program.sizing import Prior

SHIPPED = (TEMPLATES / PROGRAM_FILE).read_text(encoding="utf-8")


def refusal(tmp_path, was, becomes):
    """Read the shipped file with one thing changed and return what is said of it."""
    assert was in SHIPPED
    path = tmp_path / PROGRAM_FILE
    path.write_text(SHIPPED.replace(was, becomes, 1), encoding="utf-8")
    with pytest.raises(ProgramError) as refused:
        read_program(path)
    assert str(path) in str(refused.value)
    return str(refused.value)


def test_the_shipped_program_file_is_read_whole():
    program = read_program(TEMPLATES / PROGRAM_FILE)
    assert program.council.country_locale == "en_GB"
    assert program.months("2026-27") == (dt.date(2026, 4, 1), dt.date(2027, 4, 1))


@pytest.mark.parametrize(
    ("was", "becomes", "place", "allowed"),
    [
        ("[method]", "[metod]", "metod", "Did you mean method?"),
        ("[method]", "[metod]", "method: not there", "Add it"),
        ("seed = ", "sead = ", "method.sead", "Did you mean seed?"),
        ('model_id = "', 'modelid = "', "first bin model, modelid", "Did you mean model_id?"),
        ("cell_threshold = 10", 'cell_threshold = "10"', "small_cell_threshold", "without quotes"),
        ("draws_count = 1000", "draws_count = 10", "method.draws_count", "from 100 to 20000"),
        ("draws_count = 1000", "draws_count = 1000.5", "method.draws_count", "whole number"),
        ("budget = 50000", "budget = true", "first reporting year, budget", "a number"),
        ("budget = 50000", "budget = -1", "first reporting year, budget", "at least 0"),
        ("budget = 50000", "budget = inf", "first reporting year, budget", "finite"),
        ("trays_count = 2", "trays_count = inf", "first bin model, trays_count", "whole number"),
        ("trays_count = 2", "trays_count = 99", "first bin model, trays_count", "from 1 to 12"),
        ('edition = "ipcc_2006"', 'edition = "2006"', "method.edition", "ipcc_2019"),
        ('"en_GB"', '"english"', "council.country_locale", "en_AU"),
        ('"en_GB"', '"en"', "council.country_locale", "en_AU"),
        ('"GBP"', '"pounds"', "council.currency", "ISO 4217"),
        ("[4.5, 4.9,", "[4.9,", "monthly_mean_temperature_c", "a list of 12"),
        ("[4.5, 4.9,", "[1.0, 4.5, 4.9,", "monthly_mean_temperature_c", "found a list of 13"),
        ("[4.5, 4.9,", "[99.0, 4.9,", "monthly_mean_temperature_c, January", "at most 50"),
        ("from_age_years = 5,", "from_age_years = 50,", "gas_capture", "rise from line to line"),
        ("from_age_years = 0,", "from_age_years = 1,", "gas_capture", "begin at 0"),
        (
            "captured_share = 0.5 ",
            "captured_share = 50 ",
            "gas_capture, second line, captured_share",
            "from 0 to 1. 50 per cent is 0.5.",
        ),
        ('_year = "2026-27"', '_year = "2026"', "reporting_years", "'2026-27'"),
        ('_year = "2026-27"', '_year = "now"', "reporting_years", "'2026-27'"),
    ],
)
def test_a_wrong_key_is_named_with_what_is_allowed(tmp_path, was, becomes, place, allowed):
    message = refusal(tmp_path, was, becomes)
    assert place in message
    assert allowed in message.split(place, 1)[1]


@pytest.mark.parametrize(
    ("was", "becomes", "line", "told"),
    [
        ("= 130.75", "= 130,75", "landfill_levy_per_t = 130,75", ": 130.75."),
        ("= 50000", "= 50,000", "budget = 50,000", ": 50000."),
        ("= 50000", "= £50,000", "budget = £50,000", ": 50000."),
        ("= 50000", "= 50000 GBP", "budget = 50000 GBP", ": 50000."),
        ("waste = 1.0", "waste = 85%", "waste = 85%", "85% is 0.85"),
        ('"Your council"', '"Your council', 'name = "Your council', "A quote is missing"),
        ('"Your council"', "“Your council”", "name = “Your council”", "straight quotes"),
        ('"Your council"', "Your council", "name = Your council", 'Text stands in "quotes"'),
        ("seed = 20260701", "seed = 1\nseed = 2", "seed = 2", "seed may stand once"),
        ("[method]", "[council]", "[council]", "Take one of the two out"),
        ("budget = 50000", "budget: 50000", "budget: 50000", "key = value"),
        ("budget = 50000", "budget =", "budget =", "Write what budget is"),
    ],
)
def test_a_line_that_is_not_toml_is_shown_with_what_to_change(tmp_path, was, becomes, line, told):
    message = refusal(tmp_path, was, becomes)
    text = (tmp_path / PROGRAM_FILE).read_text(encoding="utf-8").splitlines()
    number = max(n for n, found in enumerate(text, 1) if found.strip().endswith(line))
    assert f"line {number}: cannot be read." in message
    assert line in message
    assert told in message


@pytest.mark.parametrize(
    ("was", "becomes", "told"),
    [
        ('"boreal_temperate_wet"', '"boreal temperate wet"', "Did you mean boreal_temperate_wet?"),
        ('"en_GB"', '"en-GB"', 'did you mean "en_GB"?'),
        ('"en_GB"', '"en_UK"', 'did you mean "en_GB"?'),
        ('"GBP"', '"gbp"', 'did you mean "GBP"?'),
        ('_year = "2026-27"', '_year = "2031/32"', "a year written as '2031-32'"),
        ("first_month = 4", "first_month = 13", "from 1 to 12"),
        ("[privacy]\n", "", "small_cell_threshold: belongs under [privacy]"),
    ],
)
def test_a_value_near_a_right_one_is_told_with_it(tmp_path, was, becomes, told):
    message = refusal(tmp_path, was, becomes)
    assert told in message
    assert "1 key needs fixing" in message


def test_own_words_for_headings_and_codes_are_read(tmp_path):
    path = tmp_path / PROGRAM_FILE
    own = '[columns.households]\n"Property no" = "household_id"\n'
    path.write_text(SHIPPED + own + '[synonyms.dwelling]\nmaisonette = "townhouse"\n', "utf-8")
    program = read_program(path)
    assert program.columns == {"households": {"Property no": "household_id"}}
    assert program.synonyms == {"dwelling": {"maisonette": "townhouse"}}


def test_a_fault_inside_a_block_is_told_once(tmp_path):
    message = refusal(tmp_path, "trays_count = 2", "trays_count = 99")
    assert "1 key needs fixing" in message
    assert "Tuple" not in message


def test_a_file_without_blocks_says_how_many_are_needed(tmp_path):
    path = tmp_path / PROGRAM_FILE
    head, tail = SHIPPED.split("[[bin_models]]")
    years = "[[reporting_years]]" + tail.split("[[reporting_years]]")[1]
    path.write_text(f"bin_models = []\n{head}{years}", encoding="utf-8")
    with pytest.raises(ProgramError, match="bin_models: found a list of 0, expected a list of at"):
        read_program(path)


def test_all_faults_are_told_in_one_pass(tmp_path):
    path = tmp_path / PROGRAM_FILE
    wrong = SHIPPED.replace('"GBP"', '"X"').replace("draws_count = 1000", "draws_count = 1")
    path.write_text(wrong, encoding="utf-8")
    with pytest.raises(ProgramError, match="2 keys need fixing"):
        read_program(path)


@pytest.mark.parametrize("block", ["bin_models", "reporting_years"])
def test_a_block_that_stands_twice_is_refused(tmp_path, block):
    start = SHIPPED.index(f"[[{block}]]")
    end = SHIPPED.find("\n# One block", start)
    again = SHIPPED[start : end if end > 0 else None]
    path = tmp_path / PROGRAM_FILE
    path.write_text(f"{SHIPPED}\n{again}", encoding="utf-8")
    with pytest.raises(ProgramError, match=f"{block}.* twice"):
        read_program(path)


def test_a_missing_file_says_how_to_start(tmp_path):
    with pytest.raises(ProgramError, match="planner new DIR"):
        read_program(tmp_path / PROGRAM_FILE)


def test_a_file_that_is_not_toml_says_where(tmp_path):
    message = refusal(tmp_path, "seed = 20260701", "seed = = 1")
    assert "line" in message


def test_a_year_without_a_block_names_those_there_are():
    program = read_program(TEMPLATES / PROGRAM_FILE)
    with pytest.raises(ProgramError, match="it has 2026-27"):
        program.year("2031-32")


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ('[council]\ncountry_locale = "es_ES" # where\nhues = ', "es"),
        ("country_locale='fr-CA'", "fr"),
        ('country_locale = "de_DE"', "en"),
        ('name = "x', "en"),
    ],
)
def test_a_file_that_is_not_sound_still_tells_its_language(tmp_path, text, language):
    path = tmp_path / "program.toml"
    path.write_text(text, encoding="utf-8")
    assert written_language(path) == language
    assert written_language(tmp_path / "none.toml") == "en"


@pytest.mark.parametrize("locale", ["es_ES", "fr_FR"])
def test_faults_are_said_in_the_language_that_is_spoken(tmp_path, locale):
    path = tmp_path / "program.toml"
    path.write_text("[council]\nreporting_year_first_month = 13\n", encoding="utf-8")
    set_language(locale)
    with pytest.raises(ProgramError) as refused:
        read_program(path)
    wanted = messages_for(locale).say("setting.from_to", low="1", high="12")
    assert wanted in str(refused.value)


QUARTERS = ({"begins": "2026-10-01", "budget": 1.0}, {"begins": "2026-07-01", "budget": 1.0})
CARD = {"materials": [{"material": "card"}]}
ROUND = {"name": "one", "hand_over_month": "2026-09"}
WAY = {"name": "chickens", "cost_per_t": 90.0, "source": "a study"}
SITE = {"climate": "tropical_dry", "management": "unmanaged_deep", "cover": "none"}
ANOTHER = SITE | {"name": "hill", "share_of_landfilled_waste": 0.1,
                  "gas_capture": [{"from_age_years": 0, "captured_share": 0.0}]}  # fmt: skip


@pytest.mark.parametrize(
    ("block", "content", "told"),
    [
        (HandOver, {"opens": "09:00", "closes": "09:10"}, "at least one slot later"),
        (Nursery, {"bed_area_m2": 4.0, "monthly_bed_temperature_c": [9.0]}, "one for each month"),
        (Ordering, {"quarters": QUARTERS}, "days that rise"),
        (Ordering, {"bedding": CARD, "bedding_kg_per_bin": {"a": 2.0}}, "not both"),
        (Ordering, {"model_shares": {"a": 0.5, "b": 0.2}}, "they add up to 0.7"),
        (Ordering, {"shipping_window": {"warmest_c": 5.0, "coldest_c": 6.0}}, "to be wider"),
        (OtherWay, WAY | {"cost_per_t_low": 80.0}, "together, or neither"),
        (OtherWay, WAY | {"cost_per_t_low": 95.0, "cost_per_t_high": 99.0}, "from 95 to 99"),
        (Prior, {"value": 3.0, "low": 1.0, "high": 2.0}, "found 1.0, 3.0, 2.0"),
        (Prior, {"value": 1.0, "low": 0.0, "high": 2.0, "shape": "lognormal"}, "above 0"),
        (Sizing, {"target_year": 4, "horizon_years": 3}, "1 to 3, found 4"),
        (Sizing, {"rounds": [ROUND, ROUND]}, "found 'one' twice"),
        (Sizing, {"rounds": [ROUND | {"hand_over_month": "13"}]}, "expected a month"),
        (Sizing, {"interest": [{"dwelling": "house", "asked_count": 5, "interested_count": 6}]},
         "no more than asked_count"),
    ],
)  # fmt: skip
def test_settings_that_cannot_hold_together_are_refused(block, content, told):
    with pytest.raises(ValidationError) as refused:
        block.model_validate_json(json.dumps(content))
    assert told in refused.value.errors()[0]["msg"]


def test_two_landfills_of_one_name_are_refused(tmp_path):
    blocks = tomlkit.dumps({"further_landfills": [ANOTHER, ANOTHER]})
    path = tmp_path / PROGRAM_FILE
    path.write_text(f"{SHIPPED}\n{blocks}", encoding="utf-8")
    with pytest.raises(ProgramError, match="hill, hill"):
        read_program(path)
