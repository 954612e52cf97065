"""What households had trouble with, and what it is counted by."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.field.problem_words import ADVICE
from planner.report.document.model import Section
from planner.report.document.saying import text
from planner.report.document.tables import parts_table
from planner.report.figures.problems import BY, TOLD

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement


def problems(contents: Contents) -> Iterator[Section]:
    """Say which problems were told in the year; nothing where none was."""
    told = contents.figures("problems_told")
    if not told:
        return
    rows = {part: _in_words(part, contents) for part in _ordered(told, contents)}
    hidden = len(told) - len(rows)
    note = f"{hidden} further groups have too few households to be shown." if hidden else ""
    blocks: list[Block] = [text(*_whole(contents), TOLD)]
    if rows:
        caption = "Problems that households told of"
        blocks.append(parts_table(contents, "problems", caption, "Counted by", rows, note=note))
    yield Section("problems", "Problems with the bins", tuple(blocks))


def _whole(contents: Contents) -> Iterator[Statement]:
    if contents.saying.knows("problems_told"):
        yield contents.saying.say("Households told of {problems_told:amount}.")


def _ordered(told: Mapping[str, object], contents: Contents) -> list[str]:
    """Parts that are shown: by what they are counted by, the most frequent first."""
    order = list(BY)
    shown = [part for part in told if contents.register[f"problems_told[{part}]"].value is not None]

    def place(part: str) -> tuple[int, float]:
        grouping = part.partition(": ")[0]
        value = contents.register[f"problems_told[{part}]"].value or 0.0
        return (order.index(grouping) if grouping in order else len(order), -value)

    return sorted(shown, key=place)


def _in_words(part: str, contents: Contents) -> str:
    grouping, _, name = part.partition(": ")
    models = {one.model_id: one.model_name for one in contents.program.bin_models}
    words = {
        "problem": {code: one.words for code, one in ADVICE.items()},
        "area": contents.area_names,
        "model": models,
    }.get(grouping, {})
    return f"{BY.get(grouping, grouping)}: {words.get(name, name)}"
