"""Whom a round asks, what it stands for, and what is refused."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import polars as pl
import pytest
from openpyxl import load_workbook

from planner.errors import EstimateError
from planner.sampling.drawing import calling_list, samples_workbook
from planner.sampling.plan import _whole_margin, plan_again, plan_round, since_date
from planner.sampling.request import Round
from planner.sampling.sizes import households_to_ask, streets_to_draw
from planner.survey.drawing import permanent_random_number
from planner.survey.sample_size import margin_of_share

DAY = dt.date(2026, 3, 2)
ASKED = Round("F3", "followup", DAY, dt.date(2026, 3, 29), size=30, response_share=0.5)
HOUSEHOLDS = 100
CONTACTS = ("household_id", "full_name", "phone", "email", "street_address", "postcode")


def register(**columns):
    """Register a hundred households with a bin: sixty in houses of A, forty in flats of B."""
    ids = [f"H{number:03d}" for number in range(HOUSEHOLDS)]
    frame = pl.DataFrame(
        {
            "household_id": ids,
            "area_id": ["A"] * 60 + ["B"] * 40,
            "dwelling": ["house"] * 60 + ["apartment"] * 40,
            "may_contact": True,
            "had_bin": True,
            "has_bin": True,
            "is_drawn_lately": False,
            "is_asked_with_all_lately": False,
            "random_number": [permanent_random_number("7-F3", name) for name in ids],
        }
    )
    return frame.with_columns(**columns)


def first(count):
    return pl.int_range(pl.len()) < count


def sizes(plan):
    return dict(plan.strata.select("stratum", "asked_count").iter_rows())


def test_sizes_are_proportional_and_weights_add_up_to_the_population():
    plan = plan_round(register(), ASKED)
    assert sizes(plan) == {"A house": 18, "B apartment": 12}
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(100.0)


def test_those_who_may_not_be_contacted_are_outside_the_population():
    plan = plan_round(register(may_contact=~first(10)), ASKED)
    assert plan.no_consent_count == 10
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(90.0)
    assert not set(plan.drawn["household_id"]) & {f"H{number:03d}" for number in range(10)}


def test_those_drawn_lately_rest_and_are_stood_for():
    plan = plan_round(register(is_drawn_lately=first(30)), ASKED)
    assert plan.strata["resting_count"].to_list() == [30, 0]
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(100.0)
    assert plan.drawn["household_id"].min() >= "H030"


def test_those_asked_with_everyone_are_outside_the_population():
    plan = plan_round(register(is_asked_with_all_lately=first(20)), ASKED)
    assert plan.asked_with_all_count == 20
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(80.0)


def test_a_stratum_in_which_all_rest_is_named_and_not_stood_for():
    plan = plan_round(register(is_drawn_lately=first(60)), ASKED)
    assert plan.not_drawn_from == ("A house",)
    assert sizes(plan) == {"B apartment": 30}


def test_a_followup_asks_those_that_hold_a_bin_and_a_baseline_those_that_never_had_one():
    given_back = register(has_bin=~first(5), had_bin=~first(3))
    followup = plan_round(given_back, ASKED)
    assert int(followup.strata["population_count"].sum()) == 95
    baseline = plan_round(given_back, replace(ASKED, kind="baseline", size=3))
    assert sorted(baseline.drawn["household_id"]) == ["H000", "H001", "H002"]


def test_a_margin_asks_as_many_as_it_needs():
    # Cochran (1977), 4.4: n0 = 96.04 for 10 points, 96.04 / (1 + 95.04 / 100) = 49.24 answers;
    # of everyone an answer, that is 50
    plan = plan_round(register(), replace(ASKED, size=None, margin=0.1, response_share=1.0))
    assert plan.drawn.height == 50
    assert plan.margin_expected == pytest.approx(0.0985, abs=0.001)


def test_each_stratum_has_at_least_two():
    few = register(dwelling=pl.when(first(2)).then(pl.lit("townhouse")).otherwise("dwelling"))
    plan = plan_round(few, replace(ASKED, size=6))
    assert sizes(plan) == {"A house": 2, "A townhouse": 2, "B apartment": 2}


def test_the_same_round_is_drawn_again_whatever_the_order_of_the_rows():
    shuffled = register().sample(fraction=1.0, shuffle=True, seed=3)
    assert plan_round(shuffled, ASKED).drawn.equals(plan_round(register(), ASKED).drawn)


@pytest.mark.parametrize(
    ("columns", "changes", "found"),
    [
        ({"has_bin": False}, {}, "no households that hold a bin"),
        ({"may_contact": False}, {}, "None of 100 households that hold a bin may be contacted"),
        ({"is_asked_with_all_lately": True}, {}, "were asked in the last 6 months"),
        ({"is_drawn_lately": True}, {}, "were asked in the last 6 months"),
        ({}, {"size": 101}, "between 4 and 100"),
        ({}, {"size": 3}, "between 4 and 100"),
        ({}, {"closes_date": dt.date(2026, 3, 1)}, "before it opens"),
        ({}, {"area_margin": 0.1}, "Use it without --size"),
        ({}, {"by_street": True}, "Use it with --stratify area"),
    ],
)
def test_what_cannot_be_drawn_is_refused(columns, changes, found):
    told = {name: pl.lit(value) for name, value in columns.items()}
    with pytest.raises(EstimateError, match=found):
        plan_round(register(**told), replace(ASKED, **changes))


def test_every_area_has_its_margin_with_the_fewest_households():
    """Cochran (1977), section 4.4.

    12 points of 60 need 66.69 / (1 + 65.69 / 60) = 31.8 answers, so 32 are asked; of 40,
    66.69 / (1 + 65.69 / 40) = 25.2, so 26. The town is then known to better than 12 points.
    """
    asked = replace(
        ASKED, size=None, margin=0.12, area_margin=0.12, response_share=1.0, stratify="area"
    )
    plan = plan_round(register(), asked)
    assert sizes(plan) == {"A": 32, "B": 26}
    assert plan.strata["margin_expected"].max() <= 0.12
    town = plan_round(register(), replace(asked, margin=0.05))
    assert town.margin_expected == pytest.approx(0.05, abs=0.001)


def test_an_area_too_small_for_its_margin_is_asked_whole():
    asked = replace(ASKED, size=None, margin=0.3, area_margin=0.01, response_share=0.5)
    assert sizes(plan_round(register(), replace(asked, stratify="area"))) == {"A": 60, "B": 40}


def homes(per_street):
    return pl.DataFrame(
        {
            "household_id": register()["household_id"],
            "street": [f"street {number // per_street}" for number in range(HOUSEHOLDS)],
        }
    )


BY_STREET = replace(ASKED, size=None, margin=0.15, stratify="area", by_street=True)


def test_whole_streets_are_drawn_and_weights_add_up():
    plan = plan_round(register(), BY_STREET, homes(4), "7-F3")
    assert plan.drawn.group_by("cluster_id").len()["len"].to_list() == [4] * plan.streets_count
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(100.0)
    assert plan.drawn["cluster_id"].str.contains("^F3-street-[0-9]{3}$").all()


def test_streets_that_answer_alike_need_more_of_them():
    """Kish (1965), 5.4: 1 + (m - 1) rho; answers of a street of ten, half of whom answer."""
    plain = plan_round(register(), replace(BY_STREET, likeness=0.0), homes(10))
    alike = plan_round(register(), replace(BY_STREET, likeness=0.3), homes(10))
    assert plain.streets_count < alike.streets_count
    effect = 1.0 + (5.0 - 1.0) * 0.3
    answers = alike.drawn.height * 0.5
    finite = (100.0 - answers) / 99.0
    expected = 1.959964 * (effect * 0.25 / answers * finite) ** 0.5
    assert alike.margin_expected == pytest.approx(expected, rel=0.02)


def test_a_household_without_an_address_is_a_street_of_its_own():
    few = homes(4).with_columns(street=pl.when(~first(3)).then("street"))
    plan = plan_round(register(), replace(BY_STREET, size=100), few)
    assert plan.drawn.group_by("cluster_id").len()["len"].value_counts().sort("len").rows() == [
        (1, 4),
        (4, 24),
    ]


def test_lately_ends_with_the_month_where_days_lack():
    assert since_date(replace(ASKED, opens_date=dt.date(2026, 8, 31))) == dt.date(2026, 2, 28)
    assert since_date(replace(ASKED, rest_months=0)) == DAY


def test_text_that_looks_like_a_formula_stays_text(tmp_path):
    contacts = pl.DataFrame(
        {
            "household_id": register()["household_id"],
            "full_name": ["=HYPERLINK(1)"] * HOUSEHOLDS,
            "street_address": ["+1 Mill Lane"] * HOUSEHOLDS,
            "postcode": ["01234"] * HOUSEHOLDS,
            "email": [None] * HOUSEHOLDS,
            "phone": ["0123"] * HOUSEHOLDS,
        },
        schema_overrides={"email": pl.String},
    )
    plan = plan_round(register(), ASKED)
    calling_list(plan, contacts).save(tmp_path / "calls.xlsx")
    sheet = load_workbook(tmp_path / "calls.xlsx")["calls"]
    headings = [cell.value for cell in sheet[2]]
    name = sheet.cell(3, headings.index("full_name") + 1)
    assert (name.value, name.data_type) == ("=HYPERLINK(1)", "s")
    assert sheet.cell(3, headings.index("postcode") + 1).value == "01234"
    assert sheet.max_row == 2 + 30
    order = [row[0].value for row in sheet.iter_rows(min_row=3)]
    assert order == [*range(1, 19), *range(1, 13)]


def test_samples_are_written_as_the_records_ask(tmp_path):
    plan = plan_round(register(), ASKED)
    samples_workbook(plan).save(tmp_path / "samples.xlsx")
    book = load_workbook(tmp_path / "samples.xlsx")
    assert book.sheetnames == ["waves", "samples"]
    assert [cell.value for cell in book["waves"][2]][:2] == ["F3", "followup"]
    assert book["waves"].cell(2, 3).value.date() == DAY
    shares = {row[4].value for row in book["samples"].iter_rows(min_row=2)}
    assert shares == {0.3}


AGAIN = replace(ASKED, wave_id="F3S", silent_of="F3", size=None)


def heard_of(answered_count, **columns):
    """Give the same households as asked in one round, of which the first so many answered."""
    return (
        register(has_answered=first(answered_count))
        .with_columns(**columns)
        .select(
            "household_id", "area_id", "dwelling", "may_contact", "has_answered", "random_number"
        )
    )


def test_only_the_silent_are_asked_again_and_they_stand_for_all_of_them():
    plan = plan_again(heard_of(40), replace(AGAIN, size=24), 1000)
    assert plan.drawn.height == 24
    assert not set(plan.drawn["household_id"]) & {f"H{number:03d}" for number in range(40)}
    assert (1.0 / plan.drawn["inclusion_probability"]).sum() == pytest.approx(60.0)


def test_as_many_are_asked_again_as_the_margin_needs():
    """By hand, Hansen and Hurwitz: with v of 60 silent in 100 asked, variance (1 + 0.6 k) / 400.

    Half-width 0.12 is a variance of 0.003749: 1 - 0.1 + 0.6 (1 - v) / v = 1.4995, so v is 0.5002:
    30.01 must answer, and with every other one answering all 60 are asked.
    """
    plan = plan_again(heard_of(40), replace(AGAIN, margin=0.12), 1000)
    assert plan.drawn.height == 60
    assert plan.margin_expected == pytest.approx(0.12, abs=2e-4)
    plan = plan_again(heard_of(40), replace(AGAIN, margin=0.12, response_share=0.75), 1000)
    assert plan.drawn.height == 41


def test_a_margin_out_of_reach_asks_all_the_silent():
    plan = plan_again(heard_of(40), replace(AGAIN, margin=0.01), 1000)
    assert plan.drawn.height == 60
    assert plan.margin_expected > 0.1


def test_nobody_left_to_ask_again_is_told_with_numbers():
    with pytest.raises(EstimateError, match=r"Of 100 households .* 0 gave none"):
        plan_again(heard_of(100), AGAIN, 1000)


def test_the_workbook_says_whose_silent_are_asked(tmp_path):
    plan = plan_again(heard_of(40), AGAIN, 1000)
    file = tmp_path / "samples.xlsx"
    samples_workbook(plan).save(file)
    heads, row = list(load_workbook(file)["waves"].iter_rows(values_only=True))[-2:]
    assert row[heads.index("follows_wave_id")] == "F3"


def test_those_who_call_go_by_the_random_number_within_each_stratum():
    plan = plan_round(register(), ASKED)
    sheet = calling_list(plan, pl.DataFrame(schema=dict.fromkeys(CONTACTS, pl.String))).worksheets[
        0
    ]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()]
    head = next(n for n, row in enumerate(rows) if "household_id" in row)
    place = {
        name: rows[head].index(name) for name in ("order_in_stratum", "stratum", "household_id")
    }
    called = [
        [row[place[name]] for name in place]
        for row in rows[head + 1 :]
        if row[place["household_id"]]
    ]
    number = dict(plan.drawn.select("household_id", "random_number").iter_rows())
    for stratum in ("A house", "B apartment"):
        mine = [row for row in called if row[1] == stratum]
        assert [row[0] for row in mine] == list(range(1, len(mine) + 1))
        numbers = [number[row[2]] for row in mine]
        assert numbers == sorted(numbers)


def test_unequal_shares_of_strata_cost_as_kish_says():
    """Kish (1965), Survey Sampling, 11.7 (from memory): n sum W squared over n_h.

    A tenth and nine tenths of a thousand, fifty answers each: 100 (0.01 + 0.81) / 50 = 1.64.
    """
    strata = pl.DataFrame({"population_count": [100, 900], "answers_expected": [50.0, 50.0]})
    expected = margin_of_share(100.0, 1000.0, design_effect=1.64 * 2.0)
    assert _whole_margin(strata, 2.0) == pytest.approx(expected)


def test_a_stratum_is_asked_by_its_households_though_some_of_them_rest():
    strata = pl.DataFrame(
        {"stratum": ["A", "B"], "area_id": ["A", "B"], "population_count": [60, 40],
         "ready_count": [30, 40]}
    )  # fmt: skip
    assert households_to_ask(strata, replace(ASKED, size=20)).tolist() == [12, 8]


def test_streets_are_drawn_whole_at_least_three_of_a_stratum_and_never_too_few():
    """10 answers of streets of four: 2.5 streets are three; of each of two strata three are six."""
    streets = pl.DataFrame({"stratum": ["A"] * 20, "households_count": [4] * 20})
    asked = replace(ASKED, by_street=True, stratify="area", likeness=0.0, response_share=1.0)
    one = pl.DataFrame({"stratum": ["A"], "population_count": [80]})
    assert streets_to_draw(one, streets, replace(asked, size=14)).tolist() == [4]
    both = pl.concat([streets, streets.with_columns(stratum=pl.lit("B"))])
    two = pl.DataFrame({"stratum": ["A", "B"], "population_count": [80, 80]})
    assert streets_to_draw(two, both, replace(asked, size=10)).tolist() == [3, 3]
