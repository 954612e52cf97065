"""Words for columns and codes: those shipped, and the council's own of program.toml."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.errors import ProgramError
from planner.intake.names import folded, near_column
from planner.tables import TABLES, codes

if TYPE_CHECKING:
    from planner.program import Program

MODEL_COLUMN = "model_id"
_SHIPPED = Path(__file__).with_name("synonyms.csv")
_FLAGS = ("yes", "no")
_WORD_SIGNS = r"[\s\-_/.]+"


@dataclass(frozen=True)
class Vocabulary:
    """What headings and cells may say instead of the names of planner.tables.

    Attributes
    ----------
    columns
        For each table, folded headings and the columns they stand for.
    synonyms
        For each coded column, folded words and the codes they stand for.
    """

    columns: dict[str, dict[str, str]]
    synonyms: dict[str, dict[str, str]]

    def columns_of(self, table: str) -> dict[str, str]:
        """Own headings of a table."""
        return self.columns.get(table, {})

    def read(self, column: str) -> pl.Expr:
        """Write a column of text with the code in place of each synonym."""
        known = self.synonyms.get(column)
        text = pl.col(column)
        if not known:
            return text
        word = text.str.to_lowercase().str.replace_all(_WORD_SIGNS, "_")
        return word.replace_strict(known, default=text, return_dtype=pl.String).alias(column)


def vocabulary(program: Program) -> Vocabulary:
    """Join the shipped synonyms with the program's own words, which come first.

    Raises
    ------
    ProgramError
        A table, column or code that the program file names is not there.
    """
    faults = [*_column_faults(program), *_synonym_faults(program)]
    if faults:
        count = f"{len(faults)} words need" if len(faults) > 1 else "1 word needs"
        raise ProgramError("\n".join([f"program.toml: {count} mending.", *faults]))
    synonyms = {column: dict(words) for column, words in _shipped().items()}
    for column, words in program.synonyms.items():
        own = {folded_word(word): code for word, code in words.items()}
        synonyms[column] = {**synonyms.get(column, {}), **own}
    columns = {
        table: {folded(heading): column for heading, column in own.items()}
        for table, own in program.columns.items()
    }
    return Vocabulary(columns, synonyms)


def folded_word(word: str) -> str:
    """Write a word as synonyms are looked up.

    Examples
    --------
    >>> folded_word("Semi-detached house")
    'semi_detached_house'
    """
    return re.sub(_WORD_SIGNS, "_", word.strip().lower())


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
def _shipped() -> dict[str, dict[str, str]]:
    words: dict[str, dict[str, str]] = {}
    rows = pl.read_csv(_SHIPPED, infer_schema=False)
    for column, word, code in rows.select("column_name", "synonym", "code").iter_rows():
        words.setdefault(column, {})[folded_word(word)] = code
    return words


def _column_faults(program: Program) -> list[str]:
    faults = []
    for table, own in program.columns.items():
        if table not in TABLES:
            faults.append(f"  columns.{table}: no such table.{_near(table, list(TABLES))}")
            continue
        names = TABLES[table].column_names()
        faults += [
            f'  columns.{table}, "{heading}": found "{column}", no column of {table}.'
            f"{_near(column, names)}"
            for heading, column in own.items()
            if column not in names
        ]
    return faults


def _synonym_faults(program: Program) -> list[str]:
    coded = {**coded_columns(), MODEL_COLUMN: tuple(m.model_id for m in program.bin_models)}
    faults = []
    for column, own in program.synonyms.items():
        if column not in coded:
            faults.append(f"  synonyms.{column}: no column of codes.{_near(column, list(coded))}")
            continue
        faults += [
            f'  synonyms.{column}, "{word}": found "{code}", expected one of '
            f"{', '.join(coded[column])}.{_near_code(code, coded[column])}"
            for word, code in own.items()
            if code not in coded[column]
        ]
    return faults


def _near(name: str, known: list[str]) -> str:
    near = near_column(name, known)
    return f" Did you mean {near}?" if near else f" There are {', '.join(known)}."


def _near_code(code: str, known: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(folded_word(code), known, n=1)
    return f" Did you mean {near[0]}?" if near else ""
