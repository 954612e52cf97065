"""Results of the year: against targets, in figures, by month and by area."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.messages import in_english
from planner.report.disclosure import stands
from planner.report.document.model import Section, Statement
from planner.report.document.planned import planned
from planner.report.document.saying import table, text
from planner.report.document.tables import figure_table, parts_table
from planner.report.figures.aftercare import APART, BY, TOLD
from planner.report.targets import judged
from planner.report.wording import against_budget, listing
from planner.tables import PROBLEMS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Statement, Table

BY_SUPPLY = ("model", "delivery")
"""What only those need who order: a councillor has it in the appendix."""


def problems(contents: Contents) -> Iterator[Section]:
    """Say which problems were told in the year; nothing where none was."""
    told = contents.figures("problems_told")
    if not told:
        return
    rows = _rows(told, contents)
    hidden = len(told) - len(rows)
    rows = {part: words for part, words in rows.items() if _grouping(part) not in BY_SUPPLY}
    note = f"{hidden} further groups have too few households to be shown." if hidden else ""
    blocks: list[Block] = [text(*_whole(contents), TOLD)]
    if rows:
        caption = "Problems that households told of"
        blocks.append(parts_table(contents, "problems", caption, "Counted by", rows, note=note))
    yield Section("problems", "Problems with the bins", tuple(blocks))


def problems_by_supply(contents: Contents) -> tuple[Block, ...]:
    """Count problems by bin model and worm delivery, for whoever orders them."""
    rows = _rows(contents.figures("problems_told"), contents)
    rows = {part: words for part, words in rows.items() if _grouping(part) in BY_SUPPLY}
    if not rows:
        return ()
    caption = "Problems by bin model and worm delivery"
    # the same figure by other parts: the table is declared once
    made = parts_table(contents, "problems", caption, "Counted by", rows)
    return (replace(made, key="problems_by_supply"),)


def _rows(told: Mapping[str, object], contents: Contents) -> dict[str, str]:
    return {part: _in_words(part, contents) for part in _ordered(told, contents)}


def _grouping(part: str) -> str:
    return part.partition(": ")[0]


def _whole(contents: Contents) -> Iterator[Statement]:
    if contents.saying.knows("problems_told"):
        yield contents.saying.say("Households told of {problems_told:amount}.")


def _ordered(told: Mapping[str, object], contents: Contents) -> list[str]:
    """Parts that are shown: by what they are counted by, the most frequent first."""
    order = list(BY)
    shown = [part for part in told if contents.register[f"problems_told[{part}]"].value is not None]

    def place(part: str) -> tuple[int, float]:
        grouping = _grouping(part)
        value = contents.register[f"problems_told[{part}]"].value or 0.0
        return (order.index(grouping) if grouping in order else len(order), -value)

    return sorted(shown, key=place)


def _in_words(part: str, contents: Contents) -> str:
    grouping, _, name = part.partition(": ")
    models = {one.model_id: one.model_name for one in contents.program.bin_models}
    told = {code: in_english(f"problem.{code}.words") for code in PROBLEMS if code != "none"}
    words = {
        "problem": told,
        "area": contents.area_names,
        "model": models,
    }.get(grouping, {})
    return f"{BY.get(grouping, grouping)}: {words.get(name, name)}"


def sites(contents: Contents) -> Iterator[Section]:
    """Say what sites have and feed; nothing where there are none."""
    if "site_fed_t" not in contents.register:
        return
    blocks = (text(APART), figure_table(contents, "sites", "Bins that many people share"))
    yield Section("sites", "Schools, flats and cafes", blocks)


MOST_HIDDEN = 12


def results(contents: Contents) -> Section:
    """Say what the year achieved."""
    start, end = contents.months
    wording = contents.saying.wording
    blocks: list[Block] = [
        text(
            f"The reporting year runs from {wording.day(start)} to {wording.day(end)}. "
            "Each estimate has a likely range (95% interval); counts and sums of money need none.",
            *_of_means(contents),
        ),
        *_targets(contents),
        figure_table(contents, "year", "The year in figures"),
        *contents.pictures("results"),
    ]
    return Section(
        "results",
        "Results of the year",
        tuple(blocks),
        (*_forecast(contents), *planned(contents), *problems(contents), *sites(contents)),
    )


def _of_means(contents: Contents) -> Iterator[str]:
    """Say what a mean beside an interval is, where there is one."""
    if any(figure.telling_mean is not None for figure in contents.register):
        yield (
            "Where the mean of all likely values differs clearly from the estimate, it is given "
            "next to the range: it is the better number to add up."
        )


def _targets(contents: Contents) -> Iterator[Table]:
    rows = [*_target_rows(contents)]
    if rows:
        yield table(
            "targets",
            "Results against targets and budget",
            ("What", "Target", "Result", "Judgement"),
            rows,
            numbers=(1, 2),
        )


def _forecast(contents: Contents) -> tuple[Section, ...]:
    """Set the forecast of a running year apart from what is recorded."""
    if "forecast_kept_out_of_landfill_t" not in contents.register:
        return ()
    blocks: list[Block] = [
        text(
            "The year still runs. The rest of this report says what the records show so far; only "
            "this part looks ahead. " + contents.register["forecast_fed_t"].method
        ),
        figure_table(contents, "forecast", "Forecast to the end of the year"),
    ]
    targets = contents.figures("on_track_share")
    if targets:
        rows = {name: contents.register[name].label for name in targets}
        caption = "Chance of reaching the targets"
        blocks.append(parts_table(contents, "on_track", caption, "Target", rows))
    return (Section("forecast", "To the end of the year", tuple(blocks)),)


def _target_rows(contents: Contents) -> Iterator[tuple[Statement | str, ...]]:
    saying = contents.saying
    for figure_id in ("bins_given", "kept_out_of_landfill_t"):
        target = f"{figure_id}_target"
        if not saying.knows(target):
            continue
        figure = contents.register[figure_id]
        yield (
            figure.label,
            saying.say(f"{{{target}:amount}}"),
            saying.say(f"{{{figure_id}}}"),
            _judged(contents, figure_id),
        )
    if saying.knows("budget"):
        cost = contents.register["program_cost"]
        spent = "not known: no ledger line is loaded"
        if cost.value is not None:
            spent = against_budget(cost.value, saying.value("budget"))
        yield cost.label, saying.cell("budget"), saying.cell("program_cost"), spent


def _judged(contents: Contents, figure_id: str) -> Statement | str:
    """Say how a result stands to its target; a closed year's chance names its figure."""
    saying, reached = contents.saying, f"target_reached_share[{figure_id}]"
    result = contents.result(figure_id)
    if result and saying.knows(reached):
        words = f"{result} target: {{{reached}:chance}} chance that it was reached"
        return saying.say(words)
    target = saying.value(f"{figure_id}_target")
    return judged(contents.register, figure_id, target, saying.wording)


def months_table(contents: Contents) -> Table:
    """List the months of the year."""
    start, end = contents.months
    first, last = f"{start:%Y-%m}", f"{end:%Y-%m}"
    of_year = {
        month: contents.saying.wording.month(month)
        for month in contents.figures("kept_out_of_landfill_t_in_month")
        if first <= month <= last
    }
    return parts_table(contents, "months", "Month by month", "Month", of_year)


def areas(contents: Contents) -> Section | None:
    """Say how the areas stand; None where there are none."""
    by_area = contents.figures("kept_out_of_landfill_t")
    if not by_area:
        return None
    names = contents.area_names
    order = sorted(by_area, key=lambda a: (-(by_area[a].value or -1.0), names.get(a, a)))
    shown = {a: names.get(a, a) for a in order if by_area[a].value is not None}
    hidden = [names.get(area_id, area_id) for area_id in order if area_id not in shown]
    told = "Not shown, to protect small numbers of homes"
    note = f"{told}: {listing(hidden, MOST_HIDDEN)}." if hidden else ""
    if old := [name for area_id, name in shown.items() if stands(by_area[area_id])]:
        note += f" As given out before, few homes having changed: {listing(old, MOST_HIDDEN)}."
    blocks: tuple[Block, ...] = (
        text(
            "An area with many answers is judged by its own; an area with few leans on similar "
            "homes across the town. Where ranges overlap, nobody can rank the areas: the last "
            "column gives the chance that an area is in the top third."
        ),
        *contents.pictures("areas"),
        parts_table(
            contents,
            "areas",
            "Areas, starting with those that kept most out of landfill",
            "Area",
            shown,
            note=note,
        ),
    )
    return Section("areas", "Areas", blocks)
