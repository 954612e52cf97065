"""Cells are read as a person would read them; what could be misread waits for a yes."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.intake.cells import country
from planner.intake.meaning import UNITS
from planner.intake.readings import currency_words, read_again

D = dt.date


def read(table, column, found, locale="fr_FR", currency="EUR", unit=None):
    """Kind and value of one text; None where nobody could read it for certain."""
    texts = pl.Series([found])
    context = SimpleNamespace(country=country(locale), currency=currency)
    again = read_again(texts, table, column, context, unit)
    return again.select("kind", "value").row(0) if again.height else None


@pytest.mark.parametrize(
    ("found", "kg"),
    [
        ("1,2 kg", 1.2),
        ("850 g", 0.85),
        ("850g", 0.85),
        ("2 lb", 0.90718474),  # 0.45359237 kg, international yard and pound agreement, 1959
        ("1 250,5 kg", 1250.5),
    ],
)
def test_a_unit_in_the_cell_is_converted(found, kg):
    assert read("weighings", "fed_kg", found) == ("unit", pytest.approx(kg))


@pytest.mark.parametrize("found", ["2-3 kg", "2 litres", "kg", "2 kg 5", "1,2,3 kg", "env. 2 kg"])
def test_ranges_other_quantities_and_guesses_are_not_read(found):
    assert read("weighings", "fed_kg", found) is None


@pytest.mark.parametrize(
    ("locale", "table", "column", "found", "value"),
    [
        ("fr_FR", "areas", "apartments_count", "4,800", 4800),
        ("en_GB", "areas", "apartments_count", "12.000", 12000),
        ("en_GB", "costs", "amount", "1.234 €", 1234.0),
        ("fr_FR", "costs", "amount", "(1,234 €)", -1234.0),
    ],
)
def test_thousands_as_another_country_writes_them_wait_for_a_yes(
    locale, table, column, found, value
):
    """4,800 flats are no 4.8, and twelve flats are not written 12.000."""
    assert read(table, column, found, locale) == ("thousands", value)


@pytest.mark.parametrize(
    ("locale", "found"),
    [("en_GB", "1er mars 2025"), ("en_GB", "1 marzo 2025"), ("fr_FR", "1. März 2025")],
)
def test_months_are_read_in_the_language_of_the_paper(locale, found):
    assert read("costs", "cost_date", found, locale) == ("month_name", D(2025, 3, 1))


@pytest.mark.parametrize(
    ("locale", "currency", "found", "amount"),
    [
        ("fr_FR", "EUR", "15 €", 15.0),
        ("fr_FR", "EUR", "1\u202f250,50 €", 1250.5),
        ("de_DE", "EUR", "EUR 1.250,50", 1250.5),
        ("es_ES", "EUR", "15 euros", 15.0),
        ("en_GB", "GBP", "£1,200.00", 1200.0),
        ("en_AU", "AUD", "$15", 15.0),
        ("en_AU", "AUD", "-$15.50", -15.5),
        ("de_CH", "CHF", "1'250.50 CHF", 1250.5),
    ],
)
def test_money_with_its_currency_is_read(locale, currency, found, amount):
    assert read("costs", "amount", found, locale, currency) == ("unit", pytest.approx(amount))


@pytest.mark.parametrize("found", ["waived", "No charge", "gratuit", "Exonéré", "gratis", "FREE"])
def test_words_for_no_charge_are_nought_under_money_alone(found):
    assert read("handovers", "copayment", found) == ("no_charge", 0.0)
    assert read("weighings", "fed_kg", found) is None


def test_money_of_another_currency_is_not_read():
    assert read("costs", "amount", "$15") is None
    assert read("costs", "amount", "15 €", "en_GB", "GBP") is None


@pytest.mark.parametrize(
    ("found", "kind", "amount"),
    [
        ("(380,55 €)", "brackets", -380.55),
        ("(380,55) €", "brackets", -380.55),
        ("(1 380)", "brackets", -1380.0),
        ("380,55-", "trailing_minus", -380.55),
        ("380.55", "decimal_sign", 380.55),
        ("1,380.55 €", "decimal_sign", 1380.55),
    ],
)
def test_signs_that_could_mean_two_things_are_doubtful(found, kind, amount):
    assert read("costs", "amount", found) == (kind, pytest.approx(amount))


def test_a_minus_within_brackets_is_not_read():
    assert read("costs", "amount", "(-380,55 €)") is None


def test_per_cent_are_shares_where_shares_are_asked():
    assert read("answers", "prior_other_share", "61 %") == ("per_cent", pytest.approx(0.61))
    assert read("weighings", "fed_kg", "61 %") is None


@pytest.mark.parametrize(
    ("locale", "found", "day"),
    [
        ("fr_FR", "1er mars 2025", D(2025, 3, 1)),
        ("fr_FR", "lundi 3 févr. 2025", D(2025, 2, 3)),
        ("fr_FR", "14-août-25", D(2025, 8, 14)),
        # CLDR: short for July in Canadian French, where French of France has "juil."
        ("fr_CA", "13 juill. 2025", D(2025, 7, 13)),
        ("es_ES", "3 de marzo de 2025", D(2025, 3, 3)),
        ("es_ES", "5 sept. 2025", D(2025, 9, 5)),
        ("de_DE", "12. März 2025", D(2025, 3, 12)),
        ("en_US", "March 4th, 2025", D(2025, 3, 4)),
        ("en_AU", "4 Mar 2025", D(2025, 3, 4)),
        ("fr_FR", "4 March 2025", D(2025, 3, 4)),
    ],
)
def test_months_are_read_by_name_in_the_language_of_the_country(locale, found, day):
    assert read("costs", "cost_date", found, locale) == ("month_name", day)


@pytest.mark.parametrize("found", ["31 février 2025", "mars 2025", "printemps 2025", "3 mars"])
def test_days_that_are_none_are_not_read(found):
    assert read("costs", "cost_date", found) is None


def test_a_spreadsheet_counts_days_from_the_end_of_1899():
    # ECMA-376 part 1, 18.17.4.1: serial 1 is 1 January 1900 in a calendar with 29 February 1900,
    # so that from March 1900 a serial counts the days after 30 December 1899
    assert read("costs", "cost_date", "45720") == ("date_serial", D(2025, 3, 4))
    assert read("costs", "cost_date", "36526.0") == ("date_serial", D(2000, 1, 1))
    assert read("costs", "cost_date", "4572") is None


@pytest.mark.parametrize(
    ("found", "kind", "value"),
    [("✓", "tick", True), ("✔️", "tick", True), ("☐", "tick", False), ("✗", "cross", False)],
)
def test_ticks_are_read_and_crosses_asked(found, kind, value):
    assert read("households", "may_contact", found) == (kind, value)


def test_the_unit_of_the_heading_holds_for_cells_without_one():
    assert read("weighings", "fed_kg", "(500)", unit=UNITS["g"]) == ("brackets", -0.5)
    assert read("weighings", "fed_kg", "1,2 kg", unit=UNITS["g"]) == ("unit", 1.2)


def test_a_currency_is_known_by_sign_code_and_name():
    assert {"€", "eur", "euro", "euros"} <= set(currency_words("EUR"))
    assert {"$", "aud", "dollars"} <= set(currency_words("AUD"))
