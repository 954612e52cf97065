"""The report, its parts and the papers: title, then what the planner fills in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from docx.enum.section import WD_ORIENT
from docx.enum.text import WD_ALIGN_PARAGRAPH, WD_TAB_ALIGNMENT, WD_TAB_LEADER
from docx.opc.constants import RELATIONSHIP_TYPE
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls
from docx.shared import Cm, Pt

from planner.paths import APPENDIX_FILE
from planner.report import style
from planner.report.document.building import BRIEF_KEYS, PAPER_KEYS
from templates.maker.shapes import add_style, field, finished, look, portrait_page

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docx.styles.style import ParagraphStyle
    from docx.text.paragraph import Paragraph

EDGE_CM = 2.2
TEXT_CM = 21.0 - 2 * EDGE_CM
"""Side margin, and the width between the margins of a portrait page."""

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
    return finished(word, "Year-end report")


def part_template() -> bytes:
    """Make the template of the brief and of the appendices: everything under one title."""
    word = _opened()
    word.add_paragraph("{{p everything }}")
    return finished(word, "Part of a year-end report")


def _opened() -> WordFile:
    """Open a portrait page with council, title and what the report covers, in little room."""
    word = _page()
    word.add_paragraph("{{ council }}", style="Subtitle")
    word.add_paragraph("{{ title }}", style="Title")
    note = "{{ subtitle }} {{ loaded_up_to }}"
    word.add_paragraph(note, style="Report Note")
    return word


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
    word = _page()
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
    return finished(word, "Purchase paper")


def _page() -> WordFile:
    word = portrait_page(EDGE_CM, 1.5, 1.3)
    _styles(word)
    _footer(word)
    return word


def _styles(word: WordFile) -> None:
    look(word.styles["Normal"], BODY, after=6.0)
    look(word.styles["Title"], 20.0, style.MAIN, bold=True, after=2.0)
    look(word.styles["Subtitle"], 11.0, style.MUTED, after=0.0)
    for name, points, before in HEADINGS:
        look(word.styles[name], points, style.MAIN, bold=True, before=before, after=5.0)
    look(word.styles["Caption"], SMALL, bold=True, before=10.0, after=4.0)
    look(word.styles["List Bullet"], BODY, after=3.0)
    look(word.styles["Body Text"], BODY, after=6.0)
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
        before = 4.0 if name == "Report Note" else 0.0
        is_bold = name == "Report Contents"
        look(add_style(word, name), points, colour, before=before, after=after, bold=is_bold)
    word.styles["Report Number"].paragraph_format.alignment = WD_ALIGN_PARAGRAPH.RIGHT
    word.styles["toc 2"].paragraph_format.left_indent = Cm(0.6)
    for name in ("toc 1", "toc 2"):
        stops = word.styles[name].paragraph_format.tab_stops
        stops.add_tab_stop(Cm(TEXT_CM), WD_TAB_ALIGNMENT.RIGHT, WD_TAB_LEADER.DOTS)
    word.styles["Report Contents"].paragraph_format.page_break_before = True
    _caution(word.styles["Report Caution"])
    word.styles.element.append(parse_xml(TABLE_STYLE))


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
    line._p.append(parse_xml(field("PAGE", "1")))
