"""Sections, paragraphs, tables and pictures as WordprocessingML."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.report.document import Block, Column, Picture, Section, Statement, Table
from planner.report.word.marks import Marks, attribute, paragraph

if TYPE_CHECKING:
    from docx.parts.document import DocumentPart

TWIPS_PER_INCH = 1440
EMU_PER_INCH = 914_400
TALLEST_PICTURE_INCHES = 8.0
PICTURE_SHARE = 0.9
"""A little narrower than the text, so that two pictures and their captions fit a page."""

LEAST_WEIGHT, MOST_WEIGHT, MOST_OF_SOURCES, MOST_OF_WORDS = 12, 46, 100, 130
"""Characters of a column's longest cell that count when widths are shared out.

A table of words alone has columns of sentences, which need far more room than names; so has a
column of sources beside numbers.
"""

MARGINS_WEIGHT = 4
"""Characters that the margins of a cell take."""

TWIPS_PER_CHARACTER, TWIPS_BESIDE = 95, 220
"""Room of a digit in a cell of our template, and of the margins of a cell."""

GAP = (
    '<w:p><w:pPr><w:spacing w:before="0" w:after="0" w:line="120" w:lineRule="exact"/>'
    "</w:pPr></w:p>"
)
"""A thin empty line: two tables need something between them."""

MOST_ROWS_TOGETHER = 8
"""Shorter tables are not broken over pages, unless of sentences: those are tall."""

ROWS_WITH_AN_EDGE = 3
"""Rows of a longer table of numbers that stay with its heading, and with its end."""

MOST_UNBROKEN = 30
"""Characters of a number with its unit and range that stand on one line where they can."""

WP = "http://schemas.openxmlformats.org/drawingml/2006/wordprocessingDrawing"
DRAWING = "http://schemas.openxmlformats.org/drawingml/2006/main"
PICTURE = "http://schemas.openxmlformats.org/drawingml/2006/picture"
RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"


@dataclass
class Body:
    """Sets a report's sections."""

    part: DocumentPart  # part of the file that takes the pictures
    marks: Marks  # numbers bookmarks and captions
    styles: Mapping[str, str]  # ids of styles by purpose
    width_inches: float  # between the margins

    def section(self, section: Section, level: int = 1) -> str:
        """Set a section with its parts."""
        heading = self.marks.heading(self.styles[f"heading_{level}"], level, section.heading)
        blocks = "".join(self._block(block) for block in section.blocks)
        return heading + blocks + "".join(self.section(p, level + 1) for p in section.parts)

    def _block(self, block: Block) -> str:
        if isinstance(block, Table):
            return self._table(block)
        if isinstance(block, Picture):
            return self._picture(block)
        spaced = [self.marks.statement(one) for one in block.statements]
        space = '<w:r><w:t xml:space="preserve"> </w:t></w:r>'
        return paragraph(self.styles[block.kind], space.join(spaced))

    def _table(self, table: Table) -> str:
        style, caption = self.styles["caption"], ""
        if table.is_captioned:
            caption = self.marks.caption(style, "Table", table.caption, keeps_next=True)
        widths = self._widths(table)
        grid = "".join(f'<w:gridCol w:w="{width}"/>' for width in widths)
        headings = [_said(column.heading) for column in table.columns]
        rows = [self._row(table, headings, widths, "<w:tblHeader/>", bold=True, keeps_next=True)]
        for place, cells in enumerate(table.rows):
            is_total = table.has_total and place == len(table.rows) - 1
            keeps_next = _keeps_next(table, place)
            rows.append(self._row(table, cells, widths, bold=is_total, keeps_next=keeps_next))
        note = GAP
        if table.note:
            note = paragraph(self.styles["note"], self.marks.statement(_said(table.note)))
        table_style = self.styles["table"]
        styled = f'<w:tblStyle w:val="{table_style}"/>' if table_style else ""
        return (
            f"{caption}<w:tbl><w:tblPr>{styled}"
            '<w:tblW w:w="5000" w:type="pct"/><w:tblLayout w:type="fixed"/>'
            '<w:tblLook w:val="0420" w:firstRow="1" w:lastRow="0" w:firstColumn="0" '
            'w:lastColumn="0" w:noHBand="0" w:noVBand="1"/>'
            f"<w:tblCaption w:val={attribute(table.caption)}/></w:tblPr>"
            f"<w:tblGrid>{grid}</w:tblGrid>{''.join(rows)}</w:tbl>{note}"
        )

    def _row(
        self,
        table: Table,
        cells: Sequence[Statement],
        widths: Sequence[int],
        also: str = "",
        *,
        bold: bool,
        keeps_next: bool,
    ) -> str:
        made = f"<w:tr><w:trPr><w:cantSplit/>{also}</w:trPr>"
        for cell, width, column in zip(cells, widths, table.columns, strict=True):
            style_id = self.styles["number" if column.is_number else "cell"]
            content = self.marks.statement(cell, bold=bold)
            made += f'<w:tc><w:tcPr><w:tcW w:w="{width}" w:type="dxa"/></w:tcPr>'
            made += f"{paragraph(style_id, content, keeps_next=keeps_next)}</w:tc>"
        return f"{made}</w:tr>"

    def _widths(self, table: Table) -> list[int]:
        """Share the width out by the longest cell of each column [twentieths of a point].

        No column is narrower than its longest word or number, as long as all of them fit.
        """
        texts = [
            [cells[place].words for cells in table.rows] for place in range(len(table.columns))
        ]
        longest = [
            max(map(len, [*column.heading.split(), *words]), default=0)
            for column, words in zip(table.columns, texts, strict=True)
        ]
        most = [
            MOST_OF_WORDS if _is_of_words(table)
            else MOST_OF_SOURCES if n > MOST_OF_WORDS
            else MOST_WEIGHT
            for n in longest
        ]  # fmt: skip
        weights = [
            max(LEAST_WEIGHT, min(cap, n + MARGINS_WEIGHT))
            for cap, n in zip(most, longest, strict=True)
        ]
        whole = self.width_inches * TWIPS_PER_INCH
        shares = [whole * weight / sum(weights) for weight in weights]
        return [int(width) for width in _widened(shares, _needs(table.columns, texts, whole))]

    def _picture(self, picture: Picture) -> str:
        rel_id, image = self.part.get_or_add_image(io.BytesIO(picture.png))
        ratio = image.px_height / image.px_width
        width = min(self.width_inches * PICTURE_SHARE, TALLEST_PICTURE_INCHES / ratio)
        size = f'cx="{int(width * EMU_PER_INCH)}" cy="{int(width * ratio * EMU_PER_INCH)}"'
        drawn = _inline(rel_id, size, f"{picture.name}.png", picture.alt_text)
        caption = self.marks.caption(
            self.styles["note"], "Chart", picture.caption, keeps_next=False
        )
        return paragraph(self.styles["picture"], drawn, keeps_next=True) + caption


def _is_of_words(table: Table) -> bool:
    return not any(column.is_number for column in table.columns)


def _keeps_next(table: Table, place: int) -> bool:
    """Whether a row stays on the page of what follows it: the next row, or the note."""
    rows_after = len(table.rows) - 1 - place
    if rows_after == 0:
        return bool(table.note)
    if _is_of_words(table):
        return False
    is_short = len(table.rows) <= MOST_ROWS_TOGETHER
    return is_short or min(place + 1, rows_after) < ROWS_WITH_AN_EDGE


def _needs(columns: Sequence[Column], texts: Sequence[Sequence[str]], whole: float) -> list[float]:
    """Room of the longest word of each column; of a number with its range, if all have room."""
    needs: list[float] = []
    for most in (MOST_UNBROKEN, 0):
        unbroken = [
            # a heading breaks at any space, a number at none that is its own
            [*column.heading.split()]
            + [
                word
                for text in words
                for word in ([text] if column.is_number and len(text) <= most else text.split(" "))
            ]
            for column, words in zip(columns, texts, strict=True)
        ]
        needs = [
            max(map(len, words), default=0) * TWIPS_PER_CHARACTER + TWIPS_BESIDE
            for words in unbroken
        ]
        if sum(needs) <= whole:
            break
    return needs


def _widened(shares: Sequence[float], needs: Sequence[float]) -> list[float]:
    """Widen columns to what they need, at the cost of those that have more than they need."""
    if all(share >= need for share, need in zip(shares, needs, strict=True)):
        return list(shares)
    spare = [max(0.0, share - need) for share, need in zip(shares, needs, strict=True)]
    left = sum(shares) - sum(needs)
    if left < 0.0:
        return [need * sum(shares) / sum(needs) for need in needs]
    return [need + left * one / sum(spare) for need, one in zip(needs, spare, strict=True)]


def _said(text: str) -> Statement:
    return Statement((text,))


def _inline(rel_id: str, size: str, name: str, alt_text: str) -> str:
    words = f"name={attribute(name)} descr={attribute(alt_text)}"
    return (
        f'<w:r><w:drawing><wp:inline xmlns:wp="{WP}" distT="0" distB="0" distL="0" distR="0">'
        f'<wp:extent {size}/><wp:docPr id="1" {words}/>'
        f'<wp:cNvGraphicFramePr><a:graphicFrameLocks xmlns:a="{DRAWING}" noChangeAspect="1"/>'
        "</wp:cNvGraphicFramePr>"
        f'<a:graphic xmlns:a="{DRAWING}"><a:graphicData uri="{PICTURE}">'
        f'<pic:pic xmlns:pic="{PICTURE}"><pic:nvPicPr><pic:cNvPr id="0" {words}/><pic:cNvPicPr/>'
        f'</pic:nvPicPr><pic:blipFill><a:blip xmlns:r="{RELATIONS}" r:embed="{rel_id}"/>'
        "<a:stretch><a:fillRect/></a:stretch></pic:blipFill><pic:spPr><a:xfrm>"
        f'<a:off x="0" y="0"/><a:ext {size}/></a:xfrm>'
        '<a:prstGeom prst="rect"><a:avLst/></a:prstGeom></pic:spPr></pic:pic>'
        "</a:graphicData></a:graphic></wp:inline></w:drawing></w:r>"
    )
