"""Reasons for which the same quantity is reported differently than before."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.figures import FigureRegister, InputKind

MOST_NAMES = 3
_NUMBER = re.compile(r"\d[\d.,]*")
NO_REASON = "no difference in files, method or factors was found"

WORDS: dict[InputKind, str] = {
    "query": "data: other rows of",
    "program": "method: another setting of",
    "factor": "factor: another value or source of",
}


def restatement_reasons(now: FigureRegister, then: FigureRegister, figure_id: str) -> str:
    """Say why a figure differs from what an earlier report said: data, method or factor.

    The trees of what both rest on are compared leaf by leaf: rows of queries, settings of
    the program file, published factors with value and source; then the files loaded and the
    version.

    Parameters
    ----------
    now, then
        Figures of this report and of the earlier one.
    figure_id
        The figure as the earlier report has it.

    Examples
    --------
    >>> from planner.figures import Figure, FigureRegister, Input
    >>> def report(loads, rows):
    ...     made = FigureRegister("Town", "2025", "1", loads)
    ...     inputs = (Input("query", "followup_answers", rows),)
    ...     _ = made.add(Figure("fed_t", "Fed", 1.0, None, None, "t", "Weighed.", inputs))
    ...     return made
    >>> restatement_reasons(report(("L1", "L2"), "9 rows"), report(("L1",), "7 rows"), "fed_t")
    'data: files loaded since; data: other rows of followup answers'
    """
    reasons = []
    if set(now.loads) - set(then.loads):
        reasons.append("data: files loaded since")
    if set(then.loads) - set(now.loads):
        reasons.append("data: files taken back since")
    leaves_now, leaves_then = _leaves(now, figure_id), _leaves(then, figure_id)
    for kind, words in WORDS.items():
        names = [
            name
            for (of_kind, name), detail in leaves_now.items()
            if of_kind == kind and _differs(detail, leaves_then.get((of_kind, name)))
        ]
        if names:
            plain_names = (name.replace("_", " ") if kind == "query" else name for name in names)
            reasons.append(f"{words} {listing(plain_names, MOST_NAMES)}")
    reasons += _of_method(now, then, figure_id)
    return "; ".join(reasons) or NO_REASON


def _of_method(now: FigureRegister, then: FigureRegister, figure_id: str) -> Iterator[str]:
    if now.version != then.version:
        yield f"method: version {now.version}, was {then.version}"
    elif _without_numbers(now[figure_id].method) != _without_numbers(then[figure_id].method):
        yield "method: reckoned in another way"


def _without_numbers(method: str) -> str:
    """Take numbers out of a method: other counts are no other method."""
    return _NUMBER.sub("", method)


def _differs(now: str, then: str | None) -> bool:
    """Whether a leaf is new or tells something else; what is not told is no difference."""
    if then is None:
        return True
    hides = any(not detail or detail.startswith("fewer than") for detail in (now, then))
    return now != then and not hides


def _leaves(register: FigureRegister, figure_id: str) -> dict[tuple[str, str], str]:
    """Everything a figure rests on that is no figure itself, by kind and name."""
    leaves: dict[tuple[str, str], str] = {}
    waiting, opened = [figure_id], {figure_id}
    while waiting:
        for item in register[waiting.pop()].inputs:
            if item.kind != "figure":
                leaves.setdefault((item.kind, item.name), item.detail)
            elif item.name not in opened and item.name in register:
                opened.add(item.name)
                waiting.append(item.name)
    return leaves
