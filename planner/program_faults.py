"""Faults of a program file in the officer's words: which line or key, and what to write."""

from __future__ import annotations

import difflib
import re
from calendar import month_name
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from tomllib import TOMLDecodeError

    from pydantic import ValidationError

_LINE = re.compile(r"at line (\d+)")
_SET = re.compile(r"^\s*(?P<key>[\w.\"'-]+)\s*=\s*(?P<value>.*?)\s*(?:#.*)?$")
_CURLY = "“”„‟‘’«»"
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth")
_BLOCKS = {
    "bin_models": "bin model",
    "factors": "factor of your own",
    "funders": "funder",
    "in_kind": "in-kind work",
    "reporting_years": "reporting year",
    "scenarios": "scenario",
}
_MONTHLY = "monthly_mean_temperature_c"
_FULL = 100.0


def toml_fault(path: Path, text: str, error: TOMLDecodeError) -> str:
    """Tell why a text is not TOML: the line itself, and what to change in it.

    Parameters
    ----------
    path, text
        The program file and what it holds.
    error
        What the reader of TOML said.
    """
    lines = text.splitlines() or [""]
    position = _LINE.search(str(error))
    number = min(int(position[1]) if position else len(lines), len(lines))
    line = lines[number - 1]
    what = _what_to_change(lines, number - 1, str(error))
    return f"{path}, line {number}: cannot be read.\n  {line.strip()}\n{what}"


def _what_to_change(lines: list[str], index: int, said: str) -> str:
    line = lines[index]
    match = _SET.match(line)
    value = match["value"] if match else ""
    if any(sign in line.split("#")[0] for sign in _CURLY):
        return 'Write straight quotes, "so", not curly ones.'
    if "Cannot overwrite" in said or "Cannot declare" in said:
        return _twice(lines, index)
    if "Unclosed array" in said:
        return "A list above is opened with [ and not closed. Write ] at its end."
    if line.split("#")[0].count('"') % 2:
        return 'A quote is missing. Text stands between two of them: "so".'
    if match is None:
        return 'Expected a line as key = value, as name = "Your council".'
    return _of_value(value, match["key"])


def _twice(lines: list[str], index: int) -> str:
    key = lines[index].split("=")[0].strip()
    first = next(
        (n for n, line in enumerate(lines[:index], 1) if line.split("=")[0].strip() == key), None
    )
    where = f" It stands on line {first} already." if first else ""
    return f"{key} may stand once.{where} Take one of the two out."


def _of_value(value: str, key: str) -> str:
    if not value:
        return f"Write what {key} is after the = sign, or take the line out."
    percent = re.fullmatch(r"\"?(\d+(?:[.,]\d+)?)\s*%\"?", value)
    if percent:
        share = float(percent[1].replace(",", ".")) / _FULL
        return f"Write a share: {value} is {share:g}."
    number = re.fullmatch(r"[^\w\s.+-]*\s*(\d[\d\s.,'’]*?)\s*(?:[^\W\d]{1,4}|[£€$])?", value)
    if number:
        return f"Write the number alone, with a point and no other sign: {_plain(number[1])}."
    return 'Text stands in "quotes", numbers without; each key stands once.'


def _plain(number: str) -> str:
    """Write a number as TOML does; three digits after each comma are thousands.

    Examples
    --------
    >>> _plain("130,75"), _plain("50,000"), _plain("1.200,5"), _plain("1,200.00")
    ('130.75', '50000', '1200.5', '1200.00')
    """
    number = re.sub(r"[\s'’]", "", number).rstrip(".,")
    last = max(number.rfind("."), number.rfind(","))
    if last < 0:
        return number.lstrip("0") or "0"
    whole, fraction = re.sub(r"[.,]", "", number[:last]), number[last + 1 :]
    mixed = "." in number and "," in number
    thousands = re.fullmatch(r"\d{1,3}(,\d{3})+", number) and not mixed
    return whole + fraction if thousands else f"{whole}.{fraction}"


def model_faults(
    path: Path, error: ValidationError, model: type[BaseModel], content: Mapping[str, object]
) -> str:
    """List every key that needs fixing, with what was found and what is allowed."""
    found = [dict(case) for case in error.errors(include_url=False)]
    lost = _lost_blocks(found, model, content)
    cases = [
        _case(case, model, lost)
        for case in found
        if not _is_echo(case, found) and not _is_lost(case, lost)
    ]
    count = f"{len(cases)} keys need" if len(cases) > 1 else "1 key needs"
    return "\n".join([f"{path}: {count} fixing.", *(f"  {case}" for case in cases)])


def _is_echo(case: dict[str, Any], found: list[dict[str, Any]]) -> bool:
    """Tell whether a list counts as too short only because a block inside it fails."""
    place = case["loc"]
    inside = [other["loc"] for other in found if len(other["loc"]) > len(place)]
    return case["type"] == "too_short" and any(loc[: len(place)] == place for loc in inside)


def _lost_blocks(
    found: list[dict[str, Any]], model: type[BaseModel], content: Mapping[str, object]
) -> dict[str, str]:
    """Name, for keys that stand in the wrong block, the block whose line is not there."""
    lost: dict[str, str] = {}
    for case in found:
        if case["type"] != "extra_forbidden":
            continue
        for block in model.model_fields:
            inside = _block_of(model, block)
            if block not in content and inside and case["loc"][-1] in inside.model_fields:
                lost[str(case["loc"][-1])] = block
    return lost


def _is_lost(case: dict[str, Any], lost: dict[str, str]) -> bool:
    return case["type"] == "missing" and case["loc"][-1] in lost.values()


def _case(case: dict[str, Any], model: type[BaseModel], lost: dict[str, str]) -> str:
    place = place_in_words(case["loc"])
    found = case["input"]
    kind = case["type"]
    context = case.get("ctx", {})
    if kind == "missing":
        return f"{place}: not there. Add it; the program file of `planner new` explains it."
    if kind == "extra_forbidden":
        name = str(case["loc"][-1])
        if name in lost:
            return f"{name}: belongs under [{lost[name]}]. Write that line above it."
        return f"{place}: no such key.{_nearest(case['loc'], model)}"
    if kind == "value_error":
        return f"{place}: {context['error']}".lstrip(": ") + _found(found)
    wanted = _ALLOWED[kind].format(*context.values()) if kind in _ALLOWED else case["msg"]
    wanted = _both_limits(case, model) or wanted
    return f"{place}: found {_show(found)}, expected {wanted}.{_hint(case)}"


def _both_limits(case: dict[str, Any], model: type[BaseModel]) -> str:
    """Say from where to where a number may go, where both ends are set."""
    if case["type"] not in ("greater_than_equal", "less_than_equal"):
        return ""
    block: Any = model
    for part in case["loc"][:-1]:
        if isinstance(part, str):
            block = _block_of(block, part)
    name = case["loc"][-1]
    if block is None or name not in block.model_fields:
        return ""
    limits = block.model_fields[name].metadata
    low = next((limit.ge for limit in limits if getattr(limit, "ge", None) is not None), None)
    high = next((limit.le for limit in limits if getattr(limit, "le", None) is not None), None)
    return "" if low is None or high is None else f"a number from {low:,g} to {high:,g}"


def _hint(case: dict[str, Any]) -> str:
    found = case["input"]
    if case["type"] == "literal_error" and isinstance(found, str):
        allowed = re.findall(r"'([^']*)'", str(case["ctx"]["expected"]))
        return _did_you_mean(re.sub(r"[\s-]+", "_", found.strip().lower()), allowed)
    limit = case.get("ctx", {}).get("le")
    is_share = limit == 1 and isinstance(found, int | float) and 1 < found <= _FULL
    return f" {found:g} per cent is {found / _FULL:g}." if is_share else ""


def _did_you_mean(name: str, allowed: list[str]) -> str:
    near = difflib.get_close_matches(name, allowed, n=1, cutoff=0.5)
    return f" Did you mean {near[0]}?" if near else ""


def _found(found: object) -> str:
    return "." if isinstance(found, dict | BaseModel) else f", found {_show(found)}."


def _show(found: object) -> str:
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, str):
        return f'"{found}"'
    if isinstance(found, list | tuple):
        return f"a list of {len(found)}"
    return "a table" if isinstance(found, dict) else str(found)


_ALLOWED = {
    "literal_error": "{}",
    "greater_than_equal": "a number of at least {}",
    "greater_than": "a number above {}",
    "less_than_equal": "a number of at most {}",
    "less_than": "a number below {}",
    "float_type": "a number, without quotes",
    "int_type": "a whole number, without quotes",
    "int_from_float": "a whole number",
    "string_type": 'text in "quotes"',
    "bool_type": "true or false",
    "finite_number": "a finite number",
    "tuple_type": "a list in [brackets]",
    "too_short": "a list of at least {1}",
    "model_type": "a block of keys",
    "dict_type": "a block of keys",
    "string_too_short": "text of at least {} characters",
    "string_too_long": "text of at most {} characters",
}


def place_in_words(loc: tuple[int | str, ...]) -> str:
    """Name a key by its path, a block of several by its place among them.

    Examples
    --------
    >>> place_in_words(("bin_models", 0, "trays_count"))
    'first bin model, trays_count'
    >>> place_in_words(("climate", "monthly_mean_temperature_c", 1))
    'climate.monthly_mean_temperature_c, February'
    """
    place = ""
    for before, part in zip((None, *loc), loc, strict=False):
        if isinstance(part, str):
            joint = ", " if isinstance(before, int) else "."
            place += f"{joint}{part}" if place else part
        elif before in _BLOCKS:
            place = f"{_nth(part)} {_BLOCKS[str(before)]}"
        elif before == _MONTHLY and part < len(month_name) - 1:
            place += f", {month_name[part + 1]}"
        else:
            place += f", {_nth(part)} line"
    return place


def _nth(index: int) -> str:
    return _ORDINALS[index] if index < len(_ORDINALS) else f"{index + 1}th"


def _block_of(model: Any, name: str) -> Any:  # noqa: ANN401 - pydantic's own annotations
    """Find the model of a block, or of each block of a list; None for a plain key."""
    field = getattr(model, "model_fields", {}).get(name)
    if field is None:
        return None
    annotation = field.annotation
    for inside in (annotation, *getattr(annotation, "__args__", ())):
        if isinstance(inside, type) and issubclass(inside, BaseModel):
            return inside
    return None


def _nearest(loc: tuple[int | str, ...], model: type[BaseModel]) -> str:
    block: Any = model
    for part in loc[:-1]:
        if isinstance(part, str):
            block = _block_of(block, part)
    keys = list(getattr(block, "model_fields", {}))
    near = difflib.get_close_matches(str(loc[-1]), keys, n=1)
    if near:
        return f" Did you mean {near[0]}?"
    return f" Keys here are {', '.join(keys)}."
