"""Settings of two program files side by side: what differs, by name."""

from __future__ import annotations

from typing import Any

from planner.vetting.settings import read_settings

ABSENT = "not set"


def changed_settings(before: str, after: str) -> list[str]:
    r"""Name each setting that differs between two texts of a program file.

    Parameters
    ----------
    before, after
        What program.toml held, and what it holds now. A text that is no TOML names nothing.

    Examples
    --------
    >>> changed_settings("[council]\nname = 'A'\n", "[council]\nname = 'B'\nyear = 1\n")
    ['council.name: "A" before, "B" now', 'council.year: not set before, 1 now']
    """
    try:
        old, new = _named(read_settings(before)), _named(read_settings(after))
    except ValueError:
        return []
    names = [*old, *(name for name in new if name not in old)]
    return [
        f"{name}: {_shown(old.get(name))} before, {_shown(new.get(name))} now"
        for name in names
        if old.get(name) != new.get(name)
    ]


def _named(value: Any, name: str = "") -> dict[str, Any]:  # noqa: ANN401 - any TOML value
    """List every setting by its full name; blocks that repeat are counted from 1."""
    if isinstance(value, dict):
        parts = value.items()
    elif isinstance(value, list) and any(isinstance(one, dict) for one in value):
        parts = {str(number): one for number, one in enumerate(value, start=1)}.items()
    else:
        return {name: value}
    found: dict[str, Any] = {}
    for part, one in parts:
        found.update(_named(one, f"{name}.{part}" if name else str(part)))
    return found


def _shown(value: Any) -> str:  # noqa: ANN401 - any TOML value
    if value is None:
        return ABSENT
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)
