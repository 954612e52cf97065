"""Reasons for a restatement: data, method or factor, each found where it is planted."""

from __future__ import annotations

import dataclasses

import pytest

from planner.figures import Figure, FigureRegister, Input
from planner.messages import in_english
from planner.report.inputs import restatement_reasons

NONE = in_english("reason_why.none")
LOADS = ("L1 a.csv (2025-07-01)",)


def report(version="1", loads=LOADS, method="Weighed.", **leaves):
    """Make a figure that rests on another, which rests on a query, a setting and a factor."""
    told = {"rows": "171 rows", "setting": "0.9", "factor": "0.5 (0.4 to 0.6)"} | leaves
    made = FigureRegister("Town", "2025-26", version, loads)
    inputs = (
        Input("query", "followup_answers", told["rows"]),
        Input("program", "landfill.landfilled_share_of_residual_waste", told["setting"]),
        Input("factor", "doc_f", told["factor"]),
        Input("figure", "kept_t"),
    )
    made.add(Figure("fed_t", "Fed", 3.0, 2.0, 4.0, "t", "Counted.", inputs))
    over = (Input("figure", "fed_t"),)
    made.add(Figure("kept_t", "Kept out", 2.0, 1.0, 3.0, "t", method, over))
    return made


@pytest.mark.parametrize(
    ("now", "reason"),
    [
        (report(), NONE),
        (report(loads=(*LOADS, "L2 b.csv (2025-08-01)")), "data: files loaded since"),
        (report(loads=()), "data: files undone since"),
        (report(rows="180 rows"), "data: other rows of followup answers"),
        (
            report(setting="0.8"),
            "method: another setting of landfill.landfilled_share_of_residual_waste",
        ),
        (report(factor="0.7"), "factor: another value or source of doc_f"),
        (report(version="2"), "method: version 2, was 1"),
        (report(method="Modelled."), "method: reckoned in another way"),
    ],
)
def test_each_reason_is_found_alone(now, reason):
    assert restatement_reasons(now, report(), "kept_t") == reason


def test_all_reasons_are_named_data_first():
    now = report(version="2", rows="180 rows", factor="0.7", loads=(*LOADS, "L2"))
    reasons = restatement_reasons(now, report(), "kept_t").split("; ")
    assert [one.partition(":")[0] for one in reasons] == ["data", "data", "factor", "method"]


def test_other_counts_in_the_words_of_a_method_are_no_other_method():
    now, then = report(method="From 1,234 answers."), report(method="From 987 answers.")
    assert restatement_reasons(now, then, "kept_t") == NONE


@pytest.mark.parametrize("rows", ["fewer than 10 rows", ""])
def test_a_count_that_is_not_told_is_no_reason_and_is_not_told_by_it(rows):
    assert restatement_reasons(report(rows=rows), report(rows="180 rows"), "kept_t") == NONE


def test_an_input_that_is_new_is_a_reason():
    then = report()
    fed = then["fed_t"]
    then._figures["fed_t"] = dataclasses.replace(fed, inputs=fed.inputs[:2])
    assert restatement_reasons(report(), then, "fed_t") == (
        "factor: another value or source of doc_f"
    )


def test_reports_in_two_languages_differ_by_rows_and_not_by_words():
    french = {"method": "Pesé.", "factor": "0.5 (0.4 à 0.6)"}
    same, other = (
        dataclasses.replace(report(rows=rows, **french), language="fr")
        for rows in ("171 lignes", "180 lignes")
    )
    assert restatement_reasons(same, report(), "kept_t") == NONE
    told = restatement_reasons(other, report(), "kept_t")
    assert told == "data: other rows of followup answers"


def test_a_setting_that_is_a_list_tells_every_item_that_a_figure_rests_on():
    register = FigureRegister("Town", "2025-26", "1")
    for rate in ("0.03", "0.07"):
        for name in ("benefits", "costs"):
            inputs = (Input("program", "money.discount_rates", rate), Input("query", "costs"))
            register.put(f"{name}[{rate}]", "", 1.0, "GBP", "", inputs)
    figures = ["benefits[0.03]", "costs[0.03]", "benefits[0.07]", "costs[0.07]"]
    assert register.uses("program") == {"money.discount_rates": ("0.03; 0.07", figures)}
