"""Words for columns, units and codes: those shipped, and the council's own of program.toml."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.errors import ProgramError
from planner.factors import read_factors
from planner.messages import FIRST_LANGUAGE, did_you_mean, or_known, say
from planner.tables import ITEM, ITEM_KINDS, NAMES, ON_ONE_SHEET, TABLES, codes, references
from planner.tables.purchases import PRICE_BREAK_KIND

if TYPE_CHECKING:
    from planner.program import Program

from planner.intake.meaning import folded, folded_text

HINT_LIKENESS = 0.75
MODEL_COLUMN = "model_id"
_SHIPPED = Path(__file__).with_name("synonyms.csv")
_FLAGS = ("yes", "no")
_OF_EVERY_MATERIAL = "carbon_to_nitrogen_ratio"

FILLED_BY_HAND = ("areas", "waves", "suppliers")
"""Short tables whose few records an officer types in once; longer ones are a file of their own."""

SHEET_SIGN = ":"
"""Stands between a sheet and its column; no system that councils use has it in file names."""


@dataclass(frozen=True)
class Vocabulary:
    """What headings and cells may say instead of the names of planner.tables."""

    # for each table, folded headings and the columns they stand for
    columns: dict[str, dict[str, str]]
    # for each coded column, folded words and the codes they stand for
    synonyms: dict[str, dict[str, str]]
    # for each table, needed columns that sheets may lack and what all their rows hold: of every
    # sheet, or of the one named before the column, as in ``answers.xlsx, Spring: wave_id``
    every_row: dict[str, dict[str, str]] = field(default_factory=dict)
    # tables of each sheet that holds more than one, by its folded name
    same_sheet: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def columns_of(self, table: str) -> dict[str, str]:
        """Headings that the council uses for columns of a table."""
        return self.columns.get(table, {})

    def every_row_of(self, table: str, sheet: str) -> dict[str, str]:
        """Columns of a table that a sheet may lack, and what all its rows hold then."""
        return every_row_of_sheet(self.every_row.get(table, {}), sheet)

    def read(self, column: str) -> pl.Expr:
        """Write a column of text with the code in place of each synonym."""
        known = self.synonyms.get(column)
        text = pl.col(column)
        if not known:
            return text
        return (
            folded_text(text)
            .replace_strict(known, default=text, return_dtype=pl.String)
            .alias(column)
        )


def every_row_of_sheet(said: Mapping[str, str], sheet: str) -> dict[str, str]:
    """Keep what is said of all sheets of a table, and of this one, by column.

    Examples
    --------
    >>> every_row_of_sheet({"spring.csv: wave_id": "W1", "autumn.csv: wave_id": "W2"}, "Spring.csv")
    {'wave_id': 'W1'}
    """
    held = {}
    for key, value in said.items():
        named, sign, column = key.rpartition(SHEET_SIGN)
        if not sign or folded(named) == folded(sheet):
            held[column.strip()] = value
    return held


def vocabulary(program: Program) -> Vocabulary:
    """Join the shipped synonyms with the program's own words, which come first.

    Raises
    ------
    ProgramError
        A table, column or code that the program file names is not there.
    """
    faults = [*_column_faults(program), *_synonym_faults(program), *_every_row_faults(program)]
    faults += _same_sheet_faults(program)
    if faults:
        raise ProgramError("\n".join([say("vocabulary.faults", len(faults)), *faults]))
    synonyms = {column: dict(words) for column, words in _shipped().items()}
    for column, words in program.synonyms.items():
        council_words = {folded(word): code for word, code in words.items()}
        synonyms[column] = {**synonyms.get(column, {}), **council_words}
    columns = {
        table: {folded(heading): column for heading, column in headings.items()}
        for table, headings in program.columns.items()
    }
    same_sheet = {
        folded(sheet): (table, *listed_tables(others))
        for table, sheets in program.same_sheet.items()
        for sheet, others in sheets.items()
    }
    return Vocabulary(columns, synonyms, program.every_row, same_sheet)


def listed_tables(text: str) -> list[str]:
    """Take the tables that a text lists.

    Examples
    --------
    >>> listed_tables("contacts, registrations")
    ['contacts', 'registrations']
    """
    return [part.strip() for part in text.split(",") if part.strip()]


@lru_cache(maxsize=1)
def coded_columns() -> dict[str, tuple[str, ...]]:
    """List what each column with a closed list may hold, over all tables."""
    found: dict[str, tuple[str, ...]] = {}
    for table, contract in TABLES.items():
        for name, declared in contract.columns().items():
            allowed = _FLAGS if isinstance(declared, dy.Bool) else codes(table, name)
            if allowed:
                found[name] = allowed
    return found


@lru_cache(maxsize=1)
def _shipped_rows() -> pl.DataFrame:
    return pl.read_csv(_SHIPPED, infer_schema=False)


@lru_cache(maxsize=1)
def _shipped() -> dict[str, dict[str, str]]:
    words: dict[str, dict[str, str]] = {}
    rows = _shipped_rows()
    for column, word, code in rows.select("column_name", "synonym", "code").iter_rows():
        words.setdefault(column, {})[folded(word)] = code
    return words


def words_for_codes(column: str, language: str) -> dict[str, str]:
    """Give the word of a language for each code of a column, as lists to choose from show it.

    Examples
    --------
    >>> words_for_codes("dwelling", "fr")["house"], words_for_codes("dwelling", "en")
    ('maison', {})
    """
    if language == FIRST_LANGUAGE:
        return {}
    rows = _shipped_rows().filter(pl.col("column_name") == column, pl.col("language") == language)
    return dict(rows.unique("code", keep="first").select("code", "synonym").iter_rows())


@lru_cache(maxsize=1)
def bedding_materials() -> list[str]:
    """List the bedding materials whose properties are published."""
    named = (one.applies_to for one in read_factors() if one.factor_id == _OF_EVERY_MATERIAL)
    return [name for name in dict.fromkeys(named) if name]


def _column_faults(program: Program) -> list[str]:
    faults = []
    for table, headings in program.columns.items():
        if table not in TABLES:
            near = _near(table, list(TABLES))
            faults.append(say("vocabulary.no_table", key=f"columns.{table}", near=near))
            continue
        names = TABLES[table].column_names()
        faults += [
            say(
                "vocabulary.no_column",
                key=f"columns.{table}",
                heading=heading,
                column=column,
                table=table,
                near=_near(column, names),
            )
            for heading, column in headings.items()
            if column not in names
        ]
    return faults


def columns_of_every_row(table: str) -> list[str]:
    """List the columns that may be said once for a whole sheet: needed, no key and no day.

    Examples
    --------
    >>> columns_of_every_row("areas")[-2:]
    ['kerbside_service', 'is_priority']
    """
    contract = TABLES[table]
    return [
        name
        for name, declared in contract.columns().items()
        if (not declared.nullable or name == PRICE_BREAK_KIND)
        and (
            isinstance(declared, dy.Enum | dy.Bool | dy.Int64 | dy.Float64) or name == MODEL_COLUMN
        )
        and name not in contract.primary_key()
    ]


def columns_of_sheet(table: str) -> list[str]:
    """List the columns that may be said once for one sheet: the record that all its rows name.

    One sheet a survey round, an area or a supplier needs no column for it, nor a sheet a day for
    its day. A household or an event has rows of its own on every sheet.

    Examples
    --------
    >>> columns_of_sheet("answers"), columns_of_sheet("areas")
    (['wave_id', 'answer_date'], [])
    """
    needed = {name: one for name, one in TABLES[table].columns().items() if not one.nullable}
    named = [name for name in needed if references(table).get(name) in FILLED_BY_HAND]
    days = [name for name, declared in needed.items() if isinstance(declared, dy.Date)]
    return [*named, *(days if len(days) == 1 else ())]


def _every_row_faults(program: Program) -> list[str]:
    faults = []
    for table, held in program.every_row.items():
        key = f"every_row.{table}"
        if table not in TABLES:
            faults.append(say("vocabulary.no_table", key=key, near=_near(table, list(TABLES))))
            continue
        known = columns_of_every_row(table)
        of_sheet = columns_of_sheet(table)
        shown = [*known, *(f"SHEET{SHEET_SIGN} {column}" for column in of_sheet)]
        listed = ", ".join(shown) or say("vocabulary.no_such_column")
        for each in held:
            _, sign, column = each.rpartition(SHEET_SIGN)
            if column.strip() not in (*known, *(of_sheet if sign else ())):
                named = {"key": key, "column": each, "table": table, "columns": listed}
                faults.append(say("vocabulary.no_every_row", **named))
    return faults


def _same_sheet_faults(program: Program) -> list[str]:
    named = {
        f"same_sheet.{table}": [
            table,
            *(one for text in sheets.values() for one in listed_tables(text)),
        ]
        for table, sheets in program.same_sheet.items()
    }
    return [
        say("vocabulary.no_same_sheet", key=key, table=table, tables=", ".join(ON_ONE_SHEET))
        for key, tables in named.items()
        for table in tables
        if table not in ON_ONE_SHEET
    ]


def _synonym_faults(program: Program) -> list[str]:
    models = tuple(model.model_id for model in program.bin_models)
    coded = {**coded_columns(), MODEL_COLUMN: models}
    coded[ITEM] = (*models, *program.ordering.species, *bedding_materials(), *ITEM_KINDS[1:])
    named = {name for table in TABLES for name, to in references(table).items() if to in NAMES}
    faults = []
    for column, words in program.synonyms.items():
        if column in named:  # keys are in the store, not in the program file
            continue
        if column not in coded:
            near = _near(column, list(coded))
            faults.append(say("vocabulary.no_codes", key=f"synonyms.{column}", near=near))
            continue
        faults += [
            say(
                "vocabulary.no_code",
                key=f"synonyms.{column}",
                word=word,
                code=code,
                codes=", ".join(coded[column]),
            )
            + f" {did_you_mean(folded(code), coded[column])}".rstrip()
            for word, code in words.items()
            if code not in coded[column]
        ]
    return faults


def _near(name: str, known: Iterable[str]) -> str:
    return or_known(did_you_mean(name.lower(), known, least=HINT_LIKENESS), known)
