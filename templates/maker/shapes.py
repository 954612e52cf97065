"""What all templates are made with: an A4 page, styles in the sheet's font, a file of one day."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

from docx import Document
from docx.enum.style import WD_STYLE_TYPE
from docx.oxml.ns import nsdecls, qn
from docx.shared import Cm, Pt, RGBColor

from planner.report import style
from planner.workbooks import restamped

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docx.styles.style import ParagraphStyle

MADE_ON = dt.datetime(2026, 1, 1)


def portrait_page(side_cm: float, top_cm: float, bottom_cm: float) -> WordFile:
    """Open a document of A4 pages with these margins."""
    word = Document()
    page = word.sections[0]
    page.page_width, page.page_height = Cm(21.0), Cm(29.7)
    page.left_margin = page.right_margin = Cm(side_cm)
    page.top_margin, page.bottom_margin = Cm(top_cm), Cm(bottom_cm)
    for border in word.styles["Title"].element.get_or_add_pPr().findall(qn("w:pBdr")):
        word.styles["Title"].element.pPr.remove(border)
    return word


def add_style(word: WordFile, name: str) -> ParagraphStyle:
    """Add a style of paragraphs that differs from the normal one in what is set later."""
    made: ParagraphStyle = word.styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH)
    made.base_style = word.styles["Normal"]
    return made


def look(
    made: ParagraphStyle,
    points: float,
    colour: str = style.INK,
    *,
    bold: bool = False,
    before: float = 0.0,
    after: float = 0.0,
) -> None:
    """Set a style's letters, and the points of room before and after a paragraph."""
    font = made.font
    font.name, font.size, font.bold, font.italic = style.SHEET_FONT, Pt(points), bold, False
    font.color.rgb = RGBColor.from_string(colour[1:])
    fonts = made.element.get_or_add_rPr().get_or_add_rFonts()
    # a font of the theme would win over the one that is named
    for name in [name for name in fonts.attrib if name.endswith("Theme")]:
        del fonts.attrib[name]
    for script in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(script), style.SHEET_FONT)
    made.paragraph_format.space_before, made.paragraph_format.space_after = Pt(before), Pt(after)


def field(instruction: str, shown: str) -> str:
    """Write a field that the word processor fills in."""
    text = f"<w:r><w:t>{shown}</w:t></w:r>"
    return f'<w:fldSimple {nsdecls("w")} w:instr=" {instruction} ">{text}</w:fldSimple>'


def finished(word: WordFile, title: str) -> bytes:
    """Save with a fixed day, so that the same template is made to the same bytes."""
    properties = word.core_properties
    properties.title, properties.author, properties.comments = title, "planner", ""
    properties.created = properties.modified = MADE_ON
    out = io.BytesIO()
    word.save(out)
    return restamped(out.getvalue(), MADE_ON)
