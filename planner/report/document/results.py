"""Results of the year: against targets, in figures, by month and by area."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from planner.messages import said
from planner.report.disclosure.parts import is_from_earlier_issue
from planner.report.document import Block, Section, Statement, Table
from planner.report.document.contents import INTERVAL, KEPT_OUT, Contents, figure_table, parts_table
from planner.report.document.earlier import planned
from planner.report.document.saying import section, table, text
from planner.report.figures.giveaway import BY, part_words
from planner.report.figures.tonnes import CAUTIONS
from planner.report.targets import against_budget, verdict_words
from planner.report.wording import labelled, listing

APPENDED = ("season", "model", "delivery")
"""What only those need who order and call: a councillor has it in the appendix."""


def problems(contents: Contents) -> Iterator[Section]:
    """Say which problems were told in the year; nothing where none was."""
    told = contents.figures("problems_told")
    if not told:
        return
    saying = contents.saying
    whole = [saying.say("report.problems.told")] if saying.knows("problems_told") else []
    hidden = sum(figure.value is None for figure in told.values())
    note = said("report.problems.hidden", hidden) if hidden else ""
    blocks: list[Block] = [text(*whole, "how.problems_told")]
    if rows := _rows(contents, is_appended=False):
        words = ("report.problems.caption", "report.problems.by")
        blocks.append(parts_table(contents, "problems", *words, rows, note=note))
    yield section("problems", "report.problems.heading", *blocks)


def problems_by_supply(contents: Contents) -> tuple[Block, ...]:
    """Count problems by season, bin model and worm delivery, for whoever orders and calls."""
    rows = _rows(contents, is_appended=True)
    if not rows:
        return ()
    caption = "report.problems.by_supply"
    # the same figure by other parts: the table is declared once
    made = parts_table(contents, "problems", caption, "report.problems.by", rows)
    return (replace(made, key="problems_by_supply"),)


def _rows(contents: Contents, *, is_appended: bool) -> dict[str, str]:
    """Name the parts that are shown: by what they are counted by, the most frequent first."""
    order = {grouping: place for place, grouping in enumerate(BY)}
    shown = [
        (order.get(grouping, len(order)), -figure.value, part)
        for part, figure in contents.figures("problems_told").items()
        if ((grouping := part.partition(": ")[0]) in APPENDED) is is_appended
        and figure.value is not None
    ]
    ordered = sorted(shown, key=lambda one: one[:2])
    return {part: _in_words(part, contents) for _, _, part in ordered}


def _in_words(part: str, contents: Contents) -> str:
    grouping, _, name = part.partition(": ")
    models = {one.model_id: one.model_name for one in contents.program.bin_models}
    names = {"area": contents.area_names, "model": models}.get(grouping, {})
    head = said(f"grouping.head.{grouping}")
    return labelled(head, names.get(name) or part_words(grouping, name))


def sites(contents: Contents) -> Iterator[Section]:
    """Say what sites have and feed; nothing where there are none."""
    if "site_fed_t" not in contents.register:
        return
    made = figure_table(contents, "sites", "report.sites.caption")
    yield section("sites", "report.sites.heading", text("how.sites_apart"), made)


def results(contents: Contents) -> Section:
    """Say what the year achieved."""
    start, end = contents.months
    day = contents.saying.wording.day
    # what a mean beside an interval is, where there is one
    has_means = any(figure.telling_mean is not None for figure in contents.register)
    columns = ("report.targets.target", "report.result", "report.targets.judgement")
    headings, rows = ("report.what", *columns), _target_rows(contents)
    targets = table("targets", "report.targets.caption", headings, rows, numbers=(1, 2))
    return section(
        "results",
        "report.results.heading",
        text(
            said("report.results.year_runs", start=day(start), end=day(end)),
            *["report.results.of_means"] * has_means,
        ),
        *([targets] if targets.rows else []),
        figure_table(contents, "year", "report.results.caption"),
        *contents.pictures("results"),
        parts=(*_forecast(contents), *planned(contents), *problems(contents), *sites(contents)),
    )


def _forecast(contents: Contents) -> tuple[Section, ...]:
    if "forecast_kept_out_of_landfill_t" not in contents.register:
        return ()
    blocks: list[Block] = [
        text("report.forecast.lead", contents.register["forecast_fed_t"].method),
        figure_table(contents, "forecast", "report.forecast.caption"),
    ]
    targets = contents.figures("on_track_share")
    if targets:
        rows = {name: contents.register[name].label for name in targets}
        caption = "report.forecast.chances"
        blocks.append(parts_table(contents, "on_track", caption, "report.targets.target", rows))
    return (section("forecast", "report.forecast.heading", *blocks),)


def _target_rows(contents: Contents) -> Iterator[tuple[Statement | str, ...]]:
    saying = contents.saying
    for figure_id in ("bins_given", KEPT_OUT):
        target = f"{figure_id}_target"
        if not saying.knows(target) or figure_id not in contents.register:
            continue
        figure = contents.register[figure_id]
        found = (saying.say(f"{{{target}:amount}}"), saying.say(f"{{{figure_id}}}"))
        yield figure.label, *found, _judged(contents, figure_id)
    if saying.knows("budget"):
        cost = contents.register["program_cost"]
        spent = "report.targets.no_ledger"
        if cost.value is not None:
            spent = against_budget(cost.value, saying.value("budget"))
        yield cost.label, saying.cell("budget"), saying.cell("program_cost"), spent


def _judged(contents: Contents, figure_id: str) -> Statement | str:
    """Say how a result stands to its target; a closed year's chance names its figure."""
    saying, reached = contents.saying, f"target_reached_share[{figure_id}]"
    result = contents.result(figure_id)
    if result and saying.knows(reached):
        words = said(f"report.judged.{result}")
        return saying.say("report.judged.with_chance", judged=words, chance=reached)
    target = saying.value(f"{figure_id}_target")
    return verdict_words(contents.register, figure_id, target, saying.wording)


def months_table(contents: Contents) -> Table:
    """List the months of the year."""
    start, end = contents.months
    first, last = f"{start:%Y-%m}", f"{end:%Y-%m}"
    of_year = {
        month: contents.saying.wording.month(month)
        for month in contents.figures("bins_given_in_month")
        if first <= month <= last
    }
    return parts_table(contents, "months", "report.months.caption", "report.months.month", of_year)


def areas(contents: Contents) -> Section | None:
    """Say how the areas stand; None where there are none."""
    by_area = contents.figures(KEPT_OUT if contents.has_tonnes else "bins_given")
    if not by_area:
        return None
    names = contents.area_names
    order = sorted(by_area, key=lambda a: (-(by_area[a].value or -1.0), names.get(a, a)))
    shown = {a: names.get(a, a) for a in order if by_area[a].value is not None}
    hidden = [names.get(area_id, area_id) for area_id in order if area_id not in shown]
    old = [name for area_id, name in shown.items() if is_from_earlier_issue(by_area[area_id])]
    note = " ".join(
        said(key, names=listing(found, 12))
        for key, found in (("report.areas.hidden", hidden), ("report.areas.as_before", old))
        if found
    )
    caption, lead = "report.areas.heading", []
    if contents.has_tonnes:
        caption, lead = "report.areas.caption", [text("report.areas.lead")]
    made = parts_table(contents, "areas", caption, "report.areas.area", shown, note=note)
    return section("areas", "report.areas.heading", *lead, *contents.pictures("areas"), made)


def chain(contents: Contents) -> Section:
    """Say how bins given become tonnes kept out of landfill."""
    return section(
        "chain",
        "report.chain.heading",
        text("report.chain.only", contents.saying.say("report.chain.elsewhere")),
        *_steps(contents),
        *contents.pictures("chain"),
    )


def _steps(contents: Contents) -> Iterator[Block]:
    steps = contents.figures("gross_to_net")
    if not steps:
        return
    saying = contents.saying
    rows = [
        (
            f"report.step.{step}",
            *saying.cells(f"gross_to_net[{step}]"),
            saying.cell(f"gross_to_net_share[{step}]"),
        )
        for step in steps
    ]
    if saying.knows("gross_claim_t"):
        yield text(saying.say("report.chain.claim"), "report.chain.rule")
    headings = ("report.chain.step", "t", INTERVAL, "report.chain.share_before")
    yield table("gross_to_net", "report.chain.caption", headings, rows, numbers=(1, 2, 3))


def _retention(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    ages = [age for age in (3, 6, 12, 24, 36) if saying.knows(f"retention_by_age[{age}]")]
    if ages:
        rows, note = {str(age): str(age) for age in ages}, "report.chain.projection"
        caption, heading = "report.chain.retention", "report.chain.months_after"
        yield parts_table(contents, "retention", caption, heading, rows, note=note)
    if saying.knows("retention_curve_gap"):
        yield text(saying.say("report.chain.curve_gap"))


def _routes(contents: Contents) -> Iterator[Table]:
    if contents.figures("prior_route_share"):
        headings = ("report.chain.route", "report.chain.share", INTERVAL, "")
        yield figure_table(contents, "routes", "report.chain.routes", headings=headings)


def _recall(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    share = "baseline_recalled_share"
    if saying.knows(share, "recall_difference") and saying.value(share) > 0.0:
        yield text(saying.say("report.chain.recall"))


def _composters(contents: Contents) -> Iterator[Block]:
    """Keep households that already composted apart from the others, where they are told of."""
    habits = ("already_composted", "did_not_compost")
    ids = [f"landfill_share_by_habit[{habit}]" for habit in habits]
    if not contents.saying.knows("already_composting_share", *ids):
        return
    yield text(contents.saying.say("report.chain.habit"))
    yield figure_table(contents, "composters", "report.chain.composters")


def castings(contents: Contents) -> tuple[Block, ...]:
    """Say what castings the worms made; nothing where no figure says."""
    if "castings_t" not in contents.register:
        return ()
    return (
        text("report.castings.lead"),
        figure_table(contents, "castings", "report.castings.caption"),
        *(text(key, kind="caution") for key in CAUTIONS),
    )


CHAIN_DETAILS = (_retention, _routes, _recall, _composters)
"""What sets out retention by age, former routes and the answers behind them."""
