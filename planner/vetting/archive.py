"""Workbooks as the archives they are: checked part by part before anything parses them."""

from __future__ import annotations

import re
import struct
import zipfile
import zlib
from contextlib import contextmanager
from typing import TYPE_CHECKING, NoReturn

from planner.errors import ARCHIVE_FAULTS, IntakeError
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from typing import BinaryIO

MIB = 1024**2

FILE_BYTES_MOST = 256 * MIB
"""A workbook of 10⁶ households measures about 40 MiB; a state's 10⁷ rows go in as CSV."""

TEXT_BYTES_MOST = 1024 * MIB
"""A CSV of 10⁷ households measures about 500 MiB."""

UNPACKED_BYTES_MOST = 1024 * MIB
"""10⁶ rows of the widest table unpack to about 700 MiB of XML."""

RATIO_MOST = 200
"""Record sheets pack 8 to 40 times smaller; deflate can reach 1,032, as bombs do."""

RATIO_FREE_BYTES = 32 * MIB
"""Parts smaller than this may pack as tightly as they like: a blank formatted sheet does."""

PARTS_MOST = 5_000
"""A workbook has a few parts a sheet; 5,000 leaves room for pictures and comments."""

DIRECTORY_BYTES_MOST = MIB
"""5,000 entries of the archive's directory take about 0.5 MiB."""

COLUMNS_MOST = 1_000
"""The widest table has 15 columns; a council's own sheet may have many more beside them."""

CELLS_MOST = 20_000_000
"""Rectangle of rows by columns that the reader lays out: every row that a sheet can have
under 19 columns. An empty rectangle of this size was measured to take 1.5 GiB."""

ODS_BYTES_MOST = 256 * MIB
"""An .ods file takes 120 bytes a cell, so this is about 300,000 households; the reader
needs three times the memory that it needs for .xlsx."""

REPEATED_CELLS_MOST = 5_000_000
"""Filled cells that one .ods file may write as a count instead of as themselves."""

TEXT_IN_CELLS_BYTES_MOST = 1024 * MIB
"""All text of a file's cells when each repeat of a shared text is written out."""

DEPTH_MOST = 256
"""Elements within elements; a spreadsheet nests about ten deep."""

SPACES_MOST = 1_000_000
"""Spaces that one .ods file may write as a count instead of as themselves."""


_CHUNK = 4 * MIB
_LOCAL_HEADER_BYTES = 30
_END_RECORD_BYTES = 22
_LONGEST_COMMENT = 65_535
_ARCHIVE_SIGNS = (b"PK\x03\x04", b"7z\xbc\xaf", b"Rar!", b"\x1f\x8b", b"BZh", b"\xfd7zXZ")
_ENCRYPTED = 0x1
_FOREIGN_XML = re.compile(rb"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)
_OVERLAP = 16
_OUTSIDE = re.compile(r"""TargetMode\s*=\s*["']External["']""", re.IGNORECASE)
_LINK = re.compile(r"<(?:\w+:)?Relationship\s[^>]*>")
_HYPERLINK = re.compile(r"""Type\s*=\s*["'][^"']*/hyperlink["']""")
_ODS_OUTSIDE = re.compile(rb"<(?:table:table-source|table:dde-link|office:dde-source)[\s/>]")


class Archive:
    """A workbook whose parts can be read as a stream, each no longer than it claims."""

    def __init__(self, path: Path, content: BinaryIO, parts: dict[str, zipfile.ZipInfo]) -> None:
        self.path = path
        self.content = content
        self.parts = parts

    def chunks(self, name: str) -> Iterator[bytes]:
        """Unpack a part piece by piece.

        Raises
        ------
        IntakeError
            The part is damaged or holds more than it claims.
        """
        part = self.parts[name]
        count = sum_so_far = 0
        try:
            for chunk in self._unpacked(part):
                count += len(chunk)
                if count > part.file_size:
                    self.refuse("overfull", part=_shown(name))
                sum_so_far = zlib.crc32(chunk, sum_so_far)
                yield chunk
        except (zlib.error, struct.error, OSError):
            self.refuse("damaged", part=_shown(name))
        # the reader does not hold a part to its own sum: a figure that changed would be taken in
        if sum_so_far != part.CRC:
            self.refuse("damaged", part=_shown(name))

    def text(self, name: str) -> str:
        """Unpack a small part as text."""
        return b"".join(self.chunks(name)).decode("utf-8", errors="replace")

    def refuse(self, why: str, instead: str = "copy_rows", **filled: str | int) -> NoReturn:
        """Refuse the file.

        Parameters
        ----------
        why, instead
            Keys of the message files, below ``archive``.
        filled
            What the first is filled with.

        Raises
        ------
        IntakeError
            Always; it says why and what to do instead.
        """
        told, advice = say(f"archive.{why}", **filled), say(f"archive.{instead}")
        message = say("archive.refused", file=self.path.name, why=told, instead=advice)
        raise IntakeError(message, path=str(self.path))

    def _unpacked(self, part: zipfile.ZipInfo) -> Iterator[bytes]:
        self.content.seek(part.header_offset)
        header = self.content.read(_LOCAL_HEADER_BYTES)
        name_length, extra_length = struct.unpack("<HH", header[26:30])
        self.content.seek(name_length + extra_length, 1)
        left = part.compress_size
        unpacker = zlib.decompressobj(-zlib.MAX_WBITS)
        is_packed = part.compress_type == zipfile.ZIP_DEFLATED
        while left > 0:
            packed = self.content.read(min(_CHUNK, left))
            if not packed:
                self.refuse("cut_off", part=_shown(part.filename))
            left -= len(packed)
            if not is_packed:
                yield packed
            while is_packed and packed:
                yield unpacker.decompress(packed, _CHUNK)
                packed = unpacker.unconsumed_tail


@contextmanager
def checked_archive(path: Path) -> Iterator[Archive]:
    """Open a workbook after checking what it claims; refuse what no spreadsheet writes.

    Yields
    ------
    Archive
        Every part unpacks within the bounds above, is plain UTF-8 XML without
        entities of its own where it is XML, and holds no link to another file.

    Raises
    ------
    IntakeError
        The file is no such archive, or passes a bound; the message says which.
    """
    with path.open("rb") as content:
        archive = Archive(path, content, {})
        _check_directory(archive)
        try:
            with zipfile.ZipFile(content) as opened:
                entries = opened.infolist()
        except ARCHIVE_FAULTS as error:
            raise unreadable(path) from error
        _check_claims(archive, entries)
        archive.parts.update({entry.filename: entry for entry in entries})
        for name in archive.parts:
            _check_part(archive, name)
        yield archive


def unreadable(path: Path) -> IntakeError:
    """Make the error of a file that is no spreadsheet or is locked."""
    return IntakeError(say("archive.unreadable", file=path.name), path=str(path))


def _check_directory(archive: Archive) -> None:
    """Look at the archive's end record, which tells how much the directory takes."""
    size = archive.path.stat().st_size
    if size > FILE_BYTES_MOST:
        archive.refuse("too_large", "split", most=FILE_BYTES_MOST // MIB)
    archive.content.seek(max(0, size - _END_RECORD_BYTES - _LONGEST_COMMENT))
    tail = archive.content.read()
    place = tail.rfind(b"PK\x05\x06")
    if place < 0 or len(tail) - place < _END_RECORD_BYTES:
        raise unreadable(archive.path)
    count, directory_bytes = struct.unpack("<HL", tail[place + 10 : place + 16])
    if count > PARTS_MOST or directory_bytes > DIRECTORY_BYTES_MOST:
        archive.refuse("parts", most=PARTS_MOST)


def _check_claims(archive: Archive, entries: list[zipfile.ZipInfo]) -> None:
    # readers that do not tell capitals and slashes apart would read a part that nobody checked
    names = {entry.filename.replace("\\", "/").lstrip("./").casefold() for entry in entries}
    if len(names) != len(entries):
        archive.refuse("same_name")
    unpacked = sum(entry.file_size for entry in entries)
    if unpacked > UNPACKED_BYTES_MOST:
        archive.refuse("unpacks", size=unpacked // MIB, most=UNPACKED_BYTES_MOST // MIB)
    for entry in entries:
        is_large = entry.file_size > RATIO_FREE_BYTES
        if is_large and entry.file_size > RATIO_MOST * max(entry.compress_size, 1):
            archive.refuse("ratio", part=_shown(entry.filename), most=RATIO_MOST)
        if entry.flag_bits & _ENCRYPTED:
            raise unreadable(archive.path)
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            archive.refuse("rare", part=_shown(entry.filename))
        if entry.filename.startswith("xl/externalLinks/"):
            archive.refuse("links", "break_links")


def _check_part(archive: Archive, name: str) -> None:
    is_xml = name.lower().endswith((".xml", ".rels", ".vml"))
    before = b""
    for number, chunk in enumerate(archive.chunks(name)):
        if number == 0 and chunk.startswith(_ARCHIVE_SIGNS):
            archive.refuse("nested", part=_shown(name))
        if is_xml:
            _check_xml(archive, name, before + chunk)
            before = chunk[-_OVERLAP:]
    if name.lower().endswith(".rels"):
        outside = [link for link in _LINK.findall(archive.text(name)) if _OUTSIDE.search(link)]
        if any(not _HYPERLINK.search(link) for link in outside):
            archive.refuse("links", "break_links")


def _check_xml(archive: Archive, name: str, piece: bytes) -> None:
    if b"\x00" in piece:
        archive.refuse("no_text", part=_shown(name))
    if _FOREIGN_XML.search(piece):
        archive.refuse("entities", part=_shown(name))
    if name == "content.xml" and _ODS_OUTSIDE.search(piece):
        archive.refuse("links", "break_links")


def _shown(name: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in name[:60])
