"""Commands whose help is said in the council's language, and errors as exit code 2.

The help of an option is found by its command and its name; no command writes it out.
"""

from __future__ import annotations

import os
import re
import sys
import tomllib
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

import typer
from typer.core import TyperCommand, TyperGroup

from planner.cli.options import print_note
from planner.errors import LostCountError, PlannerError
from planner.messages import FIRST_LANGUAGE, in_words, languages, officer_messages, subject_words
from planner.paths import PROGRAM_FILE
from planner.starting import sample_towns

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping


NEEDS_MENDING, OUR_FAULT = 2, 1
OF_ENVIRONMENT = ("LC_ALL", "LC_MESSAGES", "LANG")
HEADINGS = (
    *("usage", "options", "arguments", "commands", "help", "default", "required"),
    *("any_options", "any_command"),
)
"""What the command-line library says itself, by the last part of their keys."""


class _Spoken:
    """What commands and groups share: their help is said when it is shown."""

    def get_help(self, ctx: Any) -> str:  # noqa: ANN401 - typer's own, undeclared types
        """Say the help; that of a group has a line for each command."""
        with _said(self) as words:
            return _headed(super().get_help(ctx), words)  # type: ignore[misc]

    def get_usage(self, ctx: Any) -> str:  # noqa: ANN401
        """Say how the command is written."""
        return _headed(super().get_usage(ctx), _words())  # type: ignore[misc]

    def collect_usage_pieces(self, ctx: Any) -> list[str]:  # noqa: ANN401
        """Name what is to be written, what must be without brackets of its own."""
        pieces: list[str] = super().collect_usage_pieces(ctx)  # type: ignore[misc]
        return [piece.replace("{", "").replace("}", "") for piece in pieces]

    def shell_complete(self, ctx: Any, incomplete: str) -> list[Any]:  # noqa: ANN401
        """Name options or commands with their help, for shells that show it."""
        with _said(self):
            return super().shell_complete(ctx, incomplete)  # type: ignore[misc,no-any-return]


class SpokenCommand(_Spoken, TyperCommand):
    """Command of which the help is said when it is shown."""


class PlannerGroup(_Spoken, TyperGroup):
    """Group of commands that tells PlannerError without a traceback."""

    def make_context(self, *asked: Any, **named: Any) -> Any:  # noqa: ANN401
        """Read the options of the group."""
        return saying(_words, lambda: super(PlannerGroup, self).make_context(*asked, **named))

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401
        """Run the command that was named."""
        try:
            return saying(_words, lambda: super(PlannerGroup, self).invoke(ctx))
        except PlannerError as error:
            print_note(in_words(error.said, officer_messages()))
            is_ours = isinstance(error, LostCountError)
            raise typer.Exit(OUR_FAULT if is_ours else NEEDS_MENDING) from error


def _words() -> Mapping[str, str]:
    return subject_words(help_language(), "usage")


def help_language() -> str:
    """Find the language of help: that of the program folder, else that of the environment.

    The folder's file is only looked into, as help must be there at once.
    """
    place = next((two for one, two in zip(sys.argv, sys.argv[1:], strict=False)
                  if one == "--program"), "")  # fmt: skip
    try:
        text = (Path(place) / PROGRAM_FILE).read_text(encoding="utf-8")
        locale = str(tomllib.loads(text)["council"]["country_locale"])
    except (OSError, ValueError, KeyError, TypeError):
        locale = next((os.environ[one] for one in OF_ENVIRONMENT if os.environ.get(one)), "")
    language = locale.partition("_")[0]
    return language if language in languages() else FIRST_LANGUAGE


@contextmanager
def _said(command: Any) -> Iterator[Mapping[str, str]]:  # noqa: ANN401
    """Put words in place of the keys of a command, its options and commands, for a while."""
    words = _words()
    filled = {"towns": ", ".join(sample_towns())}
    told = [command, *command.params, *getattr(command, "commands", {}).values()]
    before = [one.help for one in told]
    for one in told:
        # the library's own options, too, go by their names
        keys = (one.help, f"usage.{command.name}.{one.name}", f"usage.option.{one.name}",
                f"usage.{one.name}")  # fmt: skip
        text = next((words[key] for key in keys if key in words), one.help or "")
        one.help = text.format(**filled)
    for one in command.params:
        one.display_type_rich = partial(_value_words, one, words)
        one._get_number_range_help_str = partial(_range_words, one, words)
    try:
        yield words
    finally:
        for one, text in zip(told, before, strict=True):
            one.help = text


def _value_words(param: Any, words: Mapping[str, str], ctx: Any) -> str:  # noqa: ANN401
    """Say what an option takes, where the library would name a type of the language it is in."""
    if param.param_type_name == "argument":
        return ""
    kind = param.type_descriptor
    if param.metavar is not None or kind.is_choice:
        return str(param.metavar or param.display_type(ctx).strip("<>"))
    is_number = kind.is_ranged or kind.annotation in (int, float)
    return words["usage.number_value" if is_number else "usage.text_value"]


def _range_words(param: Any, words: Mapping[str, str]) -> str | None:  # noqa: ANN401
    """Say from where to where a number may go."""
    ends = {name: f"{end:g}" for name, end in (("least", param.min), ("most", param.max))
            if end is not None}  # fmt: skip
    keys = {("least",): "at_least", ("most",): "at_most", ("least", "most"): "between"}
    return words[f"usage.{keys[tuple(ends)]}"].format(**ends) if ends else None


def _headed(text: str, words: Mapping[str, str]) -> str:
    """Say what the command-line library writes of its own."""
    english = subject_words(FIRST_LANGUAGE, "usage")
    for name in HEADINGS:
        text = text.replace(english[f"usage.{name}"], words[f"usage.{name}"])
    return text


_SENTENCES = {
    "no_option": r"No such option: (?P<name>.+?)(?: \(Possible options: (?P<near>.+)\))?",
    "no_command": r"No such command '(?P<name>.+?)'\.(?: Did you mean (?P<near>.+)\?)?",
    "no_command_named": r"Missing command\.",
    "missing": r"Missing (?:argument|option|parameter) '?(?P<name>.+?)'?\.(?: .*)?",
    "extra": r"Got unexpected extra argument\(s\) \((?P<name>.+)\)",
    "no_value": r"Option '(?P<name>.+)' requires .*",
    "value_of": r"\w+ value for '?(?P<name>.+?)'?: (?P<why>.+)",
    "value": r"\w+ value: (?P<why>.+)",
}
_REASONS = {
    "whole_number": r"Input should be a valid integer.*|Value '.*' is not a valid int\.?",
    "number": r"Input should be a valid number.*|Value '.*' is not a valid float\.?",
    "one_of": r"(?:Value error, )?'(?P<found>.*)' is not one of (?P<choices>.+?)\.?",
    "least": r"Input should be greater than or equal to (?P<bound>.+)",
    "most": r"Input should be less than or equal to (?P<bound>.+)",
    "day": r".*?'(?P<found>[^']*)' does not match the formats?.*",
    "yes_or_no": r"Input should be a valid boolean.*",
}


_USAGE_ERROR: type[Exception] = typer.BadParameter.__mro__[1]
"""What the library raises for a command that is written wrongly; it has no public name."""


def saying(words: Callable[[], Mapping[str, str]], run: Callable[[], Any]) -> Any:  # noqa: ANN401
    """Run a part of the command line; let its usage errors show in words asked for then."""
    try:
        return run()
    except _USAGE_ERROR as error:
        wrong: Any = error
        wrong.show = lambda file=None: _show(wrong, words(), file or sys.stderr)
        raise


def _show(error: Any, words: Mapping[str, str], out: IO[str]) -> None:  # noqa: ANN401
    """Write the usage of the command, where help is, and what is wrong."""
    if error.ctx is not None:
        typer.echo(error.ctx.command.get_usage(error.ctx), file=out)
        command = f"{error.ctx.command_path} --help"
        typer.echo(f"{words['usage.error.help'].format(command=command)}\n", file=out)
    typer.echo(_in_words(error.format_message(), words), file=out)


def _in_words(text: str, words: Mapping[str, str]) -> str:
    for patterns in (_SENTENCES, _REASONS):
        for key, pattern in patterns.items():
            found = re.fullmatch(pattern, text, re.DOTALL)
            if found:
                return _filled(key, found.groupdict(), words)
    return text


def _filled(key: str, found: dict[str, str | None], words: Mapping[str, str]) -> str:
    parts = {name: part for name, part in found.items() if part}
    if "why" in parts:
        parts["why"] = _in_words(parts["why"], words)
    near = f" {words['usage.error.near'].format(**parts)}" if "near" in parts else ""
    return f"{words[f'usage.error.{key}'].format(**parts)}{near}"
