"""Text of program.toml: what differs between two of them, and the council's own words in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import tomlkit
from babel.numbers import get_territory_currencies

from planner.messages import languages, say
from planner.vetting.settings import read_settings

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.program.council import FirstAnswers


def changed_settings(before: str, after: str) -> list[str]:
    r"""Name each setting that differs between two texts of a program file.

    Parameters
    ----------
    before, after
        What program.toml held, and what it holds now. A text that is no TOML names nothing.

    Examples
    --------
    >>> changed_settings("[council]\nname = 'A'\n", "[council]\nname = 'B'\nyear = 1\n")
    ['council.name: "A" before, "B" now', 'council.year: not set before, 1 now']
    """
    try:
        old, new = _named(read_settings(before)), _named(read_settings(after))
    except ValueError:
        return []
    names = [*old, *(name for name in new if name not in old)]
    return [
        say("setting.changed", name=name, before=_shown(old.get(name)), now=_shown(new.get(name)))
        for name in names
        if old.get(name) != new.get(name)
    ]


def _named(value: Any, name: str = "") -> dict[str, Any]:  # noqa: ANN401 - any TOML value
    """List every setting by its full name; blocks that repeat are counted from 1."""
    if isinstance(value, dict):
        parts = value.items()
    elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
        parts = {str(number): one for number, one in enumerate(value, start=1)}.items()
    else:
        return {name: value}
    found: dict[str, Any] = {}
    for part, one in parts:
        found.update(_named(one, f"{name}.{part}" if name else str(part)))
    return found


def _shown(value: Any) -> str:  # noqa: ANN401 - any TOML value
    if value is None:
        return say("setting.not_set")
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)


def with_answers(text: str, answers: FirstAnswers) -> str:
    r"""Write first answers into the text of a program file; the rest stays to the letter.

    Examples
    --------
    >>> from planner.program import FirstAnswers
    >>> text = '[council]\ncountry_locale = "en_GB" # where\n[[reporting_years]]\n'
    >>> print(with_answers(text, FirstAnswers(country_locale="fr_FR", reporting_year="2025")))
    [council]
    country_locale = "fr_FR" # where
    currency = "EUR"
    report_language = "fr"
    reporting_year_first_month = 1
    [[reporting_years]]
    reporting_year = "2025"
    <BLANKLINE>
    """
    document = tomlkit.parse(text)
    council: Any = document["council"]
    for key, value in _said_of_council(answers).items():
        council[key] = value
    if answers.reporting_year is not None:
        years: Any = document["reporting_years"]
        years[0]["reporting_year"] = answers.reporting_year
    return tomlkit.dumps(document)


def _said_of_council(answers: FirstAnswers) -> dict[str, str | int]:
    language, _, territory = (answers.country_locale or "").replace("-", "_").partition("_")
    tenders = get_territory_currencies(territory) if territory else []
    month = answers.first_month
    if month is None and (answers.reporting_year or "").isdigit():
        month = 1
    said = {
        "name": answers.name,
        "country_locale": answers.country_locale,
        "currency": answers.currency or (tenders[0] if tenders else None),
        "report_language": language if language in languages() else None,
        "reporting_year_first_month": month,
    }
    return {key: value for key, value in said.items() if value is not None}


Words = dict[str, dict[str, str]]
"""For a table or column, the council's own words and what each stands for."""


def with_words(text: str, parts: Mapping[str, Words]) -> str:
    r"""Add words to the text of a program file; comments and order of the rest stay.

    Parameters
    ----------
    parts
        By part of the file: for each table, headings and the columns they stand for (columns),
        columns that sheets lack and what they hold in every row (every_row), sheets and what
        else they hold (same_sheet); for each column, words and their codes (synonyms).

    Examples
    --------
    >>> print(with_words("draws = 1 # few\n", {"synonyms": {"dwelling": {"loft": "apartment"}}}))
    draws = 1 # few
    <BLANKLINE>
    [synonyms.dwelling]
    loft = "apartment"
    <BLANKLINE>
    """
    document = tomlkit.parse(text)
    for part, words in parts.items():
        for name, meanings in words.items():
            if meanings:
                blocks = document.setdefault(part, tomlkit.table(is_super_table=True))
                blocks.setdefault(name, tomlkit.table()).update(meanings)
    return tomlkit.dumps(document)
