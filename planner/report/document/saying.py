"""Sentences and tables made from the register: numbers rounded, words chosen by results."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, cast, get_args

from planner.figures import Figure, FigureRegister
from planner.messages import one_full_stop
from planner.report.document import (
    Block,
    Column,
    Kind,
    Paragraph,
    Section,
    Shown,
    Shows,
    Statement,
    Table,
)
from planner.report.wording import Wording, worded
from planner.rounding import LEAST_RELATIVE_WIDTH

KIN = (
    (re.compile(r"^account_conservative_t_co2e\[(.*)\]$"), r"account_t_co2e[\1]"),
    (re.compile(r"^if_users_odds\[(.*)\|.*\]$"), r"\1"),
)
"""Variants without an interval of their own, and the estimate to which each belongs."""

_BLANK = re.compile(r"\{([a-z0-9_]+(?:\[[^\]{}]*\])?)(?::([a-z]+))?\}")


@dataclass(frozen=True)
class Saying:
    """Makes statements from one register, in one country's numbers."""

    register: FigureRegister  # every figure of the report
    wording: Wording  # how numbers are written

    def knows(self, *figure_ids: str) -> bool:
        """Whether all these figures are there with a value."""
        return all(
            name in self.register and self.register[name].value is not None for name in figure_ids
        )

    def value(self, figure_id: str) -> float:
        """Value of a figure that is known to have one."""
        value = self.register[figure_id].value
        if value is None:
            message = f"figure {figure_id} has no value"
            raise ValueError(message)
        return value

    def limits(self, figure_id: str) -> tuple[float, float]:
        """Low and high of a figure that has a value; the value twice where it was counted."""
        figure, value = self.register[figure_id], self.value(figure_id)
        return (
            value if figure.low is None else figure.low,
            value if figure.high is None else figure.high,
        )

    def say(self, template: str, **words: str | Shown) -> Statement:
        """Fill a sentence, told by its key in the message files or by its words.

        ``{fed_t}`` is a figure with unit and interval, ``{fed_t:amount}``,
        ``{fed_t:spread}`` and ``{fed_t:number}`` show less of it. Units are spelled out.
        A name among `words` is filled with those, or with the figure that they name where
        the sentence says what to show of it, as ``{most:amount}``.

        Examples
        --------
        >>> from planner.figures import Figure, FigureRegister
        >>> from planner.report.wording import Wording
        >>> register = FigureRegister("Town", "2025-26", "1")
        >>> _ = register.add(Figure("fed_t", "Scraps fed", 12.345, 9.84, 15.12, "t", "Weighed."))
        >>> Saying(register, Wording()).say("{who} fed {fed_t:amount}.", who="We").words
        'We fed 12 tonnes.'
        """
        parts: list[str | Shown] = []
        end = 0
        template = worded(template)
        for blank in _BLANK.finditer(template):
            parts.append(template[end : blank.start()])
            part, shows = words.get(blank[1], blank[1]), blank[2]
            is_figure = isinstance(part, str) and (shows or blank[1] not in words)
            parts.append(self.shown(str(part), shows or "figure") if is_figure else part)
            end = blank.end()
        parts.append(template[end:])
        return Statement(_joined(parts))

    def shown(self, figure_id: str, shows: str = "figure") -> Shown:
        """Show a figure."""
        if shows not in get_args(Shows):
            message = f"{figure_id}: nothing of a figure is called {shows}"
            raise ValueError(message)
        chosen = cast("Shows", shows)
        return Shown(figure_id, chosen, self._words(self.register[figure_id], chosen))

    def cell(self, figure_id: str, shows: Shows = "number") -> Statement:
        """Show a figure alone, in a cell of a table; an interval without width is empty."""
        if figure_id not in self.register or (shows == "spread" and self._is_exact(figure_id)):
            return Statement(("",))
        shown = self.shown(figure_id, shows)
        return Statement((shown if shown.words else "",))

    def cells(self, figure_id: str) -> tuple[Statement, Statement]:
        """Show a figure and its interval in two cells."""
        return self.cell(figure_id), self.cell(figure_id, "spread")

    def _kin(self, figure: Figure) -> Figure | None:
        """Find the estimate to which a variant without interval belongs: both look alike then."""
        if figure.low is not None:
            return None
        for pattern, kin in KIN:
            name = pattern.sub(kin, figure.id)
            if name != figure.id and self.knows(name):
                return self.register[name]
        return None

    def _is_exact(self, figure_id: str) -> bool:
        """Whether the limits differ by no more than the last bits of a value that is not zero."""
        if not self.knows(figure_id) or self.value(figure_id) == 0.0:
            return False
        low, high = self.limits(figure_id)
        return high - low <= LEAST_RELATIVE_WIDTH * abs(self.value(figure_id))

    def unit(self, figure_id: str) -> Statement:
        """Name a figure's unit, for a column of its own."""
        return Statement((self.wording.unit(self.register[figure_id]),))

    def _words(self, figure: Figure, shows: Shows) -> str:
        spread = self.wording.spread(figure)
        if shows == "spread":
            return spread
        if shows == "chance" and figure.value is not None:
            return self.wording.chance(figure.value)
        amount = self.wording.amount(figure, self._kin(figure))
        unit = self.wording.unit(figure)
        number = amount.removesuffix(unit).rstrip() if unit else amount
        if shows == "number" or figure.value is None:
            return number
        spelled = f"{number} {self.wording.spelled_out(figure, self._kin(figure))}".rstrip()
        return f"{spelled} ({spread})" if shows == "figure" and spread else spelled


def joined(*statements: Statement | str) -> Statement:
    """Make one statement of several, for a cell of a table."""
    parts: list[str | Shown] = []
    for place, one in enumerate(map(_statement, statements)):
        parts += [" ", *one.parts] if place else one.parts
    return Statement(_joined(parts))


def text(*statements: Statement | str, kind: Kind = "text") -> Paragraph:
    """Make a paragraph of statements; plain strings carry no figure."""
    return Paragraph(tuple(_statement(one) for one in statements), kind)


def section(key: str, heading: str, *blocks: Block, parts: Iterable[Section] = ()) -> Section:
    """Make a section; its heading may be a key of the message files."""
    return Section(key, worded(heading), blocks, tuple(parts))


def points(statements: Iterable[Statement | str]) -> tuple[Paragraph, ...]:
    """Make a list with one item a statement."""
    return tuple(text(one, kind="point") for one in statements)


def table(
    key: str,
    caption: str,
    headings: Sequence[str],
    rows: Iterable[Sequence[Statement | str]],
    *,
    numbers: Sequence[int] = (),
    has_total: bool = False,
    note: str = "",
) -> Table:
    """Make a table; words may be keys of the message files, and plain strings carry no figure.

    `numbers` are the places of the columns that hold numbers.
    """
    columns = tuple(
        Column(worded(heading), place in numbers) for place, heading in enumerate(headings)
    )
    cells = tuple(tuple(_statement(cell) for cell in row) for row in rows)
    return Table(key, worded(caption), columns, cells, has_total, worded(note))


def _statement(one: Statement | str) -> Statement:
    return Statement((worded(one),)) if isinstance(one, str) else one


def _joined(parts: list[str | Shown]) -> tuple[str | Shown, ...]:
    """Put neighbouring plain text together and leave out what is empty, and a second full stop."""
    joined: list[str | Shown] = []
    for part in parts:
        last = joined[-1] if joined else ""
        if isinstance(part, Shown):
            joined.append(part)
            continue
        before = last if isinstance(last, str) else last.words
        rest = one_full_stop(before + part).removeprefix(before)
        if joined and isinstance(last, str):
            joined[-1] = last + rest
        elif rest:
            joined.append(rest)
    return tuple(joined)


Side = Literal["above", "below", "either"]

AUDITED = "audit_food_kg_per_household_week_change"
GAP = "audit_less_survey_food_kg_per_household_week"
"""Audited less surveyed change: audit and survey agree where its interval holds zero."""

NET, OTHER_NET = "net_cost_per_t_kept_out_service_life", "other_way_net_cost_per_t"


def side_of_zero(saying: Saying, figure_id: str) -> Side:
    """Tell on which side of zero the whole interval of a figure lies."""
    low, high = saying.limits(figure_id)
    if low > 0.0:
        return "above"
    return "below" if high < 0.0 else "either"


def compared(saying: Saying, first_id: str, second_id: str) -> Side:
    """Tell whether the second of two figures lies above or below the first, or may be either.

    The limits of the difference are recovered from those of both figures, which must not
    share their errors. Ranges that overlap a little may still differ: only the sides that face
    each other count, and both are seldom at their ends at once.

    References
    ----------
    Zou and Donner (2008), Construction of confidence limits about effect measures: a general
    approach, Statistics in Medicine 27, 1693-1702, equations 7 and 8; from memory.
    """
    (low, high), (least, most) = saying.limits(first_id), saying.limits(second_id)
    first, second = saying.value(first_id), saying.value(second_id)
    if second - first > math.hypot(high - first, second - least):
        return "above"
    return "below" if first - second > math.hypot(first - low, most - second) else "either"


def audit_is_small(saying: Saying) -> bool:
    """Whether an audit could not even tell its own change from none."""
    return saying.knows(AUDITED) and side_of_zero(saying, AUDITED) == "either"


def audit_agrees(saying: Saying) -> bool | None:
    """Whether audit and survey agree; None where there is no audit to compare."""
    return side_of_zero(saying, GAP) == "either" if saying.knows(GAP) else None
