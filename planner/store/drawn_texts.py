"""Texts that lie packed within a PDF or a picture, as a search for a name must read them.

Of a PDF: every packed stream, the strings that pages show, and letters that a font numbers in its
own way, by its table of Unicode (ISO 32000-1:2008, 7.3.4, 7.4, 9.4.3 and 9.10.3; from memory). It
follows no references: each table is tried on each page. Of a picture: comments that its format
packs (PNG, third edition, 11.3.3; from memory). What is drawn as dots is not read.
"""

from __future__ import annotations

import base64
import io
import re
import struct
import zlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

PDF, PNG = b"%PDF-", b"\x89PNG\r\n\x1a\n"
_STREAM = re.compile(rb"(?<!end)stream\r?\n")
_OBJECT, _END = b"obj", b"endstream"
_ABOUT_BYTES_MOST = 2_000
_LOCKED = re.compile(rb"/Encrypt\s+\d+\s+\d+\s+R|/Encrypt\s*<<")
_NO_TEXT = re.compile(rb"/(?:DCT|JPX|JBIG2|CCITTFax)Decode|/Subtype\s*/Image|/Length1\b|/FontFile")
"""In what is said of a stream of dots or of the outlines of a font's letters."""

_STREAM_BYTES_MOST, _ALL_BYTES_MOST = 64 * 1024**2, 512 * 1024**2
_TABLES_MOST = 200

_STRING = re.compile(
    rb"\((?:[^()\\]|\\.|\((?:[^()\\]|\\.){0,999}\)){0,9999}\)|<[0-9A-Fa-f\s]{0,9999}>|-?\d+\.?\d*|[A-Za-z*'\"]+",
    re.DOTALL,
)
_ESCAPE = re.compile(rb"\\([0-7]{1,3}|\r?\n|.)", re.DOTALL)
_ESCAPED = {b"n": b"\n", b"r": b"\r", b"t": b"\t", b"b": b"\b", b"f": b"\f"}
_GAP = -150
"""Thousandths of a letter's height by which a page moves on where a word ends."""

_CHARACTERS = re.compile(rb"beginbfchar(.*?)endbfchar", re.DOTALL)
_RANGES = re.compile(rb"beginbfrange(.*?)endbfrange", re.DOTALL)
_HEX = re.compile(rb"<([0-9A-Fa-f\s]*)>")
_RANGE = re.compile(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*(?:<([0-9A-Fa-f]+)>|\[([^\]]*)\])")
_RANGE_MOST = 65_536

Table = dict[bytes, str]


class NotReadError(ValueError):
    """Why a file, or a part of it, could not be read; the text goes on after the file's name."""


def texts_of_pdf(content: bytes) -> Iterator[str]:
    """Read what a PDF shows and says of itself.

    Raises
    ------
    NotReadError
        It is locked by a password, or a part is packed in another way; after all that can be read.
    """
    if _LOCKED.search(content):
        key = "searched.locked"
        raise NotReadError(key)
    streams, is_whole = _streams(content)
    tables = [_table(one) for one in streams if b"beginbfchar" in one or b"beginbfrange" in one]
    for one in (content, *streams):
        if b"begincmap" not in one:
            shown = list(_shown(one))
            yield _joined(shown, {})
            yield from (_joined(shown, table) for table in tables[:_TABLES_MOST])
    if not is_whole:
        key = "searched.parts"
        raise NotReadError(key)


def _streams(content: bytes) -> tuple[list[bytes], bool]:
    """Unpack every stream that may hold text; tell whether one was not."""
    found: list[bytes] = []
    is_whole, total, end = True, 0, 0
    while (head := _STREAM.search(content, end)) and total < _ALL_BYTES_MOST:
        end = content.find(_END, head.end())
        if end < 0:
            return found, False
        about = content[max(0, head.start() - _ABOUT_BYTES_MOST) : head.start()]
        about = about.rpartition(_OBJECT)[2]
        if _NO_TEXT.search(about):
            continue
        try:
            found.append(_unpacked(content[head.end() : end], about))
            total += len(found[-1])
        except (zlib.error, ValueError):
            is_whole = False
    return found, is_whole and total < _ALL_BYTES_MOST


def _unpacked(packed: bytes, about: bytes) -> bytes:
    """Unpack a stream by its filters, in the order in which they are named."""
    names = _FILTER.findall(about)
    # named elsewhere in the file, or rows written as differences of rows
    is_unknown = (b"/Filter" in about and not names) or _PREDICTOR.search(about)
    if b"/Crypt" in about or (is_unknown and b"/XRef" not in about):
        raise ValueError
    for name in names:
        packed = _FILTERS[name](packed)
    return packed


def _inflated(packed: bytes) -> bytes:
    unpacking = zlib.decompressobj()
    whole = unpacking.decompress(packed, _STREAM_BYTES_MOST)
    if unpacking.unconsumed_tail:
        raise ValueError
    return whole


def _of_lzw(packed: bytes) -> bytes:
    """Unpack LZW: codes of 9 to 12 bits, that widen one code early, as PDF has them."""
    first = [bytes([one]) for one in range(256)] + [b"", b""]
    table, out, last = list(first), io.BytesIO(), b""
    held, bits, width = 0, 0, 9
    for one in packed:
        held, bits = held << 8 | one, bits + 8
        if bits < width:
            continue
        bits -= width
        code, held = held >> bits, held & ((1 << bits) - 1)
        if code == _LZW_END or out.tell() > _STREAM_BYTES_MOST:
            break
        if code == _LZW_CLEAR:
            table, last, width = list(first), b"", 9
            continue
        if code > len(table) or (code == len(table) and not last):
            raise ValueError
        found = table[code] if code < len(table) else last + last[:1]
        out.write(found)
        if last and len(table) < _LZW_MOST:
            table.append(last + found[:1])
        last = found
        width = min(12, max(9, (len(table) + 1).bit_length()))
    return out.getvalue()


def _of_runs(packed: bytes) -> bytes:
    """Unpack runs of bytes: so many as they stand, or one so many times."""
    out, place = bytearray(), 0
    while place + 1 < len(packed) and packed[place] != _RUNS_END:
        length = packed[place]
        if length < _RUNS_END:
            out += packed[place + 1 : place + 2 + length]
            place += length + 2
        else:
            out += packed[place + 1 : place + 2] * (257 - length)
            place += 2
    return bytes(out)


_LZW_CLEAR, _LZW_END, _LZW_MOST, _RUNS_END = 256, 257, 4096, 128
_FILTERS = {
    b"ASCII85Decode": lambda packed: base64.a85decode(packed.partition(b"~>")[0]),
    b"ASCIIHexDecode": lambda packed: bytes.fromhex(packed.partition(b">")[0].decode("ascii")),
    b"FlateDecode": _inflated,
    b"LZWDecode": _of_lzw,
    b"RunLengthDecode": _of_runs,
}
_FILTERS |= dict(zip((b"A85", b"AHx", b"Fl", b"LZW", b"RL"), _FILTERS.values(), strict=True))
"""Filters by their names, and by the short names of pictures within a page."""

_FILTER = re.compile(rb"/(%s)\b" % b"|".join(_FILTERS))
_PREDICTOR = re.compile(rb"/Predictor\s+(?!1\b)\d|/EarlyChange\s+0")


def _shown(stream: bytes) -> Iterator[bytes | None]:
    """Give the strings of a stream in their order; None where a word ends."""
    for found in _STRING.finditer(stream):
        word = found.group()
        if word.startswith(b"("):
            yield _ESCAPE.sub(_meant, word[1:-1])
        elif word.startswith(b"<") and word.endswith(b">"):
            digits = b"".join(word[1:-1].split()).decode("ascii")
            yield bytes.fromhex(digits + "0" * (len(digits) % 2))
        elif word in (b"Td", b"TD", b"T*", b"Tm", b"'", b'"', b"ET") or _is_gap(word):
            yield None


def _is_gap(word: bytes) -> bool:
    return word[:1] == b"-" and word[1:].replace(b".", b"", 1).isdigit() and float(word) < _GAP


def _meant(found: re.Match[bytes]) -> bytes:
    sign = found[1]
    if sign[0] in b"01234567":
        return bytes([int(sign, 8) & 0xFF])
    return b"" if sign.endswith(b"\n") else _ESCAPED.get(sign, sign)


def _joined(shown: list[bytes | None], table: Table) -> str:
    return "".join(" " if one is None else _letters(one, table) for one in shown)


def _letters(string: bytes, table: Table) -> str:
    """Read a string by a font's table, as Unicode where it says so, else as Latin letters."""
    if not table:
        is_wide = string.startswith(b"\xfe\xff")
        return (
            string.decode("utf-16-be", "ignore") if is_wide else string.decode("cp1252", "ignore")
        )
    width = len(next(iter(table)))
    codes = (string[place : place + width] for place in range(0, len(string), width))
    return "".join(table.get(code, "") for code in codes)


def _table(stream: bytes) -> Table:
    """Read a font's table: the letters that each code stands for."""
    table: Table = {}
    for block in _CHARACTERS.findall(stream):
        ends = [bytes.fromhex(one.decode("ascii")) for one in map(_tight, _HEX.findall(block))]
        pairs = zip(ends[::2], ends[1::2], strict=False)
        table |= {code: letters.decode("utf-16-be", "ignore") for code, letters in pairs}
    for block in _RANGES.findall(stream):
        for first, last, letter, letters in _RANGE.findall(block):
            begin, end, width = int(first, 16), int(last, 16), len(first) // 2
            codes = range(begin, min(end, begin + _RANGE_MOST) + 1)
            stood_for = [
                bytes.fromhex(_tight(one).decode("ascii")) for one in _HEX.findall(letters)
            ]
            texts = [one.decode("utf-16-be", "ignore") for one in stood_for]
            if letter:
                texts = [chr((int(letter, 16) + place) % 0x110000) for place in range(len(codes))]
            for number, text in zip(codes, texts, strict=False):
                table[number.to_bytes(width, "big")] = text
    return table


def _tight(digits: bytes) -> bytes:
    plain = b"".join(digits.split())
    return plain + b"0" * (len(plain) % 2)


def texts_of_png(content: bytes) -> Iterator[str]:
    """Read the comments that a picture packs; the others lie in its bytes as they are.

    Raises
    ------
    NotReadError
        One cannot be unpacked.
    """
    place = len(PNG)
    while place + 12 <= len(content):
        (length,), kind = struct.unpack_from(">L", content, place), content[place + 4 : place + 8]
        chunk = content[place + 8 : place + 8 + length]
        place += length + 12
        _, _, rest = chunk.partition(b"\0")
        packed = rest[1:]
        if kind == b"iTXt" and rest[:1] == b"\1":
            packed = rest[2:].split(b"\0", 2)[-1]
        elif kind != b"zTXt":
            continue
        try:
            whole = zlib.decompressobj().decompress(packed, _STREAM_BYTES_MOST)
        except zlib.error:
            key = "searched.parts"
            raise NotReadError(key) from None
        yield whole.decode("utf-8" if kind == b"iTXt" else "latin-1", "ignore")
