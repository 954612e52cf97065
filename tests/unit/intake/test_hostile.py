"""Files made to harm a reader end in one clear message, soon and in little memory.

Each file is built here by hand, smallest parts that do the harm. Time and memory are
measured in a process of its own: its peak must stay near that of reading nothing.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
import zipfile

import openpyxl
import pytest

from planner.errors import IntakeError
from planner.intake.headings import find_headings
from planner.intake.sheets import read_sheets
from planner.intake.vocabulary import Vocabulary
from planner.vetting.archive import CELLS_MOST, COLUMNS_MOST, PARTS_MOST

pytestmark = pytest.mark.thorough

MIB = 1024**2
SECONDS_MOST = 20.0
MEMORY_MOST = 700 * MIB
BOOK = (
    '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
    'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">'
    '<sheets><sheet name="costs" sheetId="1" r:id="r1"/></sheets></workbook>'
)
RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
LINKS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Id="r1" Type="{RELATION}/worksheet" Target="worksheets/sheet1.xml"/>'
    "{more}</Relationships>"
)
ROOT = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    f'<Relationship Id="r1" Type="{RELATION}/officeDocument" Target="xl/workbook.xml"/>'
    "</Relationships>"
)
TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)
SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    "<sheetData>{rows}</sheetData></worksheet>"
)
ODS = (
    '<office:document-content xmlns:office="o" xmlns:table="t" xmlns:text="x"><office:body>'
    "<office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
)


def workbook(path, rows="", more_links="", parts=(), sheet=None):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", TYPES)
        archive.writestr("_rels/.rels", ROOT)
        archive.writestr("xl/workbook.xml", BOOK)
        archive.writestr("xl/_rels/workbook.xml.rels", LINKS.format(more=more_links))
        archive.writestr("xl/worksheets/sheet1.xml", sheet or SHEET.format(rows=rows))
        for name, content in parts:
            archive.writestr(name, content)
    return path


def ods(path, tables):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", ODS.format(tables=tables))
    return path


def cell(reference, value=1):
    return f'<c r="{reference}"><v>{value}</v></c>'


def zeros(archive, name, size):
    """Write a part of `size` equal bytes without holding them."""
    with archive.open(name, "w", force_zip64=True) as part:
        for _ in range(size // MIB):
            part.write(b" " * MIB)


def bomb(path):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        zeros(archive, "xl/worksheets/sheet1.xml", 512 * MIB)
    return path


def lying_bomb(path):
    """Claim one MiB for a part that unpacks to 512."""
    bomb(path)
    content = bytearray(path.read_bytes())
    for sign, place in ((b"PK\x01\x02", 24), (b"PK\x03\x04", 22)):
        start = content.find(sign)
        content[start + place : start + place + 4] = MIB.to_bytes(4, "little")
    path.write_bytes(content)
    return path


def many_parts(path):
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(PARTS_MOST + 1):
            archive.writestr(f"p{number}", "")
    return path


def nested(path):
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("a", "b")
    return workbook(path, parts=[("xl/embeddings/a.bin", inner.getvalue())])


def entities(path):
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    doctype = f'<!DOCTYPE x [<!ENTITY l0 "ha">{laughs}]>'
    row = '<row r="1"><c r="A1" t="inlineStr"><is><t>&l9;</t></is></c></row>'
    return workbook(path, sheet=doctype + SHEET.format(rows=row))


def long_text_often(path):
    rows = "".join(f'<row r="{n}"><c r="A{n}" t="s"><v>0</v></c></row>' for n in range(1, 40_001))
    text = f"<sst><si><t>{os.urandom(16 * 1024).hex()}</t></si></sst>"
    return workbook(path, rows, parts=[("xl/sharedStrings.xml", text)])


def long_text_often_in_other_quotes(path):
    """Write cell types as other programs may, all of one long text."""
    return workbook(
        path,
        "".join(
            f"""<row r="{n}"><c r="A{n}" {"t='s'" if n % 2 else 't = "s"'}><v>0</v></c></row>"""
            for n in range(1, 60_001)
        ),
        parts=[("xl/sharedStrings.xml", f"<sst><si><t>{'ab' * 16_384}</t></si></sst>")],
    )


def far_reference(path):
    return workbook(path, '<row r="1"><c r="a99999999999"><v>1</v></c></row>')


def unnumbered(path):
    """Cells and rows without places: a rectangle of 30,000 rows, the last very wide."""
    rows = "<row><c><v>1</v></c></row>" * 30_000 + "<row>" + "<c><v>1</v></c>" * 20_000 + "</row>"
    return workbook(path, rows)


def prefixed(path):
    row = '<x:row r="1"><x:c r="A1"><x:v>1</x:v></x:c></x:row><x:row r="1048576">'
    row += '<x:c r="XFD1048576"><x:v>1</x:v></x:c></x:row>'
    sheet = f'<x:worksheet xmlns:x="y"><x:sheetData>{row}</x:sheetData></x:worksheet>'
    return workbook(path, sheet=sheet)


def ods_row(repeat="", cells=""):
    return f"<table:table-row {repeat}>{cells}</table:table-row>"


def ods_cell(attributes="", text="1"):
    kind = 'office:value-type="string"'
    return f"<table:table-cell {attributes} {kind}><text:p>{text}</text:p></table:table-cell>"


MILLION = 'table:number-rows-repeated="1048576"'
WIDE = 'table:number-columns-repeated="16384"'
OUTSIDE = f'<Relationship Id="r2" Type="{RELATION}/%s" Target="%s" TargetMode="External"/>'
FILES = {
    "bomb.xlsx": (bomb, "unpacks to more than 200 times its size"),
    "lying.xlsx": (lying_bomb, "holds more than it claims"),
    "parts.xlsx": (many_parts, "more than 5,000 parts"),
    "nested.xlsx": (nested, "holds another archive"),
    "entities.xlsx": (entities, "defines entities of its own"),
    "long-text.xlsx": (long_text_often, "same long text"),
    "unnumbered.xlsx": (unnumbered, "spans 20,000 columns"),
    "prefixed.xlsx": (prefixed, "spans 16,384 columns"),
    "corner.xlsx": (
        lambda path: workbook(
            path, f'<row r="1">{cell("A1")}</row><row>{cell("XFD1048576")}</row>'
        ),
        "spans 16,384 columns",
    ),
    "columns.xlsx": (
        lambda path: workbook(path, f'<row r="1">{cell("A1")}{cell("ALM1")}</row>'),
        "spans 1,001 columns",
    ),
    "rows.xlsx": (
        lambda path: workbook(path, f"<row>{cell('CV1')}</row><row>{cell('A9999999')}</row>"),
        "spans 9,999,999 rows",
    ),
    "utf16.xlsx": (
        lambda path: workbook(path, sheet=SHEET.format(rows="").encode("utf-16")),
        "not plain text",
    ),
    "linked.xlsx": (
        lambda path: workbook(path, parts=[("xl/externalLinks/externalLink1.xml", "<a/>")]),
        "links to other files",
    ),
    "picture.xlsx": (
        lambda path: workbook(path, more_links=OUTSIDE % ("image", "https://example.org/a.png")),
        "links to other files",
    ),
    "twins.ods": (
        lambda path: ods(path, f"<table:table>{ods_row(MILLION, ods_cell(WIDE))}</table:table>"),
        "same long text",
    ),
    "gap.ods": (
        lambda path: ods(
            path,
            "<table:table>"
            + ods_row("", f"<table:table-cell {WIDE}/>{ods_cell()}")
            + "</table:table>",
        ),
        "spans 16,385 columns",
    ),
    "rows.ods": (
        lambda path: ods(
            path,
            "<table:table>"
            + ods_row('table:number-rows-repeated="399999"', ods_cell(WIDE.replace("16384", "40")))
            + "</table:table>",
        ),
        "repeats a filled cell",
    ),
    "spaces.ods": (
        lambda path: ods(
            path,
            "<table:table>"
            + ods_row("", ods_cell(text='<text:s text:c="4000000000"/>'))
            + "</table:table>",
        ),
        "repeats spaces",
    ),
    "texts.ods": (
        lambda path: ods(
            path,
            "<table:table>"
            + ods_row('table:number-rows-repeated="100000"', ods_cell(text="x" * 20_000))
            + "</table:table>",
        ),
        "same long text",
    ),
    "dde.ods": (
        lambda path: ods(path, '<table:table><table:table-source xlink="a"/></table:table>'),
        "links to other files",
    ),
    "quotes.xlsx": (long_text_often_in_other_quotes, "the same long text"),
    "far.xlsx": (far_reference, "not read: it asks for more|breaks the reader"),
    "lines.csv": (
        lambda path: path.write_text("a," * 900 + "\n" * 500_000) and path,
        "500,001 lines of 901 cells",
    ),
    "deep.ods": (lambda path: ods(path, "<a>" * 100_000 + "</a>" * 100_000), "nest too deep"),
    "half.xlsx": (lambda path: path.write_bytes(b"PK\x03\x04" * 10) and path, "cannot be read"),
    "locked.xlsx": (
        lambda path: path.write_bytes(b"\xd0\xcf\x11\xe0" * 500) and path,
        "take off any password",
    ),
    "zeros.csv": (
        lambda path: path.write_bytes(b"a,b\n\x00\x00") and path,
        "bytes that are not text",
    ),
    "wide.csv": (lambda path: path.write_text("a," * 5_000) and path, "5,001 cells"),
    "book.csv": (lambda path: workbook(path), "Name it .xlsx"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_hostile_file_is_refused_with_its_reason(tmp_path, name):
    build, told = FILES[name]
    path = build(tmp_path / name)
    began = time.monotonic()
    with pytest.raises(IntakeError, match=told) as refused:
        read_sheets(path)
    assert time.monotonic() - began < SECONDS_MOST
    assert str(refused.value).startswith(name)


def test_long_cells_of_blanks_and_long_headings_are_read_in_no_time(tmp_path):
    path = tmp_path / "blanks.csv"
    path.write_text("a,b\n" + "x" + " " * 100_000 + "!,2\n" + "fed kg " * 20_000 + ",2\n")
    began = time.process_time()
    (sheet,), _ = read_sheets(path)
    assert find_headings(sheet, Vocabulary({}, {})) is None
    assert time.process_time() - began < SECONDS_MOST / 4


MEASURE = """
import sys
from pathlib import Path
from planner.errors import IntakeError
from planner.intake.sheets import read_sheets
try:
    read_sheets(Path(sys.argv[1]))
except IntakeError:
    status = Path("/proc/self/status").read_text(encoding="ascii")
    print(status.split("VmHWM:")[1].split()[0])
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the peak is read from /proc")
@pytest.mark.parametrize("name", ["bomb.xlsx", "lying.xlsx", "long-text.xlsx", "prefixed.xlsx"])
def test_a_hostile_file_takes_little_memory(tmp_path, name):
    path = FILES[name][0](tmp_path / name)
    ended = subprocess.run(
        [sys.executable, "-c", MEASURE, str(path)], capture_output=True, text=True, check=True
    )
    assert 0 < int(ended.stdout) * 1024 < MEMORY_MOST


def test_a_mail_address_that_a_spreadsheet_made_a_link_is_no_fault(tmp_path):
    path = tmp_path / "contacts.xlsx"
    book = openpyxl.Workbook()
    book.active.append(["ada@example.org"])
    book.active["A1"].hyperlink = "mailto:ada@example.org"
    book.save(path)
    (sheet,), _ = read_sheets(path)
    assert sheet.cells["cell_0"].to_list() == ["ada@example.org"]


@pytest.mark.parametrize("first", ['<c r="A2"', "<c s='0' r='A2'"])
def test_rows_that_would_hide_one_another_are_refused_and_a_list_of_formulas_is_not(
    tmp_path, first
):
    rows = "".join(f"<row>{cell(f'A{n}')}{cell(f'B{n}')}</row>" for n in (1, 2))
    chain = ("xl/calcChain.xml", '<calcChain><c r="A2" i="1"/><c r="A2" i="2"/></calcChain>')
    rows = rows.replace('<c r="A2"', first)
    assert read_sheets(workbook(tmp_path / "sound.xlsx", rows, parts=[chain]))[0]
    with pytest.raises(IntakeError, match="two of its cells have one place"):
        read_sheets(workbook(tmp_path / "hiding.xlsx", rows + f"<row>{first}><v>9</v></c></row>"))


@pytest.mark.parametrize("first", ['<c r="A1"', "<c s='0' r='A1'"])
@pytest.mark.parametrize("block", ["<sheetData>", "<sheetData >", "<x:sheetData>"])
def test_a_second_block_of_rows_is_refused_rather_than_dropped(tmp_path, first, block):
    rows = f'<row r="1">{cell("A1")}</row>'.replace('<c r="A1"', first)
    end = block.replace("<", "</").replace(" ", "")
    more = f'</sheetData>{block}<row r="2">{cell("A2")}</row>{end}<sheetData>'
    with pytest.raises(IntakeError, match=r"two blocks of rows|not well written"):
        read_sheets(workbook(tmp_path / "two.xlsx", rows + more))


def test_cells_that_are_only_formatted_do_not_count(tmp_path):
    last = '<row r="1048576"><c r="B1048576" s="1"/></row>'
    rows = f'<row r="1">{cell("A1", 7)}<c r="XFD1" s="1"/></row>{last}'
    (sheet,), _ = read_sheets(workbook(tmp_path / "wide.xlsx", rows))
    assert sheet.cells["cell_0"].to_list() == ["7"]


def test_the_bounds_leave_room_for_a_million_households_of_the_widest_table():
    widest, rows = 15, 1_000_000
    assert widest * rows < CELLS_MOST
    assert widest < COLUMNS_MOST
