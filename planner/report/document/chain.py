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
    "given": "All bins given could take, if all were in use",
    "set_up": "Bins that were set up could take",
    "in_use": "Bins still in use could take",
    "fed": "Fed to bins",
    "from_residual_bin": "Fed to bins that used to go in the residual bin",
    "landfilled": "Of that, would have gone to landfill",
    "not_composted_anyway": "Of that, would not have been composted anyway",
    "kept_out": "Of that, not thrown away after all: kept out of landfill",
}
AGES = (3, 6, 12, 24, 36)


def chain_details(contents: Contents) -> tuple[Block, ...]:
    """Set out retention by age, former routes and the answers behind them."""
    found = (_retention, _routes, _recall, _composters)
    return tuple(block for blocks in found for block in blocks(contents))


def chain(contents: Contents) -> Section:
    """Say how bins given become tonnes kept out of landfill."""
    say = contents.saying.say
    blocks: list[Block] = [
        text(
            "Only scraps that would have gone to landfill count as kept out.",
            say(
                "Of {fed_t:amount} fed to bins, {moved_from_other_routes_t:amount} went elsewhere "
                "before: to compost, to a food waste collection, to animals, or to a plant that "
                "burns waste. They do not count."
            ),
        ),
        *_steps(contents),
        *contents.pictures("chain"),
    ]
    heading = "From bins given to tonnes kept out"
    return Section("chain", heading, tuple(blocks))


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
                "compost bin would claim {gross_claim_t:amount}. The measured result is "
                "{kept_out_of_landfill_t:amount}."
            ),
            "The rule assumes that every bin is in use all year, is fed as much as a compost bin, "
            "and takes only scraps bound for landfill. The table shows what is lost at each step.",
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
            note="Beyond the age of the oldest bin surveyed, the figures are a projection.",
        )
    if saying.knows("retention_curve_gap"):
        yield text(
            saying.say(
                "The fitted curve differs from the answers alone by at most "
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
                "household had its bin. Such late answers differ from those given in time by "
                "{recall_difference:amount} of the scraps. The figures are corrected for that, and "
                "the ranges are wider for it."
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
            "Most of what they feed to worms comes from their compost heap and does not count."
        )
    )
    yield figure_table(contents, "composters", "Households that composted before")


def castings(contents: Contents) -> tuple[Block, ...]:
    """Say what castings the worms made; nothing where no figure says."""
    if "castings_t" not in contents.register:
        return ()
    return (
        text(
            "Castings, the compost that worms make, are a benefit to gardens. The figures are a "
            "guide only: they rest on handbook rates and were not measured."
        ),
        figure_table(contents, "castings", "Castings made, and the garden area they cover"),
        *(text(words, kind="caution") for words in CAUTIONS),
    )
