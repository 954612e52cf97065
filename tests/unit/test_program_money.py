"""The blocks of money and of own factors in program.toml."""

from __future__ import annotations

import re

import pytest

from planner.errors import ProgramError
from planner.factors import read_factors, with_own
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import Program, read_program

OWN = """
[[factors]]
factor_id = "food_degradable_carbon_share"
value = 0.17
low = 0.15
high = 0.19
unit = "kg C per kg wet waste"
source = "Laboratory report 12 (invented)"
"""
MONEY = """
[money]
price_rise_share = 0.01
discount_rates = [0.07, 0.03]
"""
WORK = """
[[in_kind]]
reporting_year = "2026-27"
work = "Volunteers at hand-over days"
hours = 120
rate_per_hour = 32.5
"""


def read(tmp_path, text: str) -> Program:
    path = tmp_path / PROGRAM_FILE
    shipped = (TEMPLATES / PROGRAM_FILE).read_text("utf-8")
    path.write_text(shipped + text, encoding="utf-8")
    return read_program(path)


def refusal(tmp_path, text: str) -> str:
    with pytest.raises(ProgramError) as refused:
        read(tmp_path, text)
    return str(refused.value)


def test_the_blocks_may_be_left_out(tmp_path):
    program = read(tmp_path, "")
    assert program.factors == program.in_kind == ()
    assert program.money.price_rise_share == program.money.support_cost_per_bin_year == 0.0
    assert program.money.discount_rates == ()


def test_the_blocks_are_read(tmp_path):
    program = read(tmp_path, MONEY + WORK + OWN)
    assert program.money.discount_rates == (0.03, 0.07)
    assert program.in_kind[0].hours * program.in_kind[0].rate_per_hour == 3900.0
    assert program.factors[0].source == "Laboratory report 12 (invented)"


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('source = "Laboratory report 12 (invented)"\n', "", "source: not there. Name the report"),
        ("Laboratory report 12 (invented)", " ", "source: not there"),
        ("low = 0.15\n", "", "found high alone, expected both low and high"),
        ("low = 0.15", "low = 0.18", "low 0.18, value 0.17, high 0.19, expected them to rise"),
        ('unit = "kg', 'units = "kg', "Did you mean unit?"),
        ("value = 0.17", 'value = "0.17"', "first factor of your own, value"),
    ],
    ids=["no source", "blank source", "half a range", "out of order", "misspelt", "text"],
)
def test_an_own_factor_that_cannot_be_read_is_named(tmp_path, was, becomes, said):
    assert was in OWN
    assert said in refusal(tmp_path, OWN.replace(was, becomes))


def test_a_shape_needs_a_range(tmp_path):
    text = OWN.replace("low = 0.15\nhigh = 0.19\n", 'shape = "normal"\n')
    assert 'found shape "normal" without low and high' in refusal(tmp_path, text)


def test_work_in_kind_falls_in_a_reporting_year(tmp_path):
    assert "expected a year of the [[reporting_years]] blocks" in refusal(
        tmp_path, WORK.replace("2026-27", "2031-32")
    )


def test_a_discount_rate_stands_once_and_is_a_share(tmp_path):
    assert "expected each rate once" in refusal(tmp_path, MONEY.replace("0.03", "0.07"))
    assert "at most 0.3" in refusal(tmp_path, MONEY.replace("0.03", "3.5"))


def test_the_blocks_that_the_template_explains_are_read_when_their_mark_is_taken_away(tmp_path):
    shipped = (TEMPLATES / PROGRAM_FILE).read_text("utf-8")
    commented = re.findall(
        r"(?m)^# (?:\[\[?(?:money|scenarios|in_kind|other_ways|funders|factors)\]\]?"
        r"|[a-z_]+ = .*)$",
        shipped,
    )
    first = commented.index("# [money]")
    lines = [line.removeprefix("# ") for line in commented[first:]]
    last = max(n for n, line in enumerate(lines[:-1]) if line.startswith("source ="))
    program = read(tmp_path, "\n".join(["", *lines[: last + 1], ""]))
    assert len(program.money.discount_rates) == 3
    assert program.in_kind[0].hours > 0
    table = with_own(read_factors(), program.factors, program.council.name)
    assert [row.factor_id for row in table if row.is_own] == [program.factors[0].factor_id]


SCENARIO = """
[[scenarios]]
name = "Food collection"
begins = 2027-07-01
leaves_residual_bin_share = 0.6
[[scenarios]]
name = "Levy"
begins = 2028-04-01
landfill_levy_per_t = 200.0
"""


def test_scenarios_carry_prices_on_and_keep_what_they_do_not_name(tmp_path):
    program = read(tmp_path, SCENARIO)
    # the shipped file's only year, 2026-27, has 130.75 and 35
    assert program.prices() == {2026: (130.75, 35.0), 2028: (200.0, 35.0)}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("begins = 2027-07-01", "begins = 2027-07-15", "first day of a month"),
        ("leaves_residual_bin_share = 0.6", "", "found no change"),
        ("begins = 2028-04-01", "begins = 2028-05-01", "first day of a reporting year"),
        ("begins = 2028-04-01", "begins = 2026-04-01", "after the [[reporting_years]] blocks"),
        ('"Levy"', '"Food collection"', "twice"),
        ("landfill_levy_per_t = 200.0", 'landfill_levy_per_t = 200.0\nareas = ["A"]', "areas"),
    ],
)
def test_a_scenario_that_cannot_hold_is_refused_in_words(tmp_path, old, new, said):
    assert said in refusal(tmp_path, SCENARIO.replace(old, new))


def test_a_carbon_value_needs_its_source(tmp_path):
    money = "\n[money]\ncarbon_value = { per_t_co2e = 245.0, price_year = 2021 }\n"
    assert "source" in refusal(tmp_path, money)
    assert read(tmp_path, "").money.carbon_value is None
