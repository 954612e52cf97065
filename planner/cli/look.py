"""planner look: find out what files of unknown make hold, and write the words down."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.options import (
    DryRun,
    File,
    Files,
    ProgramFolder,
    advise,
    command,
    print_note,
    print_table,
    show,
    show_notes,
    start_table,
)
from planner.errors import IntakeError
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    from planner.intake.guessing import ColumnGuess, SheetGuess
    from planner.intake.questions import Question
    from planner.looking import LookResult

LEFT_OVER, _LISTED = 3, 12
_LEAVE = "-"
_LIKELY = 0.4

Pairs = list[str]


def look(
    files: Files,
    program: ProgramFolder = Path(),
    *,
    sheet: Annotated[Pairs | None, typer.Option(metavar="SHEET=TABLE")] = None,
    heading: Annotated[Pairs | None, typer.Option(metavar="HEADING=COLUMN")] = None,
    word: Annotated[Pairs | None, typer.Option(metavar="WORD=CODE")] = None,
    every_row: Annotated[Pairs | None, typer.Option(metavar="COLUMN=VALUE")] = None,
    answers: File = None,
    accept: Annotated[bool, typer.Option("--accept")] = False,
    dry_run: DryRun = False,
) -> None:
    """Find out which tables and columns files hold, and write your words into program.toml.

    What is unsure is asked for. Ends with exit code 3 where questions stay open.
    """
    from planner.intake.questions import Answers
    from planner.looking import look_at_files, read_answers

    given = read_answers(answers) if answers else Answers()
    given = Answers(
        {**given.tables, **_pairs(sheet)},
        {**given.columns, **_pairs(heading)},
        {**given.words, **_pairs(word)},
        {**given.every_row, **_pairs(every_row)},
    )
    ask = _accepted if accept else asked if sys.stdin.isatty() else _left_open
    looked = look_at_files(program, files, given, ask, keep=not dry_run)
    unsettled = {one.place for one in looked.open_questions if one.kind == "table"}
    for one in looked.sheets:
        if one.table is not None or one.sheet.place not in unsettled:
            _print_sheet(one)
    _print_rest(looked, files, program, dry_run=dry_run)
    if looked.open_questions:
        raise typer.Exit(LEFT_OVER)


def _pairs(given: Pairs | None) -> dict[str, str]:
    pairs = {}
    for one in given or []:
        about, sign, answer = one.rpartition("=")
        if not sign:
            raise IntakeError(say("look.no_sign", given=one))
        pairs[about.strip()] = answer.strip()
    return pairs


def _accepted(question: Question) -> str | None:
    """Take a likely guess; what is like nothing stays open."""
    return question.guess if question.guess and question.likeness >= _LIKELY else None


def _left_open(_: Question) -> str | None:
    return None


def asked(question: Question) -> str | None:
    """Ask in the terminal until the answer is one of the choices."""
    show(f"\n{say('load.file', file=question.place, standing=_in_words(question))}")
    if question.examples:
        show(say("look.there", examples="; ".join(question.examples)))
    choices = list(question.choices)
    if question.kind == "every_row_of_sheet":
        choices.append(say("look.new_day" if question.within == "day" else "look.new_name"))
    listed = ", ".join(choices) or say("look.any_number")
    show(say("look.choices", choices=listed, none=_LEAVE))
    while True:
        answer = str(typer.prompt(say("look.answer"), default=question.guess or _LEAVE))
        if answer == _LEAVE:
            return ""
        understood = question.understood(answer)
        if understood is not None:
            return understood
        show(say("look.no_choice"))


def _in_words(question: Question) -> str:
    kind: str = question.kind
    if kind == "every_row_of_sheet":
        kind = f"{kind}.{question.within}"
    return say(f"look.ask.{kind}", about=question.about, within=question.within)


def _print_sheet(guess: SheetGuess) -> None:
    from planner.tables import MADE_KEYS

    if guess.table is None:
        show(say("look.left_out", place=guess.sheet.place))
        return
    rows = guess.sheet.cells.height - guess.row_number
    about = {"place": guess.sheet.place, "table": guess.table, "rows": say("input.rows", rows)}
    likeness = officer_messages().share(guess.likeness)
    key = "look.sheet_further" if guess.is_further else "look.sheet"
    show(say(key, **about, row=guess.row_number, likeness=likeness))
    headings = ("heading", "column", "how_sure", "example")
    table = start_table([say(f"look.{name}") for name in headings], pad_edge=True)
    completing = guess.completing()
    for one in guess.columns:
        shown = "; ".join(one.examples)
        meant = one.column or say("look.not_read" if one.is_sure else "look.open")
        if one.cell in completing and not one.column:
            meant = say("look.read_with", column=completing[one.cell][0])
        table.add_row(one.heading, meant, _how_sure(one), shown)
    print_table(table)
    if made := guess.made_key():
        show(say("look.made_key", key=made, columns=", ".join(MADE_KEYS[guess.table])))
    lacking = guess.lacking()
    if lacking:
        show(say("look.lacking", columns=", ".join(lacking), table=guess.table))
    if "household_id" in lacking:
        show(say("look.number_households"))


def _how_sure(one: ColumnGuess) -> str:
    return "" if one.column is None else officer_messages().share(one.likeness)


def _print_rest(looked: LookResult, files: list[Path], program: Path, *, dry_run: bool) -> None:
    show_notes(looked.notes, print_note)
    count = sum(len(words) for part in looked.words.values() for words in part.values())
    show(say("look.would_be_written" if dry_run else "look.written", count))
    for question in looked.open_questions:
        asked = {"place": question.place, "question": _in_words(question)}
        show(say("look.open_question", **asked, perhaps=_hint(question)))
    _print_missing(looked, dry_run=dry_run)
    if looked.open_questions:
        again = command("look", *files, program=program)
        print_note(f"{say('look.answer_next')}\n  {again} --answers FILE")
    else:
        to_load = [*([looked.missing_file] if looked.missing_file else []), *files]
        advise(say("look.load_next"), "load", *to_load, program=program)


def _hint(question: Question) -> str:
    """Say what an open question may be answered with, where the list is short."""
    from planner.intake.vocabulary import MODEL_COLUMN

    hint = say("look.perhaps", guess=question.guess) if question.guess else ""
    if not question.guess and 0 < len(question.choices) <= _LISTED:
        hint = f" {say('look.one_of', choices=', '.join(question.choices))}"
    if question.kind == "word" and question.within == MODEL_COLUMN:
        hint += f" {say('look.new_model')}"
    return hint


def _print_missing(looked: LookResult, *, dry_run: bool) -> None:
    if looked.missing_file is None:
        return
    for table, records in looked.missing.items():
        names = ", ".join(f'"{key}"' for key in records.to_series(0))
        show(say("look.missing", records.height, table=table, names=names))
    file = str(looked.missing_file)
    show(say("look.missing_would_wait" if dry_run else "look.missing_file", path=file))
