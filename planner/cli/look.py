"""planner look: find out what files of unknown make hold, and write the words down."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, print_table, say, show
from planner.errors import IntakeError

if TYPE_CHECKING:
    from planner.intake.guessing import ColumnGuess, SheetGuess
    from planner.looking import Looked, Question

LEFT_OVER = 3
_LEAVE = "-"
_LIKELY = 0.4

Pairs = list[str]


def look(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILES", help="Spreadsheets (.xlsx, .ods) or text files (.csv)."),
    ],
    program: ProgramFolder = Path(),
    *,
    sheet: Annotated[
        Pairs | None,
        typer.Option(metavar="SHEET=TABLE", help="Say which table a sheet holds; repeat for more."),
    ] = None,
    heading: Annotated[
        Pairs | None,
        typer.Option(metavar="HEADING=COLUMN", help="Say which column a heading means."),
    ] = None,
    word: Annotated[
        Pairs | None,
        typer.Option(metavar="WORD=CODE", help="Say which code a word stands for."),
    ] = None,
    answers: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Take answers from a file: [tables], [columns], [words]."
        ),
    ] = None,
    accept: Annotated[
        bool, typer.Option("--accept", help="Take every guess that is likely without asking.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Show what would be written and write nothing.")
    ] = False,
) -> None:
    """Find out which tables and columns files hold, and write your words into program.toml.

    What is unsure is asked for. Ends with exit code 3 where questions stay open.
    """
    from planner.looking import Answers, read_answers

    given = read_answers(answers) if answers else Answers()
    given = Answers(
        {**given.tables, **_pairs(sheet)},
        {**given.columns, **_pairs(heading)},
        {**given.words, **_pairs(word)},
    )
    ask = _accepted if accept else asked if sys.stdin.isatty() else _left_open
    looked = run.look(program, files, answers=given, ask=ask, dry_run=dry_run)
    for one in looked.sheets:
        _print_sheet(one)
    _print_rest(looked, files, program, dry_run=dry_run)
    if looked.open_questions:
        raise typer.Exit(LEFT_OVER)


def _pairs(given: Pairs | None) -> dict[str, str]:
    pairs = {}
    for one in given or []:
        about, sign, answer = one.rpartition("=")
        if not sign:
            message = f'"{one}": found no = in it, expected what you mean = what it is.'
            raise IntakeError(message)
        pairs[about.strip()] = answer.strip()
    return pairs


def _accepted(question: Question) -> str | None:
    """Take a likely guess; what is like nothing stays open."""
    return question.guess if question.guess and question.likeness >= _LIKELY else None


def _left_open(_: Question) -> str | None:
    return None


def asked(question: Question) -> str | None:
    """Ask in the terminal until the answer is one of the choices."""
    show(f"\n{question.place}: {_in_words(question)}")
    if question.examples:
        show(f"  there: {'; '.join(question.examples)}")
    show(f"  choices: {', '.join(question.choices)}, or {_LEAVE} for none of them")
    while True:
        answer = str(typer.prompt("  answer", default=question.guess or _LEAVE))
        if answer == _LEAVE:
            return ""
        if answer in question.choices:
            return answer
        show("  That is none of the choices.")


def _in_words(question: Question) -> str:
    if question.kind == "table":
        return f'which table does the sheet "{question.about}" hold?'
    if question.kind == "column":
        return f'which column of {question.within} does the heading "{question.about}" mean?'
    return f'what does the word "{question.about}" stand for in {question.within}?'


def _print_sheet(guess: SheetGuess) -> None:
    from rich.table import Table

    if guess.table is None:
        show(f"{guess.sheet.place}: no records of a table found, left out.")
        return
    rows = guess.sheet.cells.height - guess.row_number
    show(
        f"{guess.sheet.place}: {guess.table}, headings in row {guess.row_number}, "
        f"{rows:,} rows below, {guess.likeness:.0%} like it"
    )
    table = Table(box=None, pad_edge=True)
    for name in ("heading", "column", "how sure", "for example"):
        table.add_column(name)
    for one in guess.columns:
        shown = "; ".join(one.examples)
        meant = one.column or ("not read" if one.is_sure else "open")
        table.add_row(one.heading, meant, _how_sure(one), shown)
    print_table(table)
    lacking = guess.lacking()
    if lacking:
        show(f"  No heading found for {', '.join(lacking)}, which {guess.table} needs.")


def _how_sure(one: ColumnGuess) -> str:
    return "" if one.column is None else f"{one.likeness:.0%}"


def _print_rest(looked: Looked, files: list[Path], program: Path, *, dry_run: bool) -> None:
    for note in looked.notes:
        say(f"Note: {note}")
    parts = {"columns": looked.columns, "synonyms": looked.synonyms}
    count = sum(len(words) for part in parts.values() for words in part.values())
    done = "would be written" if dry_run else "written"
    show(f"{count} headings and words {done} into program.toml.")
    for question in looked.open_questions:
        guess = f" Perhaps {question.guess}?" if question.guess else ""
        show(f"  Open: {question.place}: {_in_words(question)}{guess}")
    if looked.open_questions:
        again = command("look", *files, program=program)
        say(
            "Next: answer in a terminal, or with --sheet, --heading and --word, or in a file:\n"
            f"  {again} --answers FILE"
        )
    else:
        say(f"Next: take the files in\n  {command('load', *files, program=program)}")
