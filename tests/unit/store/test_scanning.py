"""What was erased is found again however a file writes it down, and nothing else is.

The encodings are made by the standard library or written by hand from their standards: character
references (HTML 5, 13.5), JSON's escapes (RFC 8259, 7), quoted-printable and base64 (RFC 2045,
6.7 and 6.8), percent-encoding (RFC 3986, 2.1); the numbers of the clauses from memory.
"""

from __future__ import annotations

import base64
import bz2
import gzip
import io
import json
import lzma
import quopri
import re
import struct
import tarfile
import zipfile
import zlib
from pathlib import Path
from urllib.parse import quote

import pytest
from docx import Document
from matplotlib import rc_context
from matplotlib.figure import Figure
from PIL import Image

from planner.store.drawn_texts import _of_lzw
from planner.store.matching import Details
from planner.store.scanning import Remnant, remaining

NAME, OTHER = "Zoë O'Farrell-Quist", "Anna Bergström"
DETAILS = Details([NAME, "12 Hanover & Sons Yard"], ["+61 400 123 456"], ["H1"])


def by_number(text, form="&#{};"):
    return "".join(form.format(ord(letter)) for letter in text)


def zipped(content, name="inside.txt"):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return packed.getvalue()


def tarred(content):
    packed = io.BytesIO()
    with tarfile.open(fileobj=packed, mode="w:gz") as archive:
        part = tarfile.TarInfo("letters/inside.txt")
        part.size = len(content)
        archive.addfile(part, io.BytesIO(content))
    return packed.getvalue()


def document(name):
    packed, made = io.BytesIO(), Document()
    made.add_paragraph(f"Dear {name},")
    made.save(packed)
    return packed.getvalue()


def drawn(name, form, **settings):
    """Draw a name with matplotlib, a writer of PDF and PNG that is not ours."""
    packed = io.BytesIO()
    with rc_context({"svg.fonttype": "none", **settings}):
        figure = Figure()
        figure.text(0.1, 0.5, "" if form == "png" else f"Dear {name}", fontfamily="DejaVu Sans")
        said = {"Author": name} if form == "png" else {}
        figure.savefig(packed, format=form, metadata=said)
    return packed.getvalue()


def chunk(kind, content):
    return struct.pack(">L", len(content)) + kind + content + struct.pack(
        ">L", zlib.crc32(kind + content)
    )  # fmt: skip


def commented(kind, content):
    """Put a comment into a picture, as the standard of PNG packs it."""
    plain = drawn("", "png")
    return plain[:33] + chunk(kind, content) + plain[33:]


def numbered(name):
    """Write a page whose font numbers its letters in its own way, as word processors do."""
    letters = {sign: f"{place:04x}" for place, sign in enumerate(dict.fromkeys(name), 3)}
    pairs = "".join(
        f"<{code}> <{sign.encode('utf-16-be').hex()}>\n" for sign, code in letters.items()
    )
    table = f"begincmap {len(letters)} beginbfchar\n{pairs}endbfchar endcmap"
    shown = " -3 ".join(f"<{letters[sign]}>" for sign in name)
    streams = (table, f"BT /F1 9 Tf 7 8 Td [{shown}]TJ ET")
    packed = [zlib.compress(one.encode()) for one in streams]
    parts = [
        b"%d 0 obj\n<</Filter/FlateDecode/Length %d>>\nstream\n%b\nendstream\nendobj\n"
        % (number, len(one), one)
        for number, one in enumerate(packed, 1)
    ]
    return b"%PDF-1.7\n" + b"".join(parts)


def lzw(content):
    """Pack by LZW with Pillow: TIFF packs as PDF does, the high bits first, a code early."""
    out = io.BytesIO()
    Image.frombytes("L", (len(content), 1), content).save(out, "TIFF", compression="tiff_lzw")
    with Image.open(out) as image:
        (begin,), (length,) = image.tag_v2[273], image.tag_v2[279]
    return out.getvalue()[begin : begin + length]


def page_packed(filters, content):
    return b"%PDF-1.4\n1 0 obj\n<</Filter " + filters + b">>\nstream\n" + content + b"\nendstream"


def in_runs(content):
    runs = (bytes([len(part) - 1]) + part for part in re.findall(b"(?s).{1,7}", content))
    return b"\xfd-" + b"".join(runs) + b"\x80"


def page_text(name):
    """Write a page of so many other words that the codes of LZW take all their widths, twice."""
    words = " ".join(str(number**3 % 99_991) for number in range(3_000))
    return f"BT ({words}) Tj ({name}) Tj ET".encode("cp1252")


WAYS = {
    "of_lzw.pdf": lambda name: page_packed(b"/LZWDecode", lzw(page_text(name))),
    "of_lzw_and_more.pdf": lambda name: page_packed(
        b"[/ASCII85Decode /LZWDecode]", base64.a85encode(lzw(page_text(name))) + b"~>"),
    "of_runs.pdf": lambda name: page_packed(b"/RunLengthDecode", in_runs(page_text(name))),
    "type_3.pdf": lambda name: drawn(name, "pdf", **{"pdf.fonttype": 3}),
    "type_42.pdf": lambda name: drawn(name, "pdf", **{"pdf.fonttype": 42}),
    "numbered.pdf": numbered,
    "author.png": lambda name: drawn(name, "png"),
    "packed.png": lambda name: commented(
        b"zTXt", b"Author\0\0" + zlib.compress(name.encode("latin-1"))),
    "packed_too.png": lambda name: commented(
        b"iTXt", b"XML:com.adobe.xmp\0\1\0en\0\0" + zlib.compress(name.encode())),
    "camera.jpg": lambda name: (
        b"\xff\xd8\xff\xe1\x20\x10Exif" + bytes(range(1, 255)) * 3 + name.encode("utf-16-le")),
    "of_windows.csv": lambda name: f"H1;{name};Mill Lane".encode("cp1252"),
    "old.doc": lambda name: b"\xd0\xcf\x11\xe0" * 99 + name.encode("utf-16-le") + b"\x07" * 9,
    "numbers.html": lambda name: f"<p>Dear {by_number(name)}</p>".encode(),
    "hexadecimal.html": lambda name: b"<p>" + by_number(name, "&#x{:x};").encode() + b"</p>",
    "named.html": lambda name: (
        "<td>" + name.replace("ë", "&euml;").replace("ö", "&ouml;").replace("'", "&apos;")
    ).encode(),
    "twice.html": lambda name: f"<p>{by_number(name).replace('&', '&amp;')}</p>".encode(),
    "bold.html": lambda name: f"<p>{name[:4]}<b>{name[4:]}</b></p>".encode(),
    "list.json": lambda name: json.dumps({"name": name}).encode(),
    "mail.eml": lambda name: quopri.encodestring(f"Dear {name}, thank you".encode()),
    "link.txt": lambda name: f"mailto:office@example.org?body={quote(name)}".encode(),
    "base64.txt": lambda name: base64.b64encode(name.encode()),
    "attached.eml": lambda name: base64.encodebytes(b"%5d " % 7 * 40 + name.encode() + b" " * 90),
    "of_a_link.txt": lambda name: (
        b"https://example.org/?q=" + base64.urlsafe_b64encode(name.encode()).rstrip(b"=")
    ),
    "page.html": lambda name: b'<img src="data:a/b;base64,' + base64.b64encode(
        zipped(name.encode())) + b'"></img>',
    "notes.txt.gz": lambda name: gzip.compress(b"a") + gzip.compress(f"Dear {name}".encode()),
    "notes.txt.bz2": lambda name: bz2.compress(f"Dear {name}".encode()),
    "notes.txt.xz": lambda name: lzma.compress(f"Dear {name}".encode()),
    "notes.tar.gz": lambda name: tarred(f"Dear {name}".encode()),
    "notes.zip": lambda name: zipped(zipped(by_number(name).encode())),
    "letter.docx": document,
    "mail.gz.eml": lambda name: base64.encodebytes(gzip.compress(name.encode())),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_a_name_is_found_however_it_is_written_and_another_is_not(tmp_path, way):
    path = tmp_path / way
    path.write_bytes(WAYS[way](NAME))
    found = remaining(tmp_path, [path], DETAILS)
    assert [one.path for one in found] == [path]
    assert "not searched" not in found[0].where
    path.write_bytes(WAYS[way](OTHER))
    assert remaining(tmp_path, [path], DETAILS) == ()


def test_lzw_is_unpacked_as_the_standard_of_pdf_shows():
    """ISO 32000-1:2008, 7.4.4.2, example 1 of an encoding sequence; from memory."""
    packed = bytes.fromhex("800B6050220C0C8501")
    assert _of_lzw(packed) == bytes([45, 45, 45, 45, 45, 65, 45, 45, 45, 66])


def test_a_house_with_an_ampersand_is_found_in_a_page_and_a_document(tmp_path):
    page, paper = tmp_path / "a.html", tmp_path / "a.docx"
    page.write_text("<li>12 Hanover &amp; Sons Yard</li>", "utf-8")
    paper.write_bytes(document("12 Hanover & Sons Yard"))
    assert {one.path for one in remaining(tmp_path, [page, paper], DETAILS)} == {page, paper}


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("cut.gz", gzip.compress(NAME.encode() * 9, mtime=0)[:30]),
        ("false.tar", b"\0" * 257 + b"ustar" + b"\xff" * 300),
        ("half.json", b'"\\ud83d \\udc00 x"'),
        ("false.bz2", b"BZh9" + b"\x00" * 40),
        ("false.xz", b"\xfd7zXZ\x00" + b"\x00" * 40),
        (
            "false.pdf",
            b"%PDF-1.4\n<</Filter/FlateDecode>>\nstream\nxx(((((\\\nendstream" + b"(" * 9999,
        ),
        ("false_lzw.pdf", page_packed(b"/LZWDecode", b"\xff" * 40)),
        ("elsewhere.pdf", page_packed(b"9 0 R", b"xxxx")),
        (
            "rows.pdf",
            page_packed(b"/FlateDecode/DecodeParms<</Predictor 12>>", zlib.compress(b"x")),
        ),
        ("locked.pdf", b"%PDF-1.4\ntrailer <</Encrypt 7 0 R>>"),
        ("false.png", b"\x89PNG\r\n\x1a\n" + chunk(b"zTXt", b"Author\0\0not packed")),
        ("odd.txt", b"A" * 9 + b"=" + b"%zz%4" + b"&#99999999999999999999;&#xd800;"),
    ],
    ids=lambda part: part if isinstance(part, str) else "",
)
def test_a_file_that_is_not_what_it_begins_as_ends_in_no_fault(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    assert all("not searched" in one.where for one in remaining(tmp_path, [path], DETAILS))


def test_an_archive_of_many_layers_is_named_as_not_searched(tmp_path):
    path, content = tmp_path / "deep.zip", NAME.encode()
    for _ in range(9):
        content = gzip.compress(zipped(content, "inside.zip"))
    path.write_bytes(content)
    (found,) = remaining(tmp_path, [path], DETAILS)
    assert "not searched" in found.where


@pytest.mark.parametrize(
    ("path", "where", "is_of_others"),
    [
        ("contacts.duckdb", "contacts.street_address", True),
        ("contacts.duckdb", "history.record", True),
        ("backup.zip", "contacts.duckdb contacts.phone", True),
        # what could not be searched, other records and freed pages may be the household's own
        ("backup.zip", "contacts.duckdb does not open and was not searched", False),
        ("contacts.duckdb", "", False),
        ("program.duckdb", "cases.problem", False),
        ("old contacts.duckdb.txt", "", False),
    ],
)
def test_only_records_of_contacts_are_those_of_others(path, where, is_of_others):
    assert Remnant(Path(path), where).is_of_others is is_of_others
