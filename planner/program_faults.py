"""Faults of a program file in the officer's words: which line or key, and what to write."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from planner.messages import did_you_mean, officer_messages, say
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from tomllib import TOMLDecodeError

    from pydantic import ValidationError

_LINE = re.compile(r"at line (\d+)")
_SET = re.compile(r"^\s*(?P<key>[\w.\"'-]+)\s*=\s*(?P<value>.*?)\s*(?:#.*)?$")
_CURLY = "“”„‟‘’«»"
_BLOCKS = ("bin_models", "factors", "funders", "in_kind", "reporting_years", "scenarios")
_MONTHLY = "monthly_mean_temperature_c"
_FULL = 100.0


def toml_fault(path: Path, text: str, error: TOMLDecodeError) -> str:
    """Tell why a text is not TOML: the line itself, and what to change in it."""
    lines = text.splitlines() or [""]
    position = _LINE.search(str(error))
    number = min(int(position[1]) if position else len(lines), len(lines))
    line = lines[number - 1]
    what = _what_to_change(lines, number - 1, str(error))
    return say("toml.cannot_read", path=str(path), number=str(number), line=line.strip(), what=what)


def _what_to_change(lines: list[str], index: int, said: str) -> str:
    line = lines[index]
    match = _SET.match(line)
    value = match["value"] if match else ""
    if any(sign in line.split("#")[0] for sign in _CURLY):
        return say("toml.straight_quotes")
    if "Cannot overwrite" in said or "Cannot declare" in said:
        return _twice(lines, index)
    if "Unclosed array" in said:
        return say("toml.open_list")
    if line.split("#")[0].count('"') % 2:
        return say("toml.quote_missing")
    if match is None:
        return say("toml.key_value")
    return _of_value(value, match["key"])


def _twice(lines: list[str], index: int) -> str:
    key = lines[index].split("=")[0].strip()
    first = next(
        (n for n, line in enumerate(lines[:index], 1) if line.split("=")[0].strip() == key), None
    )
    where = say("toml.stands_on", line=str(first)) if first else ""
    return say("toml.once", key=key, where=where)


def _of_value(value: str, key: str) -> str:
    if not value:
        return say("toml.no_value", key=key)
    percent = re.fullmatch(r"\"?(\d+(?:[.,]\d+)?)\s*%\"?", value)
    if percent:
        share = float(percent[1].replace(",", ".")) / _FULL
        return say("toml.share", value=value, share=f"{share:g}")
    number = re.fullmatch(r"[^\w\s.+-]*\s*(\d[\d\s.,'’]*?)\s*(?:[^\W\d]{1,4}|[£€$])?", value)
    if number:
        return say("toml.number", number=_plain(number[1]))
    return say("toml.text_in_quotes")


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
    found: list[dict[str, Any]] = [dict(case) for case in error.errors(include_url=False)]
    lost = _lost_blocks(found, model, content)
    cases = [
        _case(case, model, lost)
        for case in found
        if not _is_echo(case, found)
        and not (case["type"] == "missing" and case["loc"][-1] in lost.values())
    ]
    heading = say("setting.to_fix", len(cases), path=str(path))
    return "\n".join([heading, *(f"  {case}" for case in cases)])


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


def _case(case: dict[str, Any], model: type[BaseModel], lost: dict[str, str]) -> str:
    place = place_in_words(case["loc"])
    found = case["input"]
    kind = case["type"]
    context = case.get("ctx", {})
    if kind == "missing":
        return say("setting.missing", place=place)
    if kind == "extra_forbidden":
        name = str(case["loc"][-1])
        if name in lost:
            return say("setting.wrong_block", name=name, block=lost[name])
        return say("setting.no_key", place=place, hint=_nearest(case["loc"], model))
    if kind == "value_error":
        why, tail = str(context["error"]), _found(found)
        return say("setting.at", place=place, why=why, found=tail) if place else why + tail
    wanted = _both_limits(case, model) or _allowed(kind, context) or case["msg"]
    return say("setting.unfit", place=place, found=_show(found), wanted=wanted, hint=_hint(case))


def _allowed(kind: str, context: Mapping[str, object]) -> str:
    """Say what pydantic's kind of fault allows; empty where there are no words for it."""
    if kind == "literal_error":
        return str(context["expected"]).replace(" or ", say("setting.or"))
    key = f"setting.allowed.{_LIKE.get(kind, kind)}"
    limit = context.get(_LIMITS.get(kind, ""), "")
    words = say(key, limit=f"{limit}")
    return "" if words == key else words


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
    if low is None or high is None:
        return ""
    return say("setting.from_to", low=f"{low:.12g}", high=f"{high:.12g}")


def _hint(case: dict[str, Any]) -> str:
    found = case["input"]
    if case["type"] == "literal_error" and isinstance(found, str):
        allowed = re.findall(r"'([^']*)'", str(case["ctx"]["expected"]))
        near = did_you_mean(re.sub(r"[\s-]+", "_", found.strip().lower()), allowed, least=0.5)
        return f" {near}" if near else ""
    limit = case.get("ctx", {}).get("le")
    is_share = limit == 1 and isinstance(found, int | float) and 1 < found <= _FULL
    if not is_share:
        return ""
    return say("setting.per_cent", percent=f"{found:g}", share=f"{found / _FULL:g}")


def _found(found: object) -> str:
    if isinstance(found, dict | BaseModel):
        return "."
    return say("setting.found", found=_show(found))


def _show(found: object) -> str:
    if isinstance(found, bool):
        return "true" if found else "false"
    if isinstance(found, str):
        return f'"{found}"'
    if isinstance(found, list | tuple):
        return say("setting.shown.list", count=len(found))
    return say("setting.shown.table") if isinstance(found, dict) else str(found)


_LIMITS = {
    "greater_than_equal": "ge",
    "greater_than": "gt",
    "less_than_equal": "le",
    "less_than": "lt",
    "too_short": "min_length",
    "too_long": "max_length",
    "string_too_short": "min_length",
    "string_too_long": "max_length",
}
"""What pydantic calls the limit of a kind of fault."""

_LIKE = {"model_type": "block", "dict_type": "block"}
"""Kinds of faults for which the same is to be written."""


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
            block = say(f"setting.block.{before}")
            place = say("setting.place.block", nth=_nth(part), block=block)
        elif before == _MONTHLY and part < MONTHS_PER_YEAR:
            place += f", {officer_messages().month_name(part + 1)}"
        else:
            place += f", {say('setting.place.line', nth=_nth(part))}"
    return place


def _nth(index: int) -> str:
    ordinals = say("setting.ordinals").split()
    return ordinals[index] if index < len(ordinals) else say("setting.nth", number=index + 1)


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
    return did_you_mean(str(loc[-1]), keys) or say("setting.keys_here", keys=", ".join(keys))
