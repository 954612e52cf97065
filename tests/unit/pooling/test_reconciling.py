"""Councils that cannot be added up are named, each with what it must do."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import PoolError
from planner.pooling.pool import PoolRequest, check_comparable, pool, with_one_money
from tests.unit.pooling.councils import export

TWO = [export("Aldermoor (invented)"), export("Brackwater (invented)")]


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"edition": "ipcc_2019"}, "Cinder Vale: found ipcc_2019.*--edition ipcc_2006"),
        ({"gwp_set": "ar6"}, "Cinder Vale: found ar6.*--gwp-set ar5"),
        ({"from_date": "2026-01-01"}, "Cinder Vale: found 2026-01 on.*--any-year"),
        ({"is_running": True}, "Cinder Vale: the year still runs"),
        (
            {"factors": {"methane_gwp100//ar5": [25.0, 25.0, 25.0]}},
            "Cinder Vale: published factors differ.*methane_gwp100",
        ),
    ],
)
def test_the_council_that_differs_is_named_with_its_mend(changed, said):
    with pytest.raises(PoolError, match=said):
        check_comparable([*TWO, export("Cinder Vale", **changed)])


def test_every_difference_is_named_at_once():
    odd = export("Cinder Vale", edition="ipcc_2019", gwp_set="ar6", is_running=True)
    with pytest.raises(PoolError) as refused:
        check_comparable([*TWO, odd])
    assert str(refused.value).count("Cinder Vale") == 3


def test_a_council_counts_once():
    with pytest.raises(PoolError, match="found 2 exports"):
        check_comparable([*TWO, TWO[0]])
    with pytest.raises(PoolError, match="more than one year"):
        check_comparable([*TWO, export(reporting_year="2024-25")], any_year=True)


def test_years_and_running_ones_pass_when_asked_and_only_then():
    three = [*TWO, export("Cinder Vale", from_date="2026-01-01", is_running=True)]
    check_comparable(three, any_year=True)
    with pytest.raises(PoolError, match="Cinder Vale"):
        check_comparable(three)


def test_money_needs_a_rate_and_tonnes_do_not():
    mixed = [*TWO, export("Cinder Vale", currency="EUR")]
    with pytest.raises(PoolError, match="--currency AUD --rate EUR=RATE"):
        with_one_money(mixed, "", {})
    converted = with_one_money(mixed, "AUD", {"EUR": 1.5})
    before, after = mixed[2].totals, converted[2].totals
    assert after["program_cost"] == pytest.approx(1.5 * before["program_cost"])
    assert np.array_equal(after["fed_t"], before["fed_t"])
    assert converted[0] is mixed[0]


def test_a_currency_that_is_none_is_named():
    with pytest.raises(PoolError, match="XXZ: found no such currency"):
        with_one_money(TWO, "XXZ", {})


def test_nothing_to_pool_is_said():
    with pytest.raises(PoolError, match="Found no export"):
        pool([], PoolRequest("Nobody"))


def test_factors_of_one_value_and_other_limits_are_other_factors():
    wider = export("Cinder Vale", factors={"methane_gwp100//ar5": [28.0, 20.0, 36.0]})
    with pytest.raises(PoolError, match="methane_gwp100"):
        check_comparable([*TWO, wider])


def test_the_years_of_a_pool_are_named_by_the_usual_one():
    years = ("2024-25", "2024-25", "2025-26")
    three = [export(f"Council {n}", reporting_year=year) for n, year in enumerate(years)]
    pooled = pool(three, PoolRequest("State", any_year=True))
    assert pooled.label == "2024-25"
