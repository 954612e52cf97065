"""Make the planner's own templates: `python -m planner.report.word.starting`."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

from docx import Document
from docx.enum.section import WD_ORIENT
from docx.enum.style import WD_STYLE_TYPE
from docx.enum.text import WD_ALIGN_PARAGRAPH, WD_TAB_ALIGNMENT, WD_TAB_LEADER
from docx.opc.constants import RELATIONSHIP_TYPE
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls, qn
from docx.shared import Cm, Pt, RGBColor

from planner.paths import APPENDIX_FILE
from planner.report import style
from planner.report.document.building import BRIEF_KEYS, PAPER_KEYS
from planner.report.word.placeholders import OWN_TEMPLATE, PAPER_TEMPLATE, PART_TEMPLATE
from planner.workbooks import restamped

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docx.styles.style import ParagraphStyle
    from docx.text.paragraph import Paragraph

EDGE_CM = 2.2
TEXT_CM = 21.0 - 2 * EDGE_CM
"""Side margin, and the width between the margins of a portrait page."""

MADE_ON = dt.datetime(2026, 1, 1)
BODY, SMALL = 10.0, 9.0
HEADINGS = (("Heading 1", 15.0, 8.0), ("Heading 2", 12.0, 10.0), ("Heading 3", 10.5, 8.0))
TO_APPENDICES = "{{ to_appendices }}"

TABLE_STYLE = f"""
<w:style {nsdecls("w")} w:type="table" w:customStyle="1" w:styleId="ReportTable">
 <w:name w:val="Report Table"/><w:basedOn w:val="TableNormal"/><w:uiPriority w:val="99"/>
 <w:tblPr><w:tblBorders>
  <w:top w:val="single" w:sz="8" w:color="{style.MAIN[1:]}"/>
  <w:bottom w:val="single" w:sz="8" w:color="{style.MAIN[1:]}"/>
  <w:insideH w:val="single" w:sz="4" w:color="{style.RULE[1:]}"/></w:tblBorders>
  <w:tblCellMar><w:top w:w="40" w:type="dxa"/><w:left w:w="70" w:type="dxa"/>
  <w:bottom w:w="40" w:type="dxa"/><w:right w:w="70" w:type="dxa"/></w:tblCellMar></w:tblPr>
 <w:tblStylePr w:type="firstRow"><w:tcPr><w:tcBorders>
  <w:bottom w:val="single" w:sz="8" w:color="{style.MAIN[1:]}"/></w:tcBorders>
  <w:shd w:val="clear" w:color="auto" w:fill="{style.SHADE[1:]}"/></w:tcPr></w:tblStylePr>
</w:style>"""


def starting_template() -> bytes:
    """Make the template: the brief on the first page, then contents and the other sections."""
    word = _opened()
    for key in BRIEF_KEYS:
        word.add_paragraph(f"{{{{p {key} }}}}")
    word.add_paragraph("{{ contents_title }}", style="Report Contents")
    word.add_paragraph("{{p contents }}")
    _link(word.add_paragraph(TO_APPENDICES, style="Report Note"), APPENDIX_FILE)
    for key in PAPER_KEYS:
        if key not in BRIEF_KEYS:
            word.add_paragraph(f"{{{{p {key} }}}}")
    return _finished(word, "Year-end report")


def part_template() -> bytes:
    """Make the template of the brief and of the appendices: everything under one title."""
    word = _opened()
    word.add_paragraph("{{p everything }}")
    return _finished(word, "Part of a year-end report")


def _opened() -> WordFile:
    """Open a portrait page with council, title and what the report covers, in little room."""
    word = Document()
    _page(word)
    _styles(word)
    word.add_paragraph("{{ council }}", style="Subtitle")
    word.add_paragraph("{{ title }}", style="Title")
    note = "{{ subtitle }} {{ loaded_up_to }}"
    word.add_paragraph(note, style="Report Note")
    return word


def _finished(word: WordFile, title: str) -> bytes:
    _footer(word)
    properties = word.core_properties
    properties.title, properties.author, properties.comments = title, "planner", ""
    properties.created = properties.modified = MADE_ON
    out = io.BytesIO()
    word.save(out)
    return restamped(out.getvalue(), MADE_ON)


def _link(line: Paragraph, file: str) -> None:
    """Add a link to a file in the same folder."""
    rel_id = line.part.relate_to(file, RELATIONSHIP_TYPE.HYPERLINK, is_external=True)
    link = (
        f'<w:hyperlink {nsdecls("w", "r")} r:id="{rel_id}"><w:r><w:rPr><w:u w:val="single"/>'
        f"</w:rPr><w:t>{file}</w:t></w:r></w:hyperlink>"
    )
    line._p.append(parse_xml(link))


def paper_template() -> bytes:
    """Make the template of purchase orders and their like: title, then everything."""
    word = Document()
    _page(word)
    _styles(word)
    page = word.sections[0]
    # an order has many columns: across the page, none of its numbers is broken
    page.orientation = WD_ORIENT.LANDSCAPE
    page.page_width, page.page_height = page.page_height, page.page_width
    word.styles["Heading 1"].font.size = Pt(12.0)
    word.styles["Heading 1"].paragraph_format.space_before = Pt(10.0)
    word.add_paragraph("{{ council }}", style="Subtitle").paragraph_format.space_after = Pt(6.0)
    word.add_paragraph("{{ title }}", style="Title")
    word.add_paragraph("{{ subtitle }}", style="Report Lead")
    word.add_paragraph("{{p everything }}")
    return _finished(word, "Purchase paper")


def _page(word: WordFile) -> None:
    page = word.sections[0]
    page.page_width, page.page_height = Cm(21.0), Cm(29.7)
    page.left_margin = page.right_margin = Cm(EDGE_CM)
    page.top_margin, page.bottom_margin = Cm(1.5), Cm(1.3)


def _styles(word: WordFile) -> None:
    _look(word.styles["Normal"], BODY, after=6.0)
    _look(word.styles["Title"], 20.0, style.MAIN, bold=True, after=2.0)
    _borderless(word.styles["Title"])
    _look(word.styles["Subtitle"], 11.0, style.MUTED, after=0.0)
    for name, points, before in HEADINGS:
        _look(word.styles[name], points, style.MAIN, bold=True, before=before, after=5.0)
    _look(word.styles["Caption"], SMALL, bold=True, before=10.0, after=4.0)
    _look(word.styles["List Bullet"], BODY, after=3.0)
    _look(word.styles["Body Text"], BODY, after=6.0)
    for name, points, colour, after in (
        ("Report Lead", 11.5, style.INK, 6.0),
        ("Report Note", SMALL, style.MUTED, 8.0),
        ("Report Cell", SMALL, style.INK, 0.0),
        ("Report Number", SMALL, style.INK, 0.0),
        ("Report Picture", BODY, style.INK, 2.0),
        ("Report Contents", 13.0, style.MAIN, 6.0),
        ("Report Caution", BODY, style.INK, 6.0),
        ("toc 1", BODY, style.INK, 3.0),
        ("toc 2", SMALL, style.INK, 2.0),
    ):
        made = word.styles.add_style(name, WD_STYLE_TYPE.PARAGRAPH)
        made.base_style = word.styles["Normal"]
        before = 4.0 if name == "Report Note" else 0.0
        _look(made, points, colour, before=before, after=after, bold=name == "Report Contents")
    word.styles["Report Number"].paragraph_format.alignment = WD_ALIGN_PARAGRAPH.RIGHT
    word.styles["toc 2"].paragraph_format.left_indent = Cm(0.6)
    for name in ("toc 1", "toc 2"):
        stops = word.styles[name].paragraph_format.tab_stops
        stops.add_tab_stop(Cm(TEXT_CM), WD_TAB_ALIGNMENT.RIGHT, WD_TAB_LEADER.DOTS)
    word.styles["Report Contents"].paragraph_format.page_break_before = True
    _caution(word.styles["Report Caution"])
    word.styles.element.append(parse_xml(TABLE_STYLE))


def _look(
    made: ParagraphStyle,
    points: float,
    colour: str = style.INK,
    *,
    bold: bool = False,
    before: float = 0.0,
    after: float = 0.0,
) -> None:
    font = made.font
    font.name, font.size, font.bold, font.italic = style.SHEET_FONT, Pt(points), bold, False
    font.color.rgb = RGBColor.from_string(colour[1:])
    fonts = made.element.get_or_add_rPr().get_or_add_rFonts()
    for name in list(fonts.attrib):
        if name.endswith("Theme"):
            del fonts.attrib[name]
    for script in ("w:ascii", "w:hAnsi", "w:cs", "w:eastAsia"):
        fonts.set(qn(script), style.SHEET_FONT)
    made.paragraph_format.space_before, made.paragraph_format.space_after = Pt(before), Pt(after)


def _borderless(made: ParagraphStyle) -> None:
    for border in made.element.get_or_add_pPr().findall(qn("w:pBdr")):
        made.element.pPr.remove(border)


def _caution(made: ParagraphStyle) -> None:
    """Set a rule beside what warns."""
    made.paragraph_format.left_indent = Cm(0.4)
    bar = f'<w:left w:val="single" w:sz="24" w:space="8" w:color="{style.ACCENT[1:]}"/>'
    border = parse_xml(f"<w:pBdr {nsdecls('w')}>{bar}</w:pBdr>")
    made.element.get_or_add_pPr().insert_element_before(
        border, "w:shd", "w:tabs", "w:spacing", "w:ind", "w:jc"
    )


def _footer(word: WordFile) -> None:
    line = word.sections[0].footer.paragraphs[0]
    line.style = word.styles["Report Note"]
    line.add_run("{{ council }}, {{ title }}. {{ page_word }} ")
    field = f'<w:fldSimple {nsdecls("w")} w:instr=" PAGE "><w:r><w:t>1</w:t></w:r></w:fldSimple>'
    line._p.append(parse_xml(field))


if __name__ == "__main__":
    OWN_TEMPLATE.write_bytes(starting_template())
    PAPER_TEMPLATE.write_bytes(paper_template())
    PART_TEMPLATE.write_bytes(part_template())
