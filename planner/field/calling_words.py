"""What is said about calls: reasons, questions to ask, and how far a list can be trusted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.field.calls_value import HAZARD_CUT
from planner.field.dropout import LEAST_STOPPED

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.field.calling import CallingList
    from planner.field.calls_value import CallsValue
    from planner.field.dropout import Dropout

REASON_WORDS = {
    "problem": "A problem is open",
    "more_worms": "May need more worms",
    "first_check": "First check",
    "may_stop": "May give up",
    "survey": "Has not answered the survey",
    "another_tray": "May be ready for another tray",
    "first_harvest": "May have castings to harvest",
}

WHAT_TO_ASK = {
    "problem": "Is the problem still there? What have they tried? Give the advice for it from "
    "`planner cases`, agree what happens next, and ask when to ring back.",
    "more_worms": "Can they see live worms when they lift the food? If there are few or none, ask "
    "what the bin looks and smells like first: worms added to a bad bin die too.",
    "first_check": "Are the worms under the food by now? Is it moist like a wrung-out cloth? Does "
    "it smell of earth? What do they feed, and how much? Feed little until the last meal is gone.",
    "may_stop": "How is it going? What is the hardest part? Listen first, offer one thing that "
    "makes it easier, and if they have stopped, ask when and offer to take the bin back.",
    "survey": "Ask the questions of the survey round, or when it suits them better.",
    "another_tray": "Is the food level with the rim of the tray, and has it sunk little for a "
    "week? Then add a tray on top with fresh bedding, and feed only there from now on.",
    "first_harvest": "Is the lowest tray dark and crumbly, with few worms? Tell them how to "
    "harvest: gloves, wet dust down, wash hands, lift full trays in pairs; liquid not on leaves "
    "that are eaten.",
}
"""In the order of urgency. Common practice, no source."""


def how_sure_lines(found: CallingList) -> Iterator[str]:
    """Say how the households that may give up were found, and what the calls are worth."""
    if found.dropout is None:
        yield (
            f"Answers report {found.stopped_count} bins that stopped; at least {LEAST_STOPPED} "
            "are needed before anyone can say who is likely to give up. Nobody is on this list "
            "for that reason yet. Load more survey rounds."
        )
        return
    yield from _trust(found.dropout)
    if found.value is not None:
        yield from _worth(found.value)


def _trust(dropout: Dropout) -> Iterator[str]:
    yield (
        f"Who may give up comes from {dropout.spells_count:,} times between two answers, "
        f"{dropout.stopped_count:,} of which ended with the bin out of use. The figures below are "
        "of households that the estimate had not seen."
    )
    for row in dropout.groups.with_row_index("fifth", offset=1).iter_rows(named=True):
        yield (
            f"Fifth {row['fifth']} of 5 by rising risk: expected {row['expected_share']:.0%} to "
            f"stop, {row['stopped_share']:.0%} did (between {row['low']:.0%} and "
            f"{row['high']:.0%} but for chance; {row['spells_count']} times)."
        )
    yield (
        f"In all {dropout.expected_over_stopped:.2f} stops were expected for each one seen. "
        f"Calibration slope {dropout.slope:.2f}; 1 is right, less means that risks are spread "
        "too far."
    )
    spread = f"{dropout.lift:.2f} ({dropout.lift_low:.2f} to {dropout.lift_high:.2f})"
    if dropout.sorts:
        yield f"The riskiest fifth stopped {spread} times as often as its bins' age alone expects."
    else:
        yield (
            f"The riskiest fifth stopped {spread} times as often as its bins' age alone expects: "
            "no better than sorting by age. Treat the order as a guess; young bins come first."
        )


def _worth(value: CallsValue) -> Iterator[str]:
    low, likely, high = HAZARD_CUT
    yield (
        f"Worth of the calls: 100 calls to those likeliest to give up keep about "
        f"{_range(value.chosen)} bins in use a year on; 100 calls to anyone keep "
        f"{_range(value.at_random)}. {value.reached_share:.0%} of calls reach somebody."
    )
    yield (
        f"This rests on an assumed effect: a talk lowers the chance of stopping, month by month, "
        f"by {likely:.0%} ({low:.0%} to {high:.0%}). No trial of such calls was found. To learn "
        "your own effect, call half of those on the list, chosen by lot, and compare a year on."
    )


def _range(spread: tuple[float, float, float]) -> str:
    value, low, high = spread
    return f"{value:.1f} ({low:.1f} to {high:.1f})"
