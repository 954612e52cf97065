"""The household sheet and the thank-you letter: texts and pictures in their places."""

from __future__ import annotations

from typing import TYPE_CHECKING

from docx.enum.table import WD_TABLE_ALIGNMENT
from docx.enum.text import WD_BREAK
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls
from docx.shared import Cm, Pt

from planner.field.household_sheet import TEXTS
from planner.report import style
from templates.maker.shapes import add_style, field, finished, look, portrait_page

if TYPE_CHECKING:
    from docx.document import Document as WordFile
    from docx.table import Table, _Cell
    from docx.text.paragraph import Paragraph

TEXT_POINTS, TITLE_POINTS, HEADING_POINTS = 13.0, 22.0, 15.5
"""Well above the twelve points of clear print (common practice, no source)."""

LARGE_CM, SMALL_CM, WIDTH_CM = 4.3, 3.0, 18.4
"""Columns of a picture alone, of two side by side, and both columns of a page."""

GAP_POINTS = 8.0
TEXT_CM = WIDTH_CM / 2.0 - SMALL_CM
CALM, CAUTION = "EAF2F2", "FBF0DD"


def sheet_template() -> bytes:
    """Make the sheet: two pages of texts and pictures."""
    word = _begun()
    word.add_paragraph("{{ sheet_title }}", style="Title")
    word.add_paragraph("{{ council }}", style="Sheet Council")
    word.add_paragraph("{{ sheet_lead }}", style="Sheet Lead")
    _one_by_one(word, (("bin", "setup"), ("first", "first")))
    _side_by_side(word, "greens", "browns")
    _one_by_one(word, (("keepout", "keepout"),), shade=CAUTION)
    _side_by_side(word, "trays", "harvest")
    _gap(word).add_run().add_break(WD_BREAK.PAGE)
    _side_by_side(word, "use", "season")
    _troubles(word)
    _one_by_one(word, (("safe", "safe"),), shade=CAUTION)
    word.add_paragraph("{{ help_title }}", style="Heading 2")
    word.add_paragraph("{{ help_contact }}", style="Sheet Contact")
    word.add_paragraph("{{ help_stop }} {{ sheet_rules_first }}", style="Sheet Text")
    return finished(word, "Household sheet")


def letter_template() -> bytes:
    """Make the letter: texts of the language, and merge fields for a household."""
    word = _begun(margin_cm=2.5)
    word.add_paragraph("{{ council }}", style="Sheet Council")
    for name in ("full_name", "street_address", "postcode"):
        _field(word.add_paragraph(style="Sheet Text"), name)
    word.add_paragraph("{{ subject }}", style="Title").paragraph_format.space_before = Pt(30.0)
    greeting = word.add_paragraph("{{ greeting_before }}", style="Sheet Letter")
    _field(greeting, "full_name")
    greeting.add_run("{{ greeting_after }}")
    word.add_paragraph("{{ thanks }}", style="Sheet Letter")
    for name in ("own_words", "result_words"):
        _field(word.add_paragraph(style="Sheet Letter"), name)
    for text in ("next", "sign"):
        word.add_paragraph(f"{{{{ {text} }}}}", style="Sheet Letter")
    word.add_paragraph("{{ council }}", style="Sheet Letter")
    word.add_paragraph("{{ help_contact }}", style="Sheet Contact")
    return finished(word, "Thank-you letter")


def _begun(margin_cm: float = 1.4) -> WordFile:
    top_cm = min(margin_cm, 1.3)
    word = portrait_page(margin_cm, top_cm, top_cm)
    for name, points, colour, after, bold in (
        ("Normal", TEXT_POINTS, style.INK, 0.0, False),
        ("Title", TITLE_POINTS, style.MAIN, 1.0, True),
        ("Heading 2", HEADING_POINTS, style.MAIN, 2.0, True),
        ("List Bullet", TEXT_POINTS, style.INK, 2.5, False),
        ("Sheet Text", TEXT_POINTS, style.INK, 2.5, False),
        ("Sheet Letter", TEXT_POINTS + 0.5, style.INK, 10.0, False),
        ("Sheet Council", TEXT_POINTS, style.MUTED, 3.0, False),
        ("Sheet Lead", TEXT_POINTS + 0.5, style.INK, 5.0, False),
        ("Sheet Sign", TEXT_POINTS, style.INK, 0.0, True),
        ("Sheet Contact", TEXT_POINTS + 0.5, style.MAIN, 2.0, True),
        ("Sheet Picture", TEXT_POINTS, style.INK, 0.0, False),
    ):
        made = word.styles[name] if name in word.styles else add_style(word, name)
        look(made, points, colour, after=after, bold=bold)
        made.paragraph_format.line_spacing = 1.0
    word.styles["Sheet Contact"].paragraph_format.space_before = Pt(6.0)
    return word


def _table(word: WordFile, rows: int, widths_cm: tuple[float, ...]) -> Table:
    table: Table = word.add_table(rows, len(widths_cm))
    table.alignment, table.autofit = WD_TABLE_ALIGNMENT.CENTER, False
    for column, width in zip(table.columns, widths_cm, strict=True):
        column.width = Cm(width)
    for row in table.rows:
        # a section is never torn between two pages
        row._tr.get_or_add_trPr().append(parse_xml(f"<w:cantSplit {nsdecls('w')}/>"))
        for cell, width in zip(row.cells, widths_cm, strict=True):
            cell.width = Cm(width)
    return table


def _one_by_one(
    word: WordFile, sections: tuple[tuple[str, str], ...], shade: str | None = None
) -> None:
    table = _table(word, len(sections), (LARGE_CM, WIDTH_CM - LARGE_CM))
    for row, (picture, section) in zip(table.rows, sections, strict=True):
        _picture(row.cells[0], picture)
        _section(row.cells[1], section, TEXTS[section][1:])
        for cell in row.cells:
            if shade is not None:
                _shade(cell, shade)
    _gap(word)


def _side_by_side(word: WordFile, *names: str) -> None:
    row = _table(word, 1, 2 * (SMALL_CM, TEXT_CM))
    for place, name in enumerate(names):
        _picture(row.cell(0, 2 * place), name)
        _section(row.cell(0, 2 * place + 1), name, TEXTS[name][1:], bullets=False)
    _gap(word)


def _gap(word: WordFile) -> Paragraph:
    """Leave a little room between tables, which would grow into one without it."""
    gap = word.add_paragraph(style="Sheet Picture")
    gap.paragraph_format.line_spacing = Pt(GAP_POINTS)
    return gap


def _picture(cell: _Cell, name: str) -> None:
    cell.paragraphs[0].style = "Sheet Picture"
    cell.paragraphs[0].add_run(f"{{{{ picture_{name} }}}}")


def _section(cell: _Cell, section: str, names: tuple[str, ...], *, bullets: bool = True) -> None:
    cell.paragraphs[0].style = "Heading 2"
    cell.paragraphs[0].add_run(f"{{{{ {section}_title }}}}")
    for name in names:
        cell.add_paragraph(
            f"{{{{ {section}_{name} }}}}", style="List Bullet" if bullets else "Sheet Text"
        )


def _troubles(word: WordFile) -> None:
    word.add_paragraph("{{ trouble_title }}", style="Heading 2")
    signs = [section for section, names in TEXTS.items() if names == ("sign", "do")]
    table = _table(word, 1 + len(signs), (5.0, WIDTH_CM - 5.0))
    for row, section in zip(table.rows, ("trouble", *signs), strict=True):
        for cell, name in zip(row.cells, ("sign", "do"), strict=True):
            is_strong = name == "sign" or section == "trouble"
            cell.paragraphs[0].style = "Sheet Sign" if is_strong else "Sheet Text"
            cell.paragraphs[0].add_run(f"{{{{ {section}_{name} }}}}")
            if section == "trouble":
                _shade(cell, CALM)
    header = parse_xml(f"<w:tblHeader {nsdecls('w')}/>")
    table.rows[0]._tr.get_or_add_trPr().append(header)
    rule = f'w:val="single" w:sz="4" w:color="{style.RULE[1:]}"'
    borders = f"<w:tblBorders {nsdecls('w')}><w:insideH {rule}/><w:bottom {rule}/></w:tblBorders>"
    table._tbl.tblPr.append(parse_xml(borders))
    _gap(word)


def _shade(cell: _Cell, colour: str) -> None:
    fill = f'<w:shd {nsdecls("w")} w:val="clear" w:color="auto" w:fill="{colour}"/>'
    cell._tc.get_or_add_tcPr().append(parse_xml(fill))


def _field(paragraph: Paragraph, name: str) -> None:
    """Add a merge field of the word processor, filled from a workbook."""
    paragraph._p.append(parse_xml(field(f"MERGEFIELD {name}", f"«{name}»")))
