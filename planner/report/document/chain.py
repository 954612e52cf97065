"""From bins given to tonnes kept out of landfill: what is lost at each step, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Section
from planner.report.document.saying import table, text
from planner.report.document.tables import INTERVAL, figure_table, parts_table
from planner.report.figures.castings import CAUTIONS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.report.document.contents import Contents
    from planner.report.document.model import Block, Table

STEP_WORDS = {
    "given": "What all bins given would take if they were in use",
    "set_up": "What bins that were set up would take",
    "in_use": "What bins still in use would take",
    "fed": "What was fed to them",
    "from_residual_bin": "What of it went to the waste bin before",
    "landfilled": "What of it would have been landfilled",
    "not_composted_anyway": "Less what would have been composted anyway",
    "kept_out": "Less what was thrown away after all: kept out of landfill",
}
AGES = (3, 6, 12, 24, 36)


def chain(contents: Contents) -> Section:
    """Say how bins given become tonnes kept out of landfill."""
    say = contents.saying.say
    blocks: list[Block] = [
        text(
            "Only what would have been landfilled counts as kept out of landfill.",
            say(
                "Of {fed_t:amount} fed to bins, {moved_from_other_routes_t:amount} went elsewhere "
                "before: to compost, to a food waste collection, to animals, or to a plant that "
                "burns waste. They are moved, not diverted."
            ),
        ),
        *_steps(contents),
        *contents.pictures("chain"),
        *_retention(contents),
        *_routes(contents),
        *_recall(contents),
        *_composters(contents),
    ]
    heading = "From bins given to tonnes kept out"
    return Section("chain", heading, tuple(blocks), _castings(contents))


def _steps(contents: Contents) -> Iterator[Block]:
    steps = contents.figures("gross_to_net")
    if not steps:
        return
    saying = contents.saying
    rows = [
        (
            STEP_WORDS.get(step, figure.label),
            saying.cell(f"gross_to_net[{step}]"),
            saying.cell(f"gross_to_net[{step}]", "spread"),
            saying.cell(f"gross_to_net_share[{step}]"),
        )
        for step, figure in steps.items()
    ]
    if saying.knows("gross_claim_t"):
        yield text(
            saying.say(
                "A rule of thumb that multiplies all bins given by the yearly amount of a garden "
                "compost bin would claim {gross_claim_t:amount}; what was measured is "
                "{kept_out_of_landfill_t:amount}."
            ),
            "The rule takes every bin to be in use all year, to be fed as much as a compost bin, "
            "and to take only what would have been landfilled. The table starts from what a "
            "settled bin takes, and shows what is lost at each step.",
        )
    yield table(
        "gross_to_net",
        "Tonnes of the year, step by step",
        ("Step", "t", "95% interval", "Share of the step before"),
        rows,
        numbers=(1, 2, 3),
    )


def _retention(contents: Contents) -> Iterator[Block]:
    saying = contents.saying
    ages = [age for age in AGES if saying.knows(f"retention_by_age[{age}]")]
    if ages:
        yield parts_table(
            contents,
            "retention",
            "Share of bins still in use, by age",
            "Months after the hand-over",
            {str(age): str(age) for age in ages},
            note="Ages beyond the oldest bin asked about carry the fitted curve on.",
        )
    if saying.knows("retention_curve_gap"):
        yield text(
            saying.say(
                "The fitted curve and an estimate that assumes no shape lie apart by at most "
                "{retention_curve_gap:number} of all bins."
            )
        )


def _routes(contents: Contents) -> Iterator[Table]:
    if contents.figures("prior_route_share"):
        caption = "Where the scraps went before the bin came"
        yield figure_table(contents, "routes", caption, headings=("Route", "Share", INTERVAL, ""))


def _recall(contents: Contents) -> Iterator[Block]:
    """Say how much of the baseline was asked too late, and what was done about it."""
    saying = contents.saying
    share = "baseline_recalled_share"
    if saying.knows(share, "recall_difference") and saying.value(share) > 0.0:
        yield text(
            saying.say(
                "{baseline_recalled_share:amount} of the baseline answers were given after the "
                "household had its bin. That is recall, which differs from an answer given in "
                "time by {recall_difference:amount} of the scraps: the difference is taken off, "
                "and its doubt is in the intervals."
            )
        )


def _composters(contents: Contents) -> Iterator[Block]:
    """Keep households that already composted apart from the others, where they are told of."""
    habits = ("already_composted", "did_not_compost")
    ids = [f"landfill_share_by_habit[{habit}]" for habit in habits]
    if not contents.saying.knows("already_composting_share", *ids):
        return
    yield text(
        contents.saying.say(
            "{already_composting_share:amount} of the households already composted food before. "
            "What they feed to worms comes mostly from their heap, and counts as moved."
        )
    )
    yield figure_table(contents, "composters", "Households that composted before")


def _castings(contents: Contents) -> tuple[Section, ...]:
    if "castings_t" not in contents.register:
        return ()
    return (
        Section(
            "castings",
            "Castings",
            (
                text(
                    "What the worms made is a benefit to gardens. The figures are indicative: "
                    "they rest on handbook rates and are not measured."
                ),
                figure_table(contents, "castings", "Castings made and what they dress"),
                *(text(words, kind="caution") for words in CAUTIONS),
            ),
        ),
    )
