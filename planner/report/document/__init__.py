"""Types of what the report says: sections of statements, tables and pictures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from planner import __version__

if TYPE_CHECKING:
    from planner.report.charts.drawing import Placed
    from planner.report.wording import Wording

Shows = Literal["figure", "amount", "spread", "number", "chance"]
"""Value with unit and interval, with unit, interval alone, value alone, chance in per cent."""

Kind = Literal["text", "lead", "point", "caution"]
"""Running text, the sentence to be read first, an item of a list, a warning."""


@dataclass(frozen=True)
class Shown:
    """A figure as it is printed."""

    figure_id: str  # id in the register
    shows: Shows  # what of it is printed
    words: str  # the text, rounded by the figure's interval


@dataclass(frozen=True)
class Statement:
    """Text in which every number that was counted or estimated names its figure.

    Examples
    --------
    >>> said = Statement(("Households fed ", Shown("fed_t", "amount", "12 t"), "."))
    >>> said.words, said.figure_ids
    ('Households fed 12 t.', ('fed_t',))
    """

    parts: tuple[str | Shown, ...]

    @property
    def words(self) -> str:
        """The text as it is read."""
        return "".join(part if isinstance(part, str) else part.words for part in self.parts)

    @property
    def figure_ids(self) -> tuple[str, ...]:
        """Ids of the figures in it, in order."""
        return tuple(part.figure_id for part in self.parts if isinstance(part, Shown))


@dataclass(frozen=True)
class Paragraph:
    """Statements that are read together."""

    statements: tuple[Statement, ...]
    kind: Kind = "text"

    @property
    def words(self) -> str:
        """The text as it is read."""
        return " ".join(statement.words for statement in self.statements)


@dataclass(frozen=True)
class Column:
    """Heading of a column; numbers stand to the right."""

    heading: str
    is_number: bool = False


@dataclass(frozen=True)
class Table:
    """A table whose first column names the row."""

    key: str  # name that stays from version to version
    caption: str  # what it shows, in a few words
    # headings, and for each row a statement for each column
    columns: tuple[Column, ...]
    rows: tuple[tuple[Statement, ...], ...]
    has_total: bool = False  # whether the last row sums the others
    note: str = ""  # how to read it
    # set its caption above it; False where the heading over it says the same
    is_captioned: bool = True


@dataclass(frozen=True)
class Picture:
    """A chart, by the stem of its files."""

    name: str  # stem of the files
    title: str  # its finding, which stands in the picture
    caption: str  # how to read it, and what it does not show
    alt_text: str  # the chart in words
    png: bytes
    svg: bytes
    section: str = ""  # key of the section of the report in which it stands
    narrow_svg: bytes = b""  # the chart drawn for a telephone
    # parts of both that a reader may point at
    spots: tuple[Placed, ...] = ()
    narrow_spots: tuple[Placed, ...] = ()


Block = Paragraph | Table | Picture


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it."""

    key: str  # name that stays from version to version, by which a template places it
    heading: str  # its words
    blocks: tuple[Block, ...]  # paragraphs, tables and pictures in order
    parts: tuple[Section, ...] = ()  # sections inside it


@dataclass(frozen=True)
class Document:
    """A whole report."""

    title: str
    subtitle: str
    # what it is of, and the version of the planner that wrote it
    council: str
    reporting_year: str
    version: str
    language: str  # tag after BCP 47 of the language it is written in, as "en-AU"
    # when the newest records were loaded, which stands for the time of writing
    written_at: dt.datetime
    written_on: str  # the same as a date in the country's order
    sections: tuple[Section, ...]  # in order

    @classmethod
    def of(
        cls,
        title: str,
        subtitle: str,
        council: str,
        reporting_year: str,
        sections: Iterable[Section],
        wording: Wording,
        written_at: dt.datetime,
    ) -> Document:
        """Gather what is said, without sections in which nothing stands."""
        said = tuple(one for one in sections if one.blocks or one.parts)
        day = wording.day(written_at.date())
        told = (council, reporting_year, __version__, wording.tag, written_at, day)
        return cls(title, subtitle, *told, said)

    def section(self, key: str) -> Section:
        """Find a section by its key."""
        return next(section for section in self.sections if section.key == key)
