"""Cases of the fuzz study: sound files of the samples, damaged by chance, and made by hand.

Of a sample's file the first lines are taken: damage then meets headings and rows alike, and a
case costs a fraction of a second.
"""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import numpy as np

from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS, TEMPLATES
from tests.benchmarks.fuzz_parts import laid_out, restructured
from tests.benchmarks.outsider import Trick, packed
from tests.benchmarks.outsider_files import tricks

KINDS = ("xlsx", "ods", "csv", "toml", "docx")
OF_BOOKS, OF_TEXTS, WITH_CONTACTS = "port_marrow", "valdorra", "with contacts"
LARGEST = 70_000
LINES_MOST = 40
"""Lines of a sample's file that a case holds."""

BY_HAND, LAID_OUT, OF_PARTS = 0.2, 0.1, 0.4
"""Shares of cases that begin with a file made by hand, show a known table in a layout of chance, or
have their parts changed; in the others bytes and values are."""

_SNIPPETS = (
    b"<c r='ZZZ99999999'><v>1</v></c>",
    b't = "s"', b"<![CDATA[", b"&#27;", b"\x1b[2J", b"\xef\xbf\xbe", b"\r", b"\r\n", b'"',
    b"9" * 400, b"1e400", b"[" * 400, b"a." * 200, b'"' * 7, b"<", b"\x00", b"\xff\xfe", b"inf",
    b"{{ 'a' * 9999999999 }}", b"{% for a in b %}", b"<!ENTITY a 'b'>", b"\n" * 500, b"",
)  # fmt: skip
_VALUES = (
    b"0", b"-1", b"1", b"2", b"99999999", b"A1", b"XFD1048576", b"s", b"str", b"inlineStr", b"b",
    b"e", b"d", b"1e308", b"", b" ", b"2025-02-30", b"#REF!", b"=1+1", b"float", b"string", b"date",
    b"65536", b"x" * 40_000, b"&#10;", b"\xc2\xa0", b"total", b"example",
)  # fmt: skip
_VALUE = re.compile(rb'(?<==")[^"<>]*(?=")|(?<=>)[^<>]+(?=<)')


Sources = dict[str, list[tuple[str, bytes]]]
_LATER_ROWS = re.compile(
    rb'<row r="(?:%s)".*?</row>' % b"|".join([rb"4[1-9]", rb"[5-9]\d", rb"\d{3,}"]), re.DOTALL
)


def sources_of() -> Sources:
    """Gather sound files of each kind, each with its name."""
    books = sorted((SAMPLE_PROGRAMS / OF_BOOKS).glob("*.xlsx"))
    texts = sorted((SAMPLE_PROGRAMS / OF_TEXTS).glob("*.csv"))
    towns = [SAMPLE_PROGRAMS / OF_BOOKS / PROGRAM_FILE, TEMPLATES / PROGRAM_FILE]
    lines = {path.stem: few_lines(path) for path in texts}
    return {
        "xlsx": [(path.name, cut(path.read_bytes())) for path in books],
        "csv": [(f"{name}.csv", few) for name, few in lines.items()],
        "ods": [(f"{name}.ods", made_ods(name, few.decode())) for name, few in lines.items()],
        "toml": [(path.name, path.read_bytes()) for path in towns],
        "docx": [(path.name, path.read_bytes()) for path in sorted(TEMPLATES.glob("*.docx"))],
    }


def few_lines(text: Path) -> bytes:
    """Take the first lines of a text file."""
    return b"".join(text.read_bytes().splitlines(keepends=True)[:LINES_MOST])


def cut(book: bytes) -> bytes:
    """Leave the first rows of each sheet, as the program that made them wrote them."""
    with zipfile.ZipFile(io.BytesIO(book)) as old:
        return packed({name: _LATER_ROWS.sub(b"", old.read(name)) for name in old.namelist()})


def case(number: int, seed: int, sources: Sources) -> tuple[str, Trick, str]:
    """Make a case: how it was made, its file, and the folder that it is loaded into."""
    rng = np.random.default_rng([seed, number])
    kind = KINDS[number % len(KINDS)]
    sound = dict(sources[kind]).get("report.docx") or sources[kind][0][1]
    by_hand = tricks(kind, sound if kind in ("toml", "docx") else b"")
    place = number // len(KINDS)
    if place < len(by_hand):
        return by_hand[place][0], by_hand[place][1], OF_BOOKS
    drawn = rng.random()
    if drawn < BY_HAND:
        name, trick = by_hand[rng.integers(len(by_hand))]
        if len(trick.content) < LARGEST:
            content = changed(trick.content, rng)
            return f"{name}, damaged", trick._replace(content=content, rows=None), OF_BOOKS
    if drawn < BY_HAND + LAID_OUT and kind in ("xlsx", "ods", "csv"):
        return "laid out", Trick(f"costs.{kind}", laid_out(kind, rng)), OF_BOOKS
    name, content = sources[kind][rng.integers(len(sources[kind]))]
    where = OF_TEXTS if kind in ("csv", "ods") else OF_BOOKS
    where = WITH_CONTACTS if name.startswith("contacts") else where
    if drawn < BY_HAND + LAID_OUT + OF_PARTS:
        return "restructured", Trick(name, restructured(kind, content, rng), None), where
    return "damaged", Trick(name, changed(content, rng), None), where


def made_ods(name: str, text: str) -> bytes:
    """Make a sheet of the lines of a text file."""
    rows = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p>'
            "</table:table-cell>"
            for cell in re.split("[,;]", line)
        )
        + "</table:table-row>"
        for line in text.replace("&", "&amp;").replace("<", "&lt;").splitlines()
    )
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="{name}">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    mime = "application/vnd.oasis.opendocument.spreadsheet"
    return packed(
        {"mimetype": mime, "META-INF/manifest.xml": "<manifest/>", "content.xml": content}
    )


def changed(content: bytes, rng: np.random.Generator) -> bytes:
    """Change a file: its bytes, or a part of the archive that it is."""
    if not content.startswith(b"PK") or rng.random() < 1 / 8:
        return hit(content, rng)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as old:
            parts = {name: old.read(name) for name in old.namelist()}
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError, OSError):
        return hit(content, rng)
    alter = hit if rng.random() < 1 / 4 else with_other_values
    names = [name for name in parts if name.endswith((".xml", ".rels"))]
    if not names:
        return hit(content, rng)
    chosen = names[rng.integers(len(names))]
    parts[chosen] = alter(parts[chosen], rng)
    return packed(parts)


def with_other_values(part: bytes, rng: np.random.Generator) -> bytes:
    """Put other values into attributes and texts of a part, which stays well formed."""
    for _ in range(int(rng.integers(1, 9))):
        found = list(_VALUE.finditer(part))
        if not found:
            break
        place = found[rng.integers(len(found))]
        other = found[rng.integers(len(found))].group()
        value = _VALUES[rng.integers(len(_VALUES))] if rng.random() < 2 / 3 else other
        part = part[: place.start()] + value + part[place.end() :]
    return part


def hit(content: bytes, rng: np.random.Generator) -> bytes:
    """Flip, cut, double or put something in, one to four times."""
    for _ in range(int(rng.integers(1, 5))):
        start, end = np.sort(rng.integers(0, len(content) + 1, 2)).tolist()
        end = min(end, start + 400)
        snippet = _SNIPPETS[rng.integers(len(_SNIPPETS))]
        noise = rng.integers(0, 256, int(rng.integers(1, 5)), dtype=np.uint8).tobytes()
        middle = (snippet, noise, b"", content[start:end] * 3)[rng.integers(4)]
        content = content[:start] + middle + content[end if rng.random() < 1 / 2 else start :]
    return content
