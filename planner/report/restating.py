"""Reasons for which the same quantity is reported differently than before."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from planner.messages import in_each_language, paper
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.figures import FigureRegister, InputKind

MOST_NAMES = 3
_NUMBER = re.compile(r"\d[\d.,]*")
KINDS: tuple[InputKind, ...] = ("query", "program", "factor")


def restatement_reasons(now: FigureRegister, then: FigureRegister, figure_id: str) -> str:
    """Say why a figure differs from what an earlier report said: data, method or factor.

    The trees of what both rest on are compared leaf by leaf: rows of queries, settings of
    the program file, published factors with value and source; then the files loaded and the
    version.

    Parameters
    ----------
    now, then
        Figures of this report and of the earlier one.

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
    say, reasons = paper(), []
    by_numbers = now.language != then.language
    if set(now.loads) - set(then.loads):
        reasons.append(say.say("reason_why.files_since"))
    if set(then.loads) - set(now.loads):
        reasons.append(say.say("reason_why.files_back"))
    leaves_now, leaves_then = _leaves(now, figure_id), _leaves(then, figure_id)
    for kind in KINDS:
        names = [
            name
            for (of_kind, name), detail in leaves_now.items()
            if of_kind == kind
            and _differs(detail, leaves_then.get((of_kind, name)), by_numbers=by_numbers)
        ]
        if names:
            plain_names = (query_words(one) if kind == "query" else one for one in names)
            named = listing(plain_names, MOST_NAMES)
            reasons.append(say.say(f"reason_why.other_{kind}", names=named))
    reasons += _of_method(now, then, figure_id)
    return "; ".join(reasons) or say.say("reason_why.none")


def query_words(name: str) -> str:
    """Name what a query counts; by its id where it has no words of its own."""
    key = f"query.{name}"
    words = paper().say(key)
    return name.replace("_", " ") if words == key else words


def _of_method(now: FigureRegister, then: FigureRegister, figure_id: str) -> Iterator[str]:
    if now.version != then.version:
        yield paper().say("reason_why.version", now=now.version, then=then.version)
        return
    methods = {_without_numbers(one[figure_id].method) for one in (now, then)}
    if now.language == then.language and len(methods) > 1:
        yield paper().say("reason_why.method")


def _without_numbers(method: str) -> str:
    """Take numbers out of a method: other counts are no other method."""
    return _NUMBER.sub("", method)


def _differs(now: str, then: str | None, *, by_numbers: bool) -> bool:
    """Whether a leaf is new or tells something else; what is not told is no difference.

    Reports in two languages tell the same rows in other words: only their digits are compared.
    """
    if then is None:
        return True
    few = tuple(one.partition("{")[0] for one in in_each_language("input.few_rows"))
    hides = any(not detail or detail.startswith(few) for detail in (now, then))
    if by_numbers:
        now, then = (re.sub(r"\D", "", one) for one in (now, then))
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
