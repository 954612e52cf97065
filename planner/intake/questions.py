"""What files leave open: questions to the officer, answers given beforehand, and both settled."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import polars as pl

from planner.errors import IntakeError
from planner.intake.cells import days_named
from planner.intake.guessing import SURE, guess_sheet
from planner.intake.meaning import folded
from planner.intake.same_sheet import parted
from planner.intake.vocabulary import (
    SHEET_SIGN,
    columns_of_every_row,
    columns_of_sheet,
    every_row_of_sheet,
    listed_tables,
)
from planner.intake.words import language, near_names, near_word, unread_words
from planner.messages import say
from planner.tables import TABLES, references

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from planner.intake.guessing import ColumnGuess, SheetGuess
    from planner.intake.rows import Context
    from planner.program.settings import Words

NOTHING = ""
"""Answer that a sheet holds no records, or a heading or word means nothing of ours."""

LONGEST_ANSWER = 60
"""Letters of a key, and of a word in the program file."""

WORDS_ASKED = 200
"""Words of one column that are asked for; a column with more of them is no column of codes."""


Kind = Literal["table", "same_sheet", "column", "word", "every_row", "every_row_of_sheet"]


@dataclass(frozen=True)
class Question:
    """What cannot be told from a file alone."""

    # whether a table, a further one on the same sheet, a column, the code for a word, what every
    # row of a table holds or which record all rows of a sheet belong to is asked for; a record
    # may be a new one
    kind: Kind
    place: str
    about: str
    within: str  # table of a heading, or of a column that the sheet lacks; column of a word
    # the likeliest answer, NOTHING where there is none; from 0 to 1
    guess: str
    likeness: float
    # answers that are understood, beside NOTHING; any number where there are none
    choices: tuple[str, ...]
    examples: tuple[str, ...]
    # folded words that are understood too, and the choice that each stands for
    meanings: Mapping[str, str] = field(default_factory=dict)

    @property
    def topic(self) -> tuple[str, str | tuple[str, ...], str]:
        """What it asks, which sheets of one layout, as one for each day, ask again and again."""
        is_of_sheet = self.kind in ("table", "same_sheet")
        return self.kind, self.examples if is_of_sheet else folded(self.about), self.within

    def understood(self, answer: str) -> str | None:
        """Give the choice that an answer stands for; None where it stands for none."""
        if answer in (NOTHING, *self.choices):
            return answer
        may_be_new = not self.choices or self.kind == "every_row_of_sheet"
        new = answer if may_be_new and len(answer) <= LONGEST_ANSWER else None
        return self.meanings.get(folded(answer), new)


@dataclass(frozen=True)
class Answers:
    """Answers given beforehand: tables by sheet, columns by heading, codes by word.

    And by a column that a sheet lacks, of one sheet as ``answers.xlsx, Spring: wave_id``, what
    all its rows hold.
    """

    tables: dict[str, str] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)
    every_row: dict[str, str] = field(default_factory=dict)

    def further_tables(self, label: str) -> list[str]:
        """List the tables that a sheet is said to hold beside its first."""
        given = {folded(about): answer for about, answer in self.tables.items()}
        return listed_tables(given.get(folded(label), NOTHING))[1:]

    def of(self, question: Question) -> str | None:
        """Look the answer to a question up; None where none was given.

        Raises
        ------
        IntakeError
            The answer is none of the choices.
        """
        tables = {"table": self.tables, "same_sheet": self.tables}
        parts = {**tables, "column": self.columns, "word": self.words}
        part = parts.get(question.kind, self.every_row)
        given = {folded(about): answer for about, answer in part.items()}
        answer = given.get(folded(question.about))
        if answer and question.kind in tables:
            answer = _table_of(answer, question)
        understood = None if answer is None else question.understood(answer)
        if understood is None and answer is not None:
            choices = ", ".join(question.choices)
            asked = {"place": question.place, "about": question.about}
            raise IntakeError(say("look.bad_answer", **asked, answer=answer, choices=choices))
        return understood


def _table_of(answer: str, question: Question) -> str | None:
    """Take the table asked for from the tables that a sheet is said to hold."""
    first, *others = listed_tables(answer) or [answer]
    if question.kind == "table":
        return first
    return (question.guess if question.within in others else NOTHING) if others else None


class Asker:
    """Settle guesses by asking, and remember what stays open; `known` grows with the sheets."""

    def __init__(
        self,
        answers: Answers,
        ask: Callable[[Question], str | None],
        context: Context,
        known: Mapping[str, pl.DataFrame],
    ) -> None:
        self.answers = answers
        self.ask = ask
        self.context = context
        self.known = known
        self.open: list[Question] = []
        self.every_row: Words = {}
        self.same_sheet: Words = {}
        self.notes: list[str] = []
        self.asked: set[str] = set()
        self.told: dict[tuple[object, ...], str] = {}

    def unasked(self) -> list[str]:
        """Say which answers nothing asked for, where questions are left: a name is misspelt."""
        parts = (self.answers.tables, self.answers.columns, self.answers.words)
        given = [about for part in (*parts, self.answers.every_row) for about in part]
        idle = [about for about in given if folded(about) not in self.asked]
        return [say("look.unasked", about=about) for about in idle if self.open]

    def answer(self, question: Question, *, is_sure: bool = False) -> str | None:
        """Answer from what was given beforehand, what is sure, or by asking; None stays open."""
        given = self.answers.of(question)
        self.asked.add(folded(question.about))
        if given is None and self.told.get(question.topic) in (NOTHING, *question.choices):
            given = self.told[question.topic]
        if given is None:
            given = question.guess if is_sure else self.ask(question)
        if given is not None:
            self.told[question.topic] = given
        elif question.kind == "table" or question.topic not in [one.topic for one in self.open]:
            self.open.append(question)
        return given

    def settled(self, guess: SheetGuess) -> list[SheetGuess]:
        """Settle the tables of a sheet, which is mostly one, and the columns of its headings."""
        headings = tuple(one.heading for one in guess.columns)
        place, label = guess.sheet.place, guess.sheet.label
        among, likely = tuple(TABLES), guess.table or NOTHING
        question = Question("table", place, label, "", likely, guess.likeness, among, headings)
        table = self.answer(question, is_sure=guess.is_sure)
        if not table:
            return [replace(guess, table=None)]
        said = self.answers.further_tables(label)
        of_table = guess_sheet(guess.sheet, self.context, self.known, table)
        first, *others = parted(of_table, self.context, self.known, said)
        there = {one.table for one in others}
        self.notes += [
            say("look.said_but_lacking", place=place, table=one) for one in said if one not in there
        ]
        others = [one for one in others if self._is_there(one, table)]
        further = [str(one.table) for one in others]
        if further and self.context.vocabulary.same_sheet.get(folded(label)) != (table, *further):
            self.same_sheet.setdefault(table, {})[label] = ", ".join(further)
        return [self._settled_columns(one) for one in (first, *others)]

    def _is_there(self, guess: SheetGuess, first: str) -> bool:
        """Settle whether a sheet holds a further table."""
        headings = tuple(one.heading for one in guess.columns)
        place, label, table = guess.sheet.place, guess.sheet.label, str(guess.table)
        both = f"{first}, {table}"
        told = place, label, table, both, guess.likeness
        question = Question("same_sheet", *told, (both,), headings)
        return bool(self.answer(question, is_sure=guess.is_sure))

    def _settled_columns(self, again: SheetGuess) -> SheetGuess:
        taken: set[str] = set()
        columns = []
        for one in sorted(again.columns, key=lambda one: (not one.is_sure, -one.likeness)):
            columns.append(self._settled_column(again, one, taken))
            taken.add(columns[-1].column or NOTHING)
        order = [one.cell for one in again.columns]
        columns.sort(key=lambda one: order.index(one.cell))
        settled = replace(again, columns=tuple(columns))
        # what a heading may still give is asked for as that heading
        waiting = {
            one.column
            for one, told in zip(again.columns, columns, strict=True)
            if told.column is None and not told.is_sure
        }
        return self._with_every_row(settled, waiting)

    def _settled_column(self, guess: SheetGuess, one: ColumnGuess, taken: set[str]) -> ColumnGuess:
        place, table = guess.sheet.place, guess.table or ""
        left = [name for name in TABLES[table].column_names() if name not in taken]
        proposed = one.column if one.column in left else None
        told = place, one.heading, table, proposed or NOTHING, one.likeness
        question = Question("column", *told, tuple(left), one.examples)
        # a column that names records may stay empty, where none are known
        may_be_empty = proposed and TABLES[table].columns()[proposed].nullable
        named = references(table).get(proposed or "") if may_be_empty else None
        there = self.known.get(named or "", pl.DataFrame())
        if named and there.is_empty() and not self.answers.of(question):
            told_of = {"place": place, "heading": one.heading, "table": named}
            self.notes.append(say("look.none_to_name", **told_of))
            return replace(one, column=None, is_sure=True)
        is_sure = one.is_sure and (one.column is None or one.column in left)
        column = self.answer(question, is_sure=is_sure)
        return replace(one, column=column or None, is_sure=column is not None)

    def settled_words(self, guesses: list[SheetGuess]) -> Words:
        """Settle what words of coded columns stand for, each word once."""
        found: Words = {}
        for guess in guesses:
            for one in guess.columns if guess.table else ():
                if one.column is not None:
                    self._settle_words_of(guess, one, found)
        return found

    def _with_every_row(self, guess: SheetGuess, waiting: set[str | None]) -> SheetGuess:
        """Settle what every row holds of needed columns that no heading of a sheet gives."""
        table, sheet = guess.table or "", guess.sheet.address
        settled = self.every_row.setdefault(table, {})
        held = {
            **self.context.vocabulary.every_row_of(table, sheet),
            **every_row_of_sheet(settled, sheet),
        }
        # a file of the same name, a year later, may hold another round
        given = {folded(about) for about in self.answers.every_row}
        again = {name for name in held if folded(f"{sheet}{SHEET_SIGN} {name}") in given}
        lacking = [name for name in guess.lacking() if name not in {*held, *waiting} - again]
        for column in lacking:
            question, is_sure = self._of_all_rows(guess, column, settled)
            answer = self.answer(question, is_sure=is_sure) if question else None
            if question and answer:
                held[column] = settled[question.about] = answer
                told = {"place": guess.sheet.place, "column": column, "value": answer}
                self.notes += [say("rows.every_row", **told)] if is_sure else []
        return replace(guess, held=held)

    def _settle_words_of(self, guess: SheetGuess, one: ColumnGuess, found: Words) -> None:
        table, column = guess.table or "", one.column or ""
        below = guess.records()[one.cell]
        meanings = language(table, column, self.context, self.known)
        settled = found.setdefault(column, {})
        unread = unread_words(table, column, below, self.context, self.known)
        asked = {folded(word) for word in settled}
        for word, count in unread.head(WORDS_ASKED).iter_rows():
            if folded(word) in asked or unread.height > WORDS_ASKED:
                continue
            asked.add(folded(word))
            guessed, likeness = near_word(word, meanings)
            told = guess.sheet.place, word, column, guessed or NOTHING, likeness
            choices = tuple(dict.fromkeys(meanings.values()))
            question = Question("word", *told, choices, (say("input.rows", count),), meanings)
            if answer := self.answer(question):
                settled[word] = answer

    def _of_all_rows(
        self, guess: SheetGuess, column: str, settled: Mapping[str, str]
    ) -> tuple[Question | None, bool]:
        """Word the question for what all rows hold; tell whether its guess is sure."""
        table = guess.table or ""
        if column in columns_of_every_row(table):
            return self._of_every_row(guess, column), False
        if column not in columns_of_sheet(table):
            return None, False
        if column in references(table):
            return self._of_sheet(guess, column, settled), False
        days, is_sure = days_named(guess.sheet.label, self.context.country, self.context.years)
        choices = tuple(str(day) for day in days)
        about = f"{guess.sheet.address}{SHEET_SIGN} {column}"
        told = about, "day", choices[0] if is_sure else NOTHING, 0.0
        question = Question("every_row_of_sheet", guess.sheet.place, *told, choices, ())
        return (question if days else None), is_sure

    def _of_every_row(self, guess: SheetGuess, column: str) -> Question:
        table, place = guess.table or "", guess.sheet.place
        meanings = language(table, column, self.context, {}, least_letters=1)
        choices = tuple(dict.fromkeys(meanings.values()))
        guessed = choices[0] if len(choices) == 1 else NOTHING
        return Question("every_row", place, column, table, guessed, 0.0, choices, (), meanings)

    def _of_sheet(self, guess: SheetGuess, column: str, settled: Mapping[str, str]) -> Question:
        """Ask for the round, area or supplier of all rows of a sheet.

        A record that is known and like the sheet's name is proposed, else a new one of that name.
        """
        table, label = guess.table or "", guess.sheet.label
        meanings = language(table, column, self.context, self.known)
        # autumn 2025 is like autumn 2026, and another round
        near = near_names(pl.Series([label]), meanings).get(label)
        begun = [value for key, value in settled.items() if key.endswith(f"{SHEET_SIGN} {column}")]
        meanings = {**{folded(value): value for value in begun}, **meanings}
        about = f"{guess.sheet.address}{SHEET_SIGN} {column}"
        told = (
            about,
            references(table)[column],
            near or label[:LONGEST_ANSWER],
            SURE if near else 0.0,
        )
        choices = tuple(dict.fromkeys(meanings.values()))
        return Question("every_row_of_sheet", guess.sheet.place, *told, choices, (), meanings)
