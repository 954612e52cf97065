"""After an erasure: every byte of every file of the folder, and of its backups, is searched.

Archives and compressed files are unpacked, encrypted files opened, marks between letters of a
document left out, and characters that pages, mails and links write by number are read as what
they stand for. Names of fewer than six letters are not searched for: they are parts of other
words. Names drawn as dots are not found; which files hold pictures of pages, nobody can tell.
"""

from __future__ import annotations

import base64
import bz2
import html
import io
import lzma
import quopri
import re
import tarfile
import zipfile
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import unquote_to_bytes

import polars as pl

from planner.errors import ARCHIVE_FAULTS, StoreError
from planner.messages import say
from planner.paths import CONTACTS_FILE, KEY_FILE, LOCK_FILE
from planner.store.backups import staging_folder
from planner.store.connection import Connection, connect, fetch, is_encrypted_content
from planner.store.drawn_texts import PDF, PNG, NotReadError, texts_of_pdf, texts_of_png
from planner.store.keys import key_of
from planner.store.queries import read_query

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator

    from planner.store.matching import Details

DATABASE = ".duckdb"
_ZIP = b"PK\x03\x04"
_WITHIN_MOST = 3
"""Archives within archives that are opened; a backup holds issued workbooks, which hold parts."""

_PART_BYTES_MOST = 512 * 1024**2
_ENDS = re.compile(rb"</(?:w:p|si|c|row|t[dhr]|p|li|h\d|div|title)>|<br", re.IGNORECASE)
_MARK = re.compile(rb"<[^<>]*>")
_RUN = re.compile(rb"[^\x00-\x1f]{4,}")
_WIDE = {
    "utf-16-le": re.compile(rb"(?:[^\x00]\x00){6,}"),
    "utf-16-be": re.compile(rb"(?:\x00[^\x00]){6,}"),
}
"""Texts in the middle of pictures, old documents and saved mails, two bytes a letter."""

_MARKED = (b"<?xml", b"<!doc", b"<html")
_PACKED: dict[bytes, Callable[[], Any]] = {
    b"\x1f\x8b": lambda: zlib.decompressobj(31),
    b"BZh": bz2.BZ2Decompressor,
    b"\xfd7zXZ": lzma.LZMADecompressor,
}
"""How files of one compressed part begin, and what unpacks them."""

_TAR, _TAR_AT = b"ustar", 257
_UNICODE = re.compile(r"\\u([0-9a-fA-F]{4})")
_PERCENT, _QUOTED = re.compile(rb"%[0-9A-Fa-f]{2}"), re.compile(rb"=[0-9A-F]{2}|=\r?\n")
_BASE64 = re.compile(rb"[A-Za-z0-9+/_-]{4,}(?:\r?\n[A-Za-z0-9+/_-]{4,})*")
_WORD = 8
"""Letters of base64 that hold the shortest name that is searched for."""

_URL_SAFE = bytes.maketrans(b"-_", b"+/")


_OF_OTHERS = re.compile(rf"{re.escape(CONTACTS_FILE)} (?:contacts|history)\.\w+$")


class Remnant(NamedTuple):
    """Where a detail is still."""

    path: Path  # file of the folder, or backup
    where: str  # part or column in it; empty for the file itself

    @property
    def is_of_others(self) -> bool:
        """Tell whether it is a record of contacts, where the rows of the erased are gone."""
        return bool(_OF_OTHERS.search(f"{self.path.name} {self.where}"))


def searched(folder: Path, backups: Iterable[Path], leave_out: Collection[Path]) -> list[Path]:
    """List the files that are searched: all of the folder, and its backups elsewhere."""
    apart = {folder / KEY_FILE, folder / LOCK_FILE, *leave_out}
    # a link to a folder is not followed, but named
    inside = {path for path in folder.rglob("*") if path.is_file() or path.is_symlink()}
    return sorted({*inside, *(path for path in backups if path.is_file())} - apart)


def remaining(folder: Path, paths: Iterable[Path], details: Details) -> tuple[Remnant, ...]:
    """Search files for details that are still there."""
    with staging_folder(folder) as stage:
        search = _Search(folder, Path(stage), details)
        found = ((path, where) for path in paths for where in search.file(path))
        return tuple(Remnant(path, where) for path, where in found)


class _Search:
    def __init__(self, folder: Path, stage: Path, details: Details) -> None:
        self.folder, self.stage, self.details = folder, stage, details

    def file(self, path: Path) -> Iterator[str]:
        """Name the places of a file that hold a detail."""
        if self.details.found_in(pl.Series([path.name])).item():
            yield say("searched.name")
        if path.is_symlink() and not path.is_file():
            yield say("searched.link", path=str(path.resolve()))
            return
        try:
            yield from self._bytes(path.name, path.read_bytes(), 0)
        except OSError as error:
            yield say("searched.unread", why=str(error.strerror))

    def _bytes(self, name: str, content: bytes, depth: int) -> Iterator[str]:
        where = name if depth else ""
        inner: list[str] = []
        if name.endswith(DATABASE):
            inner = list(self._database(where, content))
        elif content.startswith(_ZIP):
            inner = list(self._archive(where, content, depth))
        elif content[_TAR_AT:].startswith(_TAR):
            inner = list(self._tar(where, content, depth))
        elif kind := next((one for one in _PACKED if content.startswith(one)), b""):
            inner = list(self._packed(name, content, depth, kind))
        elif content.startswith((PDF, PNG)):
            inner = list(self._drawn(where, content))
        yield from inner
        # between the parts, and where the database keeps what it has freed
        is_cipher = name.endswith(DATABASE) and is_encrypted_content(content)
        if not inner and not is_cipher and self._holds(content):
            yield where
        elif not inner and not name.endswith(DATABASE):
            yield from self._encoded(where, content, depth)

    def _archive(self, where: str, content: bytes, depth: int) -> Iterator[str]:
        try:
            with zipfile.ZipFile(io.BytesIO(content)) as archive:
                for part in archive.infolist():
                    if depth >= _WITHIN_MOST or part.file_size > _PART_BYTES_MOST:
                        yield say("searched.too_large", where=f"{where}/{part.filename}")
                        continue
                    inner = self._bytes(part.filename, archive.read(part), depth + 1)
                    yield from (f"{where}/{one}".strip("/") for one in inner)
        except ARCHIVE_FAULTS:
            yield say("searched.packed", where=where).strip()

    def _tar(self, where: str, content: bytes, depth: int) -> Iterator[str]:
        try:
            with tarfile.open(fileobj=io.BytesIO(content)) as archive:
                for part in archive:
                    opened = archive.extractfile(part) if part.isreg() else None
                    if opened is not None and depth < _WITHIN_MOST:
                        inner = self._bytes(part.name, opened.read(_PART_BYTES_MOST), depth + 1)
                        yield from (f"{where}/{one}".strip("/") for one in inner)
        except (*ARCHIVE_FAULTS, tarfile.TarError):
            yield say("searched.packed", where=where).strip()

    def _packed(self, name: str, content: bytes, depth: int, kind: bytes) -> Iterator[str]:
        """Unpack a file that holds one compressed part, or several one after another."""
        where = name if depth else ""
        whole, rest, is_whole = b"", content, True
        try:
            while rest.startswith(kind) and is_whole:
                unpacking = _PACKED[kind]()
                whole += unpacking.decompress(rest, _PART_BYTES_MOST - len(whole) + 1)
                rest, is_whole = unpacking.unused_data, unpacking.eof
        except (*ARCHIVE_FAULTS, lzma.LZMAError):
            is_whole = False
        if depth >= _WITHIN_MOST or not is_whole:
            yield say("searched.packed_in_part", where=where).strip()
        if depth < _WITHIN_MOST and whole:
            inner = self._bytes(Path(name).stem, whole, depth + 1)
            yield from (f"{where}/{one}".strip("/") for one in inner)

    def _drawn(self, where: str, content: bytes) -> Iterator[str]:
        """Search what a PDF or a picture holds packed."""
        texts = texts_of_pdf(content) if content.startswith(PDF) else texts_of_png(content)
        try:
            if any(self._in_lines(text.splitlines()) for text in texts):
                yield where
        except NotReadError as error:
            yield say(str(error), where=where).strip()

    def _encoded(self, where: str, content: bytes, depth: int) -> Iterator[str]:
        """Search what is written in base64, as attachments of mails and pictures of pages are."""
        if depth >= _WITHIN_MOST:
            return
        short = []
        for run in set(_BASE64.findall(content)):
            letters = run.translate(_URL_SAFE, b"\r\n")
            # letters and spaces come out in capitals and small letters: plain words do not
            if len(letters) < _WORD or letters in (letters.lower(), letters.upper()):
                continue
            # a last letter alone holds no byte; the sign that fills up is left out in links
            whole = letters[:-1] if len(letters) % 4 == 1 else letters
            decoded = base64.b64decode(whole + b"=" * (-len(whole) % 4))
            if decoded.startswith((_ZIP, *_PACKED)):
                inner = self._bytes("base64", decoded, depth + 1)
                yield from (f"{where}/{one}".strip("/") for one in inner)
            else:
                short.append(decoded)
        if short and self._holds(b"\n".join(short)):
            yield f"{where}/base64".strip("/")

    def _database(self, where: str, content: bytes) -> Iterator[str]:
        path = self.stage / "searched.duckdb"
        path.write_bytes(content)
        try:
            key = key_of(self.folder, path)
            with connect(path, read_only=True, key=key) as connection:
                columns = fetch(connection, read_query("text_columns").text)
                tables = columns["table_name"].unique()
                filled = [table for table in tables if _has_rows(connection, f'"{table}"')]
                for table, column, _ in columns.filter(pl.col("table_name").is_in(filled)).rows():
                    place = {"table": f'"{table}"', "column": f'"{column}"'}
                    texts = fetch(connection, read_query("distinct_texts").fill(**place))
                    if self.details.found_in(texts["text"].cast(pl.String)).any():
                        yield f"{where} {table}.{column}".strip()
        except StoreError:
            yield say("searched.closed", where=where).strip()
        finally:
            path.unlink(missing_ok=True)

    def _holds(self, content: bytes) -> bool:
        """Search bytes as they lie, in UTF-8 and, where every second one is 0, UTF-16."""
        plain = content
        if content[:5].lower() in _MARKED or b"</" in content:
            plain = _MARK.sub(b" ", _ENDS.sub(b"\n", content))
        texts = [_read(b"\n".join(_RUN.findall(_by_number(plain))))]
        if b"\x00" in content[:200]:
            texts.append(content.decode("utf-16-le", errors="ignore"))
        for form, found in _WIDE.items():
            texts += (run.decode(form, errors="ignore") for run in found.findall(content))
        return self._in_lines("\n".join(texts).splitlines())

    def _in_lines(self, runs: list[str]) -> bool:
        lines = pl.DataFrame({"text": runs}, schema={"text": pl.String})
        # a name may be broken over two lines
        both = pl.col("text") + " " + pl.col("text").shift(-1).fill_null("")
        return bool(self.details.found_in(lines.select(both).unique()["text"]).any())


def _has_rows(connection: Connection, table: str) -> bool:
    return bool(fetch(connection, read_query("count_rows").fill(table=table)).item())


def _by_number(content: bytes) -> bytes:
    """Read letters that links and mails write by their number; bytes of neither stay."""
    if _PERCENT.search(content):
        content += b"\n" + unquote_to_bytes(content)
    if _QUOTED.search(content):
        content += b"\n" + quopri.decodestring(content)
    return content


def _read(lines: bytes) -> str:
    """Read lines with the letters that pages and JSON write by name or number."""
    try:
        text = lines.decode("utf-8")
    except UnicodeDecodeError:
        # text files of Windows and comments of pictures write an accented letter as one byte
        ways = (lines.decode(form, "ignore").split("\n") for form in ("utf-8", "cp1252"))
        both = zip(*ways, strict=True)
        text = "\n".join(one if one == other else f"{one} {other}" for one, other in both)
    if "\\u" in text:
        pairs = _UNICODE.sub(lambda found: chr(int(found[1], 16)), text)
        text = pairs.encode("utf-16-le", "surrogatepass").decode("utf-16-le", errors="ignore")
    # a page within a page is written twice over
    return html.unescape(html.unescape(text)) if "&" in text else text
