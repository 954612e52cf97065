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
import tarfile
import zipfile
from urllib.parse import quote

import pytest
from docx import Document

from planner.store.matching import Details
from planner.store.scanning import remaining

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


WAYS = {
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
