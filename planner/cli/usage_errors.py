"""What is wrong with a command as it was typed, said in the council's language.

The command-line library and the one that reads values write their own English; each of their
sentences has a pattern here, and a key by which it is said in every language.
"""

from __future__ import annotations

import re
import sys
from typing import IO, TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

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
    typer.echo(_said(error.format_message(), words), file=out)


def _said(text: str, words: Mapping[str, str]) -> str:
    for patterns in (_SENTENCES, _REASONS):
        for key, pattern in patterns.items():
            found = re.fullmatch(pattern, text, re.DOTALL)
            if found:
                return _filled(key, found.groupdict(), words)
    return text


def _filled(key: str, found: dict[str, str | None], words: Mapping[str, str]) -> str:
    parts = {name: part for name, part in found.items() if part}
    if "why" in parts:
        parts["why"] = _said(parts["why"], words)
    near = f" {words['usage.error.near'].format(**parts)}" if "near" in parts else ""
    return f"{words[f'usage.error.{key}'].format(**parts)}{near}"
