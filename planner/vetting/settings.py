"""TOML of the officer, bounded before it is parsed and looked through after."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from planner.cells import code_points, not_in_a_file
from planner.messages import say

BYTES_MOST = 256 * 1024
"""The sample towns' program files hold 10 KiB; a map of a thousand own words, 60."""

DEPTH_MOST = 32
"""Tables within tables; a program file nests three deep."""

_WHOLE_MOST = 2**63
"""TOML 1.0.0, Integer: from -2^63 to 2^63 - 1; what is beyond must be an error."""

_PART = r"""(?:"[^"\n]*"|'[^'\n]*'|(?<![\w-])[\w-]+)"""
# the parser takes time by the square of the parts of one key
_LONG_KEY = re.compile(rf"(?:{_PART}[ \t]*\.[ \t]*){{{DEPTH_MOST}}}")


class UnsoundSettingsError(ValueError):
    """What no program file holds; the text says what was found and what to write."""


def read_settings(text: str) -> dict[str, Any]:
    r"""Parse TOML whose every value a program can hold and print.

    Raises
    ------
    TOMLDecodeError
        It is no TOML.
    UnsoundSettingsError
        It is too long, nests too deep, or holds a number or sign that nothing can hold.

    Examples
    --------
    >>> read_settings("a = 1")
    {'a': 1}
    >>> read_settings("a = '" + "\ufffe" + "'")
    Traceback (most recent call last):
    planner.vetting.settings.UnsoundSettingsError: a: found the character U+FFFE, which ...
    """
    if len(text) > BYTES_MOST:
        raise UnsoundSettingsError(say("setting.file.long", kib=BYTES_MOST // 1024))
    if _LONG_KEY.search(text):
        raise UnsoundSettingsError(_deep())
    try:
        content = tomllib.loads(text)
    except RecursionError:
        raise UnsoundSettingsError(_deep()) from None
    except tomllib.TOMLDecodeError:
        raise
    except ValueError:
        raise UnsoundSettingsError(say("setting.file.digits")) from None
    _check(content)
    return content


def _deep() -> str:
    return say("setting.file.deep", most=DEPTH_MOST)


def _check(content: dict[str, Any]) -> None:
    waiting: list[tuple[str, object, int]] = [("", content, 0)]
    while waiting:
        place, value, depth = waiting.pop()
        if depth > DEPTH_MOST:
            raise UnsoundSettingsError(_deep())
        inner: list[tuple[str, object]] = []
        if isinstance(value, dict):
            inner = [(f"{place}.{key}" if place else key, one) for key, one in value.items()]
        elif isinstance(value, list):
            inner = [(place, one) for one in value]
        else:
            _check_value(place, value)
        for name, one in inner:
            _check_text(name, name)
            waiting.append((name, one, depth + 1))


def _check_value(place: str, value: object) -> None:
    if isinstance(value, int) and not -_WHOLE_MOST <= value < _WHOLE_MOST:
        raise UnsoundSettingsError(say("setting.file.big_number", place=place))
    if isinstance(value, str):
        _check_text(place, value)


def _check_text(place: str, text: str) -> None:
    if not_in_a_file(text):
        raise UnsoundSettingsError(say("setting.file.sign", place=place, sign=code_points(text)))
