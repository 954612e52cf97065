"""Types of what the report says: sections of statements, tables and pictures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    from planner.report.charts.drawing import Placed

Shows = Literal["figure", "amount", "spread", "number", "chance"]
"""Value with unit and interval, with unit, interval alone, value alone, chance in per cent."""

Kind = Literal["text", "lead", "point", "caution"]
"""Running text, the sentence to be read first, an item of a list, a warning."""


@dataclass(frozen=True)
class Shown:
    """A figure as it is printed.

    Parameters
    ----------
    figure_id
        Id in the register.
    shows
        What of it is printed.
    words
        The text, rounded by the figure's interval.
    """

    figure_id: str
    shows: Shows
    words: str


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
    """A table whose first column names the row.

    Parameters
    ----------
    key
        Name that stays from version to version.
    caption
        What it shows, in a few words.
    columns, rows
        Headings, and for each row a statement for each column.
    has_total
        Whether the last row sums the others.
    note
        How to read it.
    is_captioned
        Set its caption above it; False where the heading over it says the same.
    """

    key: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Statement, ...], ...]
    has_total: bool = False
    note: str = ""
    is_captioned: bool = True


@dataclass(frozen=True)
class Picture:
    """A chart, by the stem of its files.

    Parameters
    ----------
    name
        Stem of the files.
    title
        Its finding, which stands in the picture.
    caption
        How to read it, and what it does not show.
    alt_text
        The chart in words.
    png, svg
        Its files' content.
    narrow_svg, spots, narrow_spots
        As in `planner.report.charts.Chart`.
    """

    name: str
    title: str
    caption: str
    alt_text: str
    png: bytes
    svg: bytes
    narrow_svg: bytes = b""
    spots: tuple[Placed, ...] = ()
    narrow_spots: tuple[Placed, ...] = ()


Block = Paragraph | Table | Picture


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it.

    Parameters
    ----------
    key
        Name that stays from version to version, by which a template places it.
    heading
        Its words.
    blocks
        Paragraphs, tables and pictures in order.
    parts
        Sections inside it.
    """

    key: str
    heading: str
    blocks: tuple[Block, ...]
    parts: tuple[Section, ...] = ()


@dataclass(frozen=True)
class Document:
    """A whole report.

    Parameters
    ----------
    title, subtitle
        Of the report.
    council, reporting_year, version
        What it is of, and the version of the planner that wrote it.
    language
        Tag after BCP 47 of the language it is written in, as "en-AU".
    written_at
        When the newest records were loaded, which stands for the time of writing.
    written_on
        The same as a date in the country's order.
    sections
        In order.
    """

    title: str
    subtitle: str
    council: str
    reporting_year: str
    version: str
    language: str
    written_at: dt.datetime
    written_on: str
    sections: tuple[Section, ...]

    def section(self, key: str) -> Section:
        """Find a section by its key."""
        return next(section for section in self.sections if section.key == key)
