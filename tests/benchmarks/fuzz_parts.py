# ruff: noqa: E501 - a place a line
# fmt: off
"""Damage that knows a format: its parts, links, styles, names, merged cells, repeats, encodings.

`PLACES` says, for each kind of file, what stands somewhere in it and what is put there instead, a
`{}` standing for what was there. A ledger of known costs is written in many layouts that all show
the same to a person (`laid_out`): whatever is taken in of one must be among those costs.
"""

from __future__ import annotations

import codecs
import io
import re
import zipfile
from collections.abc import Sequence
from typing import TypeVar

import numpy as np

from tests.benchmarks.outsider import (
    DAY_ONE,
    HEADINGS,
    SERIALS,
    TRUTH,
    book_parts,
    open_cell,
    open_row,
    open_sheet,
    packed,
    sheet,
    text_cell,
)

_One = TypeVar("_One")
_MERGES = tuple(
    f'{{}}<mergeCells count="1"><mergeCell ref="{area}"/></mergeCells>'
    for area in ("A3:H3", "A1:A9", "B4:B6", "A1:XFD1048576", "C5:B2", "A5", "A5:", "ZZZZ1:A2")
)
_NAMES = tuple(
    f'<definedNames>{"".join(f"<definedName name={name!r} {more}>{text}</definedName>" for name, more, text in several)}</definedNames>'
    for several in (
        [("_xlnm.Print_Titles", "localSheetId='0'", "costs!$1:$1")], [("a", "", "a+1")], [("A1", "", "costs!$A$1")],
        [("_xlnm._FilterDatabase", "hidden='1' localSheetId='9'", "#REF!")], [("x", "function='1' vbProcedure='1'", "cmd|'/C calc'!A0")],
        [("twice", "", "1"), ("twice", "", "2")], [(f"n{number}", "", f"n{number + 1}") for number in range(300)],
        [("far", "", "'[1]other book'!$A$1")], [("&lt;b&gt;", "", "&#55296;")], [("", "localSheetId='-1'", "")],
    )
)
_SHEETS = (
    (r'<c r="[A-Z]+\d+"', ("<c", '<c r="A1"', '<c r="XFD1048576"', '<c r="B3"', '<c r="b2"', '<c r="$A$2"', '<c r="A02"', '<c r=""', '<c r="A1:B2"', '<c r="ZZZZ7"')),
    (r' t="\w+"', ("", ' t="s"', ' t="b"', ' t="e"', ' t="d"', ' t="n"', ' t="str"', " t='inlineStr'", ' t="S"', ' t=""')),
    (r"<is>.*?</is>", ("<is/>", "<v>3</v>", "{}{}", "<is><r><rPr><b/></rPr><t>x</t></r><r><t> y</t></r></is>", "<is><t>_x000D__x0000_</t></is>",
        '<is><t xml:space="preserve">  </t></is>', "<is><rPh sb='0' eb='9'><t>see</t></rPh></is>", "<is><t>2025-02-30</t></is>", "<is><t>&#x1F4A7;&#13;</t></is>", "<f>A1&amp;B1</f>{}")),
    (r"<v>[^<]*</v>", ("<v/>", "<v>1E5</v>", "<v>45000.999988426</v>", "<v>-1</v>", "<v>60</v>", "<v>2958466</v>", "<v>0.30000000000000004</v>", "<f>1/0</f>{}",
        '<f t="shared" si="9"/>{}', "<v>#DIV/0!</v>", "<v> 12 </v>", "<v>12</v><v>13</v>", "<v>TRUE</v>", "<v>1,5</v>", "<f>NOW()</f>", "<v>&#48;</v>", "<v>9007199254740993</v>")),
    (r' s="\d+"', ("", ' s="0"', ' s="2"', ' s="7"', ' s="99"', ' s="-1"', ' s="4294967296"')),
    (r'<row r="\d+"', ("<row", '<row r="2"', '<row r="1048576"', '<row r="0"', '{} hidden="1"', '{} spans="1:1"', '{} outlineLevel="9"', '<row r="4.0"', '<row r="1048577"')),
    (r'<row r="\d+".*?</row>', ("", "{}{}", "<row/>{}", "<row><c/></row>{}", "<!-- {} -->", "<mc:AlternateContent>{}</mc:AlternateContent>", "<extLst>{}</extLst>")),
    (r"</sheetData>", (*_MERGES, '{}<autoFilter ref="A3:C9"/>', "{}<sheetData/>", '{}<dataValidations count="1"><dataValidation type="list" sqref="A1:XFD99"><formula1>"a,b"</formula1></dataValidation></dataValidations>',
        '{}<legacyDrawing r:id="rId1"/>', '{}<tableParts count="1"><tablePart r:id="rId1"/></tableParts>', '{}<oleObjects><oleObject progId="x"/></oleObjects>', "{}<conditionalFormatting sqref='A1'/>")),
    (r"<dimension[^>]*>", ("", '<dimension ref="A1"/>', '<dimension ref="A1:XFD1048576"/>', '<dimension ref="x"/>', '<dimension ref="B9:A1"/>')),
    (r"<t>[^<]*</t>", ("<t/>", "<t>total</t>", "<t>example</t>", "<t>1/2/2025</t>", "<t>2 Aug</t>", "<t>7 kg</t>", "<t>&lt;b&gt;</t>", "<t>=1+1</t>", "<t>\u202e{}</t>", "<t>n/a</t>", "<t>15 €</t>", "<t>#REF!</t>")),
)
_BOOK = (
    (r"<definedNames/>|</sheets>", tuple("{}" + names for names in _NAMES)),
    (r"<sheet [^>]*/>", ("", "{}{}", '<sheet name="x" sheetId="1"/>')),
    (r' name="\w+"', (' name=""', f' name="{"n" * 300}"', ' name="costs"', " name='Costs '", ' name="&#9;"', ' name="answers 2025"', ' name="../x"', ' name="[x]"')),
    (r' r:id="\w+"', ("", ' r:id="rId1"', ' r:id="rId99"', ' r:id="rId7"')),
    (r' state="\w+"', (' state="hidden"', ' state="veryHidden"', ' state="x"')),
    (r"<workbookPr[^>]*>", ('<workbookPr date1904="1"/>', '<workbookPr date1904="on"/>', "<workbookPr/><workbookPr/>")),
)
_STYLES = (
    (r'numFmtId="\d+"', tuple(f'numFmtId="{number}"' for number in (0, 1, 9, 10, 14, 15, 18, 22, 45, 49, 57, 164, 165, 9999, -1))),
    (r'formatCode="[^"]*"', tuple(f'formatCode="{code}"' for code in ("[h]:mm", "0&quot;d&quot;", "yyyy&quot;-&quot;m", "General;[Red]", "", "@", "[$-409]d mmm", "0" * 300, "[Magenta]ss.000"))),
    (r"<xf .*?(?:/>|</xf>)", ("", "{}{}", "<xf/>")), (r"<cellXfs.*?</cellXfs>", ("", "<cellXfs/>")),
)
_LINKS = (
    (r' Target="[^"]*"', tuple(f' Target="{target}"' for target in ("", "/", "../../x.xml", "worksheets/sheet1.xml", "/xl/worksheets/sheet2.xml", "styles.xml",
        "http://example.org/x", "file:///etc/passwd", "xl%2Fworkbook.xml", "worksheets\\sheet1.xml", "sheet1.xml#a", "\u202e"))),
    (r"<Relationship [^>]*/>", ("", "{}{}")), (r' Id="\w+"', (' Id="rId1"', "", ' Id=""')),
    (r' Type="[^"]*/(\w+)"', tuple(f' Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/{kind}"' for kind in
        ("worksheet", "chartsheet", "dialogsheet", "externalLink", "vbaProject", "sharedStrings", "image", "attachedTemplate", "oleObject"))),
    (r'Target="', ('TargetMode="External" {}',)),
)
_TYPES = (
    (r"<Override [^>]*/>", ("", "{}{}")), (r"<Default [^>]*/>", ("", '<Default Extension="xml" ContentType="text/html"/>')),
    (r'ContentType="[^"]*"', ('ContentType=""', 'ContentType="application/vnd.ms-excel.sheet.macroEnabled.main+xml"', 'ContentType="application/xml"')),
    (r'PartName="[^"]*"', ('PartName="/xl/workbook.xml"', 'PartName="x"', 'PartName="/"')),
)
_REPEATS = (0, 1, 2, 3, 70, 1000, 65536, 1048576, 2**31, 10**13, -1)
_OPEN = (
    (r"<table:table-row", (*tuple(f'{{}} table:number-rows-repeated="{times}"' for times in (*_REPEATS, "x")), '{} table:visibility="collapse"', '{} table:visibility="filter"')),
    (r"<table:table-cell", (*tuple(f'{{}} table:number-columns-repeated="{times}"' for times in _REPEATS), "<table:covered-table-cell", '{} table:number-columns-spanned="3" table:number-rows-spanned="2"', '{} table:formula="of:=1/0"', '{} table:number-matrix-rows-spanned="9"')),
    (r'office:value-type="\w+"', (*tuple(f'office:value-type="{kind}" {more}' for kind, more in (("float", 'office:value="3"'), ("float", ""), ("float", 'office:value="1e400"'), ("date", 'office:date-value="2025-07-01"'), ("date", 'office:date-value="2025-02-30"'), ("date", 'office:date-value="2025-07-01T24:00:00"'), ("time", 'office:time-value="PT5H"'), ("percentage", 'office:value="0.5"'), ("currency", 'office:value="5" office:currency="EUR"'), ("boolean", 'office:boolean-value="true"'), ("void", ""))), "")),
    (r"<text:p>[^<]*</text:p>", ("", "{}{}", "<text:p/>", "<text:p>a<text:s text:c='9999999'/>b</text:p>", "<text:p><text:tab/><text:line-break/></text:p>", "<office:annotation>{}</office:annotation>{}",
        "<text:list><text:list-item>{}</text:list-item></text:list>", "<text:p><text:a xlink:href='file:///etc/passwd'>x</text:a></text:p>", "<draw:frame>{}</draw:frame>", "<text:p><text:ruby>x</text:ruby></text:p>")),
    (r"<table:table-row.*?</table:table-row>", ("", "{}{}", "<table:table-row-group>{}</table:table-row-group>", "<table:table-header-rows>{}</table:table-header-rows>", "<table:table-rows>{}</table:table-rows>",
        "<table:tracked-changes>{}</table:tracked-changes>", "<!-- {} -->", "<table:table-row/>{}", "<table:table-row-group table:display='false'>{}</table:table-row-group>")),
    (r"</table:table>", ("{}<table:table table:name='x'/>", "<table:table table:name='in'>{}{}", "{}<table:named-expressions/>", "<table:shapes/>{}", "<table:table-source xlink:href='x.ods'/>{}")),
    (r'table:name="[^"]*"', ('table:name=""', f'table:name="{"n" * 300}"', 'table:name="costs"', "", 'table:name="&#9;"')),
    (r'xmlns:\w+="[^"]*"', ("", 'xmlns:table="x"')),
)
_WORDS = (
    (r"<w:t[^>]*>[^<]*</w:t>", (*tuple(f"<w:t>{text}</w:t>" for text in ("{{ title }}", "{{ title", "}}", "{% for a in everything %}", "{% endfor %}", "{%p if title %}", "{{r title }}", "{{p everything }}", "{{ title|upper }}", "{{ everything[0].x }}", "{# x", "{{ 'a' * 99999999 }}", "{% set a = 1 %}{{ a }}", "{%- raw -%}", "{{ title ~ title }}", "{{ 7 // 0 }}")), "", "{}{}")),
    (r"<w:p[ >].*?</w:p>", ("", "{}{}", "<w:tbl><w:tr><w:tc>{}</w:tc></w:tr></w:tbl>", "<w:sdt><w:sdtContent>{}</w:sdtContent></w:sdt>", "<w:ins>{}</w:ins>", "<w:txbxContent>{}</w:txbxContent>", "<w:p/>")),
    (r"<w:r[ >].*?</w:r>", ("", "{}{}", "<w:hyperlink r:id='rId99'>{}</w:hyperlink>", "<w:fldSimple w:instr='INCLUDETEXT /etc/passwd'>{}</w:fldSimple>", "<w:del>{}</w:del>", "<w:r/>")),
    (r'w:val="[^"]*"', ('w:val=""', 'w:val="-1"', 'w:val="99999999999"', 'w:val="none"')), (r"<w:sectPr.*?</w:sectPr>", ("", "{}{}", "<w:sectPr/>")),
    (r"<w:style [^>]*>", ('<w:style w:type="x">', '<w:style w:styleId="Heading1">')),
)
_LINES = (
    (r"(?m)^[\w.]+ = .*$", ("{}\n{}", "# {}", "x.{}", "", '"" = 1\n{}', "{} # \u202e", "{}\r", "\ufeff{}", " \t {}", "{},")),
    (r"(?m)^\[.*\]$", ("", "{}\n{}", "[{}]", "[", "[a.b.c.d]", "[council.name]\n{}", "[privacy]\n{}", "['']", "{} x")),
    (r"(?m)(?<= = ).*$", ("[{}]", "{a = {}}", "'''{}'''", '"{}"', "1979-05-27T07:32:00Z", "07:32:00", "0xff", "1_000", "+5", "-0", ".5", "5.", "1e3", "inf", "true", "[[], { }]", '"\\u0000"', '"\\uD800"',
        "'\\'", '"""\n{}', "[1, 'a', 2.0]", "0", "-1", "1e-320", "99999999999999999999", "'" + "é" * 400 + "'", "'=1+1'", "'../../x'", "'xx_XX'", "''")),
    (r'(?<== )"[^"]*"', ("'é'", '"a\\nb"', '"\\u202e"', "'\x7f'", "'{{ 7 }}'", "'<b>'", '"\\t"', "'NaN'", "'💧'")),
)
PLACES = {
    "xlsx": {"xl/worksheets/": _SHEETS, "xl/workbook.xml": _BOOK, "xl/styles.xml": _STYLES, ".rels": _LINKS, "[Content_Types].xml": _TYPES},
    "ods": {"content.xml": _OPEN},
    "docx": {"word/document.xml": _WORDS, "word/footer": _WORDS, "word/styles.xml": _WORDS[3:], ".rels": _LINKS, "[Content_Types].xml": _TYPES},
    "toml": {"": _LINES},
}
"""For each kind of file, parts by their name's beginning or end, and what is changed in them."""


def pick(rng: np.random.Generator, several: Sequence[_One]) -> _One:
    return several[int(rng.integers(len(several)))]


def restructured(kind: str, content: bytes, rng: np.random.Generator) -> bytes:
    """Change what a file is made of, one to four times, so that most of it stays well formed."""
    if kind == "csv":
        return _other_lines(content, rng)
    if kind == "toml":
        return _put(content.decode(), _LINES, rng).encode("utf-8", "surrogatepass")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for _ in range(int(rng.integers(1, 5))):
        if rng.random() < 1 / 5:
            parts = _other_archive(parts, rng)
            continue
        where = pick(rng, list(PLACES[kind]))
        names = [name for name in parts if name.startswith(where) or name.endswith(where)]
        if names:
            name = pick(rng, names)
            text = parts[name].decode("utf-8", "replace")
            parts[name] = _put(text, PLACES[kind][where], rng).encode("utf-8", "replace")
    return packed(parts)


def _put(text: str, places: Sequence[tuple[str, Sequence[str]]], rng: np.random.Generator) -> str:
    """Put other things into some places of a kind."""
    for _ in range(int(rng.integers(1, 4))):
        pattern, others = pick(rng, places)
        found = list(re.finditer(pattern, text, re.DOTALL))
        if not found:
            continue
        place, other = pick(rng, found), pick(rng, others)
        other = other.replace("{}", place.group())
        text = text[: place.start()] + other + text[place.end() :]
    return text


def _other_archive(parts: dict[str, bytes], rng: np.random.Generator) -> dict[str, bytes]:
    """Drop, double, rename, swap, empty or write in another encoding one part of an archive."""
    names = list(parts)
    if not names:
        return parts
    one, two = pick(rng, names), pick(rng, names)
    way = rng.integers(8)
    if way == 0:
        return {name: part for name, part in parts.items() if name != one}
    if way == 1:
        return {**parts, pick(rng, (one.upper(), f"/{one}", f"./{one}", f"x/{one}")): parts[one]}
    if way == 2:
        other = pick(rng, (one.upper(), one.replace("/", "\\"), f"{one}.xml", f"../{one}", "é/" + one))
        return {(other if name == one else name): part for name, part in parts.items()}
    if way == 3:
        return {**parts, one: parts[two], two: parts[one]}
    if way == 4:
        return {**parts, one: pick(rng, (b"", b" ", b"<x/>", b"\xef\xbb\xbf", parts[two]))}
    if way == 5:
        return dict(sorted(parts.items(), key=lambda _: rng.random()))
    return {**parts, one: _encoded_part(parts[one], rng)}


def _encoded_part(part: bytes, rng: np.random.Generator) -> bytes:
    text = part.decode("utf-8", "replace")
    body = re.sub(r"^\ufeff?<\?xml[^>]*\?>", "", text)
    said = pick(rng, ("utf-8", "utf-16", "utf-16-le", "iso-8859-1", "windows-1252", "us-ascii"))
    form = said if rng.random() < 3 / 4 else pick(rng, ("utf-8-sig", "utf-16", "utf-32"))
    entity = pick(rng, ("", "", "<!DOCTYPE x [<!ENTITY a 'aaaa'>]>"))
    return f'<?xml version="1.0" encoding="{said}"?>{entity}{body}'.encode(form, "replace")


def _other_lines(content: bytes, rng: np.random.Generator) -> bytes:
    """Change lines, cells or the encoding of a text file."""
    text = content.decode("utf-8-sig", "replace")
    separator = max(",;\t", key=text.partition("\n")[0].count)
    rows = [line.split(separator) for line in text.splitlines()]
    for _ in range(int(rng.integers(1, 6))):
        at = int(rng.integers(len(rows)))
        row, way = rows[at], rng.integers(9)
        if way == 0:
            rows.insert(at, list(row))
        elif way == 1:
            rows[at] = row[::-1] if rng.random() < 1 / 2 else row[:-1]
        elif way == 2:
            rows.insert(at, list(pick(rng, ([""], ["Total"], ["Note: see below"], ["example"], ["x"] * 99))))
        elif way == 3:
            rows = [[*one[1:], one[0]] for one in rows]
        elif way == 4:
            rows = [[*one, pick(rng, ("", "x", "2025-01-01"))] for one in rows]
        elif row:
            other = pick(
                rng,
                (
                    "31.12.2025",
                    "12/31/2025",
                    "45870",
                    "1.234,5",
                    "1 234.5",
                    "(5)",
                    "5-",
                    "12 Aug 25",
                    "2025-08",
                    "7e2",
                    "½",
                    "ja",
                    "\u00a05",
                    '"',
                    "'7",
                    "NULL",
                    "-",
                    "é" * 99,
                    "\u200b",
                ),
            )
            row[int(rng.integers(len(row)))] = other
    return _written(rows, rng, separator)


def _written(rows: list[list[str]], rng: np.random.Generator, separator: str = "") -> bytes:
    separator = separator or pick(rng, (",", ";", "\t"))
    ends, quote = pick(rng, ("\n", "\r\n", "\r")), rng.random() < 1 / 3

    def cell(text: str) -> str:
        needs = quote or any(sign in text for sign in (separator, '"', "\n"))
        return '"' + text.replace('"', '""') + '"' if needs else text

    lines = (separator.join(map(cell, row)) for row in rows)
    text = ends.join(lines) + pick(rng, ("", ends, ends * 9))
    form = pick(rng, ("utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"))
    mark = codecs.BOM_UTF16_BE if form == "utf-16-be" else b""
    return mark + text.encode(form, "replace")


def laid_out(kind: str, rng: np.random.Generator) -> bytes:
    """Write the ledger as people lay tables out; every layout shows the costs of `TRUTH`."""
    order = rng.permutation(len(HEADINGS)).tolist()
    heads = [pick(rng, (name, name.upper(), name.replace("_", " ").title(), f" {name} ")) for name in HEADINGS]
    rows: list[tuple[object, ...]] = [(*heads,), *TRUTH]
    if rng.random() < 1 / 3:
        rows.insert(int(rng.integers(2, 5)), pick(rng, rows[1:]))
    rows = [tuple(row[place] for place in order) for row in rows]
    for _ in range(int(rng.integers(3))):
        rows.insert(int(rng.integers(len(rows) + 1)), ("",) * 4)
    if rng.random() < 1 / 3:
        rows.insert(0, ("Costs of the year, an invented council", "", "", ""))
    if rng.random() < 1 / 3:
        total = {order.index(0): "Total", order.index(3): 1275.5}
        rows.append(tuple(total.get(place, "") for place in range(4)))
    if kind == "csv":
        return _written([[str(cell) for cell in row] for row in rows], rng)
    if kind == "ods":
        return open_sheet("".join(open_row("".join(map(_open_form, row))) for row in rows))
    calendar = pick(rng, (1900, 1904))
    made = ["".join(_book_cell(cell, f"{'ABCD'[at]}{n}", calendar) for at, cell in enumerate(row)) for n, row in enumerate(rows, 1)]
    parts = book_parts({"costs": sheet(made)}, properties=f'<workbookPr date1904="{int(calendar == 1904)}"/>')
    if rng.random() < 1 / 2:
        parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace("</sheets>", "</sheets>" + _NAMES[0])
    return packed(dict(sorted(parts.items(), key=lambda _: rng.random())))


def _open_form(cell: object) -> str:
    if isinstance(cell, float):
        return open_cell(str(cell), "float", f'office:value="{cell}"')
    is_day = re.fullmatch(r"\d{4}-\d\d-\d\d", str(cell))
    return open_cell(str(cell), *(("date", f'office:date-value="{cell}"') if is_day else ()))


def _book_cell(cell: object, place: str, calendar: int) -> str:
    days = {row[1]: DAY_ONE[calendar] + day for row, day in zip(TRUTH, SERIALS, strict=True)}
    if isinstance(cell, float):
        return f'<c r="{place}"><v>{cell}</v></c>'
    if cell in days:
        return f'<c r="{place}" s="1"><v>{days[cell]}</v></c>'
    return text_cell(place, str(cell)) if cell else ""
