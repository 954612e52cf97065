# ruff: noqa: E501 - a trick a line
# fmt: off
"""More files made by hand: archives, text files, settings and Word templates that mislead a reader."""

from __future__ import annotations

import functools
import io
import struct
import zipfile
import zlib

from tests.benchmarks.outsider import (
    LINES,
    LINKS,
    TRUTH,
    Trick,
    book_parts,
    books,
    open_books,
    packed,
)

# -- archives ----------------------------------------------------------------------------


def archives(plain: bytes) -> dict[str, bytes]:  # noqa: C901 - one trick after another
    """Make archives whose entries are not what they seem."""
    with zipfile.ZipFile(io.BytesIO(plain)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = max(parts, key=lambda name: len(parts[name]) * name.startswith(("xl/w", "con", "word/d")))
    out = {}
    for other in (f"/{name}", f"../{name}", f"C:\\{name}", name.replace("/", "\\"), name.upper(), f"./{name}", name + "\0.xml", name + "/"):
        out[f"named {other!r}"] = packed({(other if one == name else one): part for one, part in parts.items()})
        if other != name:
            out[f"{other!r} as well"] = packed({**parts, other: parts[name].replace(b"C1", b"X1")})
    twice = io.BytesIO(plain)
    with zipfile.ZipFile(twice, "a") as archive:
        archive.fp.seek(archive.start_dir)
        archive.NameToInfo.pop(name)
        archive.writestr(name, parts[name].replace(b"C1", b"X1"))
    out["a part twice"] = twice.getvalue()
    linked = io.BytesIO()
    with zipfile.ZipFile(linked, "w") as archive:
        for one, part in parts.items():
            entry = zipfile.ZipInfo(one)
            entry.external_attr = (0o120777 if one == name else 0o644) << 16
            archive.writestr(entry, b"/etc/passwd" if one == name else part)
    out["a link for a part"] = linked.getvalue()

    class Unseekable(io.RawIOBase):
        def __init__(self):
            self.held = io.BytesIO()

        def writable(self):
            return True

        def write(self, some):
            return self.held.write(some)

    stream = Unseekable()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for one, part in parts.items():
            archive.writestr(one, part)
    out["data descriptors"] = stream.held.getvalue()
    at = plain.rfind(b"PK\x01\x02")
    end = plain.rfind(b"PK\x05\x06")

    def put(place: int, form: str, value: int) -> bytes:
        some = struct.pack(form, value)
        return plain[:place] + some + plain[place + len(some) :]

    entry = plain.find(b"PK\x01\x02")
    while plain[entry + 46 : entry + 46 + len(name)] != name.encode():
        entry = plain.find(b"PK\x01\x02", entry + 4)
    for what, place, form, value in (
        ("no size", entry + 24, "<L", 0), ("a size of 4 GiB", entry + 24, "<L", 2**32 - 2),
        ("a size of zip64", entry + 24, "<L", 2**32 - 1), ("packed to nothing", entry + 20, "<L", 0),
        ("packed to more", entry + 20, "<L", 2**31), ("another's bytes", entry + 42, "<L", 0),
        ("bytes past the end", entry + 42, "<L", 2**31), ("another sum", entry + 16, "<L", 7),
        ("another method", entry + 10, "<H", 12), ("a rare method", entry + 10, "<H", 99),
        ("locked", entry + 8, "<H", 1), ("utf-8 said", entry + 8, "<H", 0x800),
        ("no entries", end + 10, "<H", 0), ("too many entries", end + 10, "<H", 65535),
        ("a directory elsewhere", end + 16, "<L", 5), ("several disks", end + 4, "<H", 3),
        ("a name of 64 KiB", entry + 28, "<H", 65535), ("an extra of 64 KiB", entry + 30, "<H", 65535),
        ("the year 1980", entry + 12, "<L", 0), ("one entry fewer", end + 10, "<H", len(parts) - 1),
    ):
        out[what] = put(place, form, value)
    assert at > 0
    out["bytes before it"] = b"MZ" * 500 + plain
    out["bytes after it"] = plain + b"\0" * 500
    out["a comment that ends it again"] = plain[:-2] + struct.pack("<H", 22) + b"PK\x05\x06" + b"\0" * 18
    out["two archives"] = plain + plain.replace(b"C1", b"X1")
    out["two archives, the first damaged"] = plain[:100] + plain
    out["a bomb of nothing"] = packed({**parts, "xl/media/image1.xml": b" " * 60_000_000})
    overlap = zlib.compress(b"a" * 9_000_000)[2:-4]
    local = struct.pack("<4s5H3L2H", b"PK\x03\x04", 20, 0, 8, 0, 0, 0, len(overlap), 9_000_000, 1, 0) + b"q" + overlap
    heads = b"".join(
        struct.pack("<4s6H3L5H2L", b"PK\x01\x02", 20, 20, 0, 8, 0, 0, 0, len(overlap), 9_000_000, 5, 0, 0, 0, 0, 0, 0) + b"%05d" % n for n in range(4000)
    )
    out["entries of the same bytes"] = local + heads + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 4000, 4000, len(heads), len(local), 0)
    return out


# -- text --------------------------------------------------------------------------------


def texts() -> dict[str, bytes | Trick]:  # noqa: C901 - one trick after another
    """Text files."""
    out: dict[str, bytes | Trick] = {"as it is": LINES.encode()}
    for form in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-7", "cp1252", "cp037"):
        out[f"in {form}"] = LINES.encode(form)
    out["two marks of order"] = b"\xef\xbb\xbf\xef\xbb\xbf" + LINES.encode()
    out["a mark in the middle"] = LINES.replace("C2", "\ufeffC2").encode()
    out["halves of a character"] = LINES.encode("utf-16")[:-1]
    for name, sign in {"nothing": "\0", "escape": "\x1b", "right to left": "\u202e", "isolate": "\u2066",
        "no width": "\u200b", "soft hyphen": "\xad", "no break": "\xa0", "line separator": "\u2028", "next line": "\x85",
        "form feed": "\x0c", "vertical tab": "\x0b", "separator": "\x1e", "end of file": "\x1a", "no character": "\ufffe", "tag": "\U000e0041"}.items():
        for where, text in {"id": LINES.replace("C1", f"C{sign}1"), "word": LINES.replace("bins", f"bi{sign}ns"),
            "amount": LINES.replace("70.5", f"7{sign}0.5"), "heading": LINES.replace("amount", f"amo{sign}unt"), "line": LINES.replace("\nC2", f"\n{sign}\nC2")}.items():
            out[f"{name} in the {where}"] = Trick("", text.encode(), None)
    digits = {"full width": 0xFF10, "Arabic": 0x660, "Devanagari": 0x966, "bold": 0x1D7CE}
    for name, first in digits.items():
        turned = LINES.translate({ord("0") + n: chr(first + n) for n in range(10)})
        lines = [mine if n in (0,) else other for n, (mine, other) in enumerate(zip(LINES.splitlines(), turned.splitlines(), strict=True))]
        out[f"digits {name}"] = Trick("", "\n".join(lines).encode(), None)
        out[f"amounts {name}"] = Trick("", LINES.replace("70.5", "70.5".translate({ord("0") + n: chr(first + n) for n in range(10)})).encode(), TRUTH)
    out["mixed ends"] = LINES.replace("\n", "\r\n", 1).replace("\nC2", "\rC2").encode()
    out["ends of the old kind"] = LINES.replace("\n", "\r").encode()
    out["doubled ends"] = LINES.replace("\n", "\r\r\n").encode()
    out["ends the other way"] = LINES.replace("\n", "\n\r").encode()
    out["quotes never closed"] = Trick("", LINES.replace("C2", '"C2').encode(), None)
    out["quotes in the middle"] = Trick("", LINES.replace("worms", 'wo"rms').encode(), None)
    out["quotes after spaces"] = Trick("", LINES.replace("worms", ' "worms"').encode(), None)
    out["all quoted"] = ("\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in LINES.splitlines())).encode()
    out["a line end in quotes"] = Trick("", LINES.replace("worms", '"wor\nms"').encode(), None)
    out["a million columns"] = ("," * 1_000_000 + "\n" + LINES).encode()
    out["a million columns beside it"] = LINES.replace("amount", "amount" + "," * 1_000_000).encode()
    out["a million empty lines"] = (LINES + "\n" * 1_000_000).encode()
    out["a million empty lines above it"] = ("\n" * 1_000_000 + LINES).encode()
    out["a cell of 20 MB"] = LINES.replace("bins", "x" * 20_000_000).encode()
    out["a heading of 5 MB"] = LINES.replace("category", "category" + "x" * 5_000_000).encode()
    out["more cells in a line"] = Trick("", LINES.replace("70.5", "70.5,8,9").encode(), None)
    out["fewer cells in a line"] = Trick("", LINES.replace("worms,70.5", "worms").encode(), None)
    out["a heading twice"] = LINES.replace("amount", "amount,amount").replace("5.0", "5.0,6").encode()
    for separator in (";", "\t", "|", ":", "\x1f", " "):
        out[f"parted by {separator!r}"] = LINES.replace(",", separator).encode()
    out["two separators"] = Trick("", LINES.replace("C2,", "C2;").encode(), None)
    out["sep="] = f"sep=;\n{LINES}".encode()
    out["sep of nothing"] = f"sep=\n{LINES}".encode()
    for amount in (
        "1e3",
        "1_000",
        "0x1F",
        "1,000",
        "١",
        "-5",
        "+5",
        "5-",
        "(5)",
        "5%",
        "½",
        "Ⅴ",
        "五",
        "5e-400",
        "9" * 400,
        "1e308",
        "inf",
        "-nan",
        "5 €",
        "€5",
        "\u22125",
        "5.0.0",
        "5..0",
        ".5.",
        "1'000",
    ):
        out[f"the amount {amount[:9]}"] = Trick("", LINES.replace("70.5", f'"{amount}"').encode(), None)
    for day in (
        "2025-02-29",
        "2025-13-01",
        "0000-00-00",
        "9999-12-31",
        "10000-01-01",
        "2025-8-2",
        "2/8/25",
        "02.08.2025",
        "45871",
        "-1",
        "1e9",
        "2025-08-02T00:00:00+14:00",
        "2025-W31-6",
        "2025-214",
        "٢٠٢٥-٠٨-٠٢",
        "2025/08/02",
        "Aug 2 2025",
        "yesterday",
    ):
        out[f"the day {day}"] = Trick("", LINES.replace("2025-08-02", day).encode(), None)
    for start in ("=", "+", "-", "@", "\t=", "=cmd|' /C calc'!A0", '=HYPERLINK("http://x")'):
        out[f"an id of {start!r}"] = Trick("", LINES.replace("C2", '"' + start.replace('"', '""') + 'C2"').encode(), None)
    out["nothing"] = Trick("", b"", ())
    out["one heading"] = Trick("", b"cost_id", ())
    out["an archive as text"] = Trick("", packed(book_parts()), ())
    out["a page"] = Trick("", b"<html><table><tr><td>cost_id</td></tr></table></html>", ())
    return out


# -- settings and templates --------------------------------------------------------------


def settings(text: str) -> dict[str, bytes]:
    """Program files."""
    lines = {
        "a lone half": 'x = "\\ud800"', "a character too far": 'x = "\\U00110000"', "day 30 February": "x = 2025-02-30",
        "the year nought": "x = 0000-01-01", "the year 10000": "x = 10000-01-01", "hour 25": "x = 2025-01-01T25:00:00",
        "second 60": "x = 2025-01-01T23:59:60Z", "offset +99:99": "x = 2025-01-01T00:00:00+99:99", "a long number": f"x = {'9' * 5000}",
        "a long hexadecimal": f"x = 0x{'f' * 100_000}", "no number": "x = nan", "no end": "x = -inf", "a long fraction": f"x = 1e{'9' * 5000}",
        "deep lists": f"x = {'[' * 20_000}{']' * 20_000}", "deep tables": f"x = {'{a=' * 5_000}1{'}' * 5_000}",
        "a long key": f"{'a.' * 20_000}b = 1", "a key of quotes": '"".""."" = 1', "a table twice": "[council]\nname = 'x'",
        "a table of tables": "[[council]]\nname = 'x'", "bidi": "# \u202e\nx = '\u202e'", "a line end of the old kind": "x = 1\ry = 2",
        "many keys": "\n".join(f"k{n} = {n}" for n in range(20_000)), "many tables": "\n".join(f"[t.{n}]" for n in range(20_000)),
        "many quotes": '"""' * 30_000, "nothing": "\0", "an escape": "x = '\x1b[2J'", "no character": "x = '\ufffe'",
    }
    out = {name: f"{text}\n{line}\n".encode("utf-8", "surrogatepass") for name, line in lines.items()}
    values = (
        "-1",
        "0",
        "1e308",
        "nan",
        "inf",
        "9223372036854775807",
        "true",
        '""',
        "[]",
        "{}",
        "2025-01-01",
        '"\u202e"',
        f'"{"x" * 9000}"',
        '"../../etc"',
        '"{{ 7 }}"',
        '"=1+1"',
    )
    for number, line in enumerate(text.splitlines()):
        key, equals, _ = line.partition(" = ")
        if equals and not line.startswith("#"):
            value = values[number % len(values)]
            out[f"{key} is {value[:9]}"] = text.replace(line, f"{key} = {value}", 1).encode()
    out["a half of a character"] = text.encode() + b"# \xc3\n"
    out["a surrogate in bytes"] = text.encode() + b"x = '\xed\xa0\x80'\n"
    out["UTF-16"] = text.encode("utf-16")
    out["a mark of order"] = text.encode("utf-8-sig")
    out["nothing"] = b""
    out["one line"] = text.replace("\n", " ").encode()
    return out


MARKS = (
    "{{ ''.__class__.__mro__[1].__subclasses__() }}", "{{ cycler.__init__.__globals__.os.popen('id').read() }}",
    "{{ lipsum.__globals__['os'].popen('id').read() }}", "{{ self._TemplateReference__context }}", "{{ title.__class__ }}",
    "{{ joiner.__init__.__globals__ }}", "{{ namespace.__init__.__globals__ }}", "{{ request.application }}",
    "{{ title|attr('__class__') }}", "{{ title|attr('\\x5f\\x5fclass\\x5f\\x5f') }}", "{{ title['__class__'] }}", "{{ ()|map(attribute='__class__')|list }}",
    "{% for a in range(1000000000) %}{% endfor %}", "{% for a in range(99999) %}{% for b in range(99999) %}{% for c in range(99999) %}x{% endfor %}{% endfor %}{% endfor %}",
    "{% set ns = namespace(a='x') %}{% for i in range(99999) %}{% set ns.a = ns.a + ns.a %}{% endfor %}{{ ns.a }}",
    "{{ 'a' * 3000000000 }}", "{{ 9 ** 99999999 }}", "{{ lipsum(n=100000, max=100000) }}", "{{ [0] * 10 ** 10 }}", "{{ '%999999999d' % 1 }}", "{{ '{:>999999999}'.format(1) }}",
    "{% include '/etc/passwd' %}", "{% import 'os' as os %}", "{% extends 'x' %}", "{% from 'x' import y %}",
    "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}", "{% macro m() %}{{ caller() }}{% endmacro %}{% call m() %}{{ m() }}{% endcall %}",
    "{% block a %}{{ self.a() }}{% endblock %}", "{{ title | center(999999999) }}", "{{ title | indent(999999999) }}", "{{ range(10**9) | list }}", "{{ (1,2,3) | sum(start=[]) }}",
    "{{ title | wordwrap(0) }}", "{{ title | batch(0) | list }}", "{{ [] | random }}", "{% raw %}", "{% endfor %}", "{{", "}}", "{#", "{% if %}", "{{ 1 // 0 }}", "{{ nothing.at.all }}", "{{ title() }}",
    "{% do x %}", "{% trans %}x{% endtrans %}", "{{ dict.mro() }}", "{{ title.format.__func__ }}", "{{ '{0.__class__}'.format(title) }}", "{% set everything = 1 %}{{p everything }}",
    "{{p everything }}" * 2000, "{" * 30_000, "{{ " + "(" * 3000 + "1" + ")" * 3000 + " }}", "{{ " + "-" * 20_000 + "1 }}", "{{ " + "a." * 20_000 + "b }}", "{{ '" + "x" * 1_000_000 + "' }}",
    "{%tr for a in b %}", "{%p if title %}", "{{r title }}", "{{tc title }}", "{% colspan 9999999999 %}", "{% cellbg title %}", "{% vm %}", "{% hm %}",
)


def templates(plain: bytes) -> dict[str, bytes]:
    """Word templates."""
    with zipfile.ZipFile(io.BytesIO(plain)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    body = parts["word/document.xml"].decode()
    at = body.index("<w:p ") if "<w:p " in body else body.index("<w:p>")

    def with_body(text: str, **more: bytes) -> bytes:
        return packed({**parts, "word/document.xml": text, **more})

    out = {}
    for mark in MARKS:
        told = mark.replace("&", "&amp;").replace("<", "&lt;")
        out[mark[:60]] = with_body(f"{body[:at]}<w:p><w:r><w:t>{told}</w:t></w:r></w:p>{body[at:]}")
    half = "".join(f"<w:r><w:t>{sign}</w:t></w:r>" for sign in "{{ ''.__class__ }}")
    out["a mark in single letters"] = with_body(f"{body[:at]}<w:p>{half}</w:p>{body[at:]}")
    out["deep paragraphs"] = with_body(body[:at] + "<w:sdt><w:sdtContent>" * 3000 + "</w:sdtContent></w:sdt>" * 3000 + body[at:])
    out["entities"] = with_body('<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>' + body.partition("?>")[2])
    out["a file for an entity"] = with_body('<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>' + body.partition("?>")[2].replace("<w:t>", "<w:t>&a;", 1))
    wide = struct.pack(">2L5B", 2**31 - 1, 2**31 - 1, 8, 6, 0, 0, 0)
    picture = b"\x89PNG\r\n\x1a\n" + struct.pack(">L", 13) + b"IHDR" + wide + struct.pack(">L", zlib.crc32(b"IHDR" + wide))
    out["a picture of 2^31 pixels a side"] = with_body(body, **{"word/media/image1.png": picture + b"\0" * 99})
    out["a picture of 80 MB of nothing"] = with_body(body, **{"word/media/image1.png": picture + b"\0" * 80_000_000})
    out["macros"] = with_body(body, **{"word/vbaProject.bin": b"\xd0\xcf\x11\xe0"})
    links = parts["word/_rels/document.xml.rels"].decode()
    for name, target in {"a picture elsewhere": "http://example.org/x.png", "a picture of a file": "file:///etc/passwd"}.items():
        link = f'<Relationship Id="rX" Type="{LINKS}/image" Target="{target}" TargetMode="External"/>'
        out[name] = packed({**parts, "word/_rels/document.xml.rels": links.replace("</Relationships>", f"{link}</Relationships>")})
    loop = f'<Relationship Id="rL" Type="{LINKS}/subDocument" Target="document.xml"/>'
    out["a document within itself"] = packed({**parts, "word/_rels/document.xml.rels": links.replace("</Relationships>", f"{loop}</Relationships>")})
    return out


@functools.cache
def tricks(kind: str, sound: bytes = b"") -> tuple[tuple[str, Trick], ...]:
    """Name and make every trick of a kind of file.

    Parameters
    ----------
    kind
        Ending of the files' names.
    sound
        A sound program file or template to work on; none for the others.
    """
    made: dict[str, bytes | Trick] = {}
    if kind in ("xlsx", "ods"):
        made = books() if kind == "xlsx" else open_books()
        plain = made["as it is"]
        assert isinstance(plain, bytes)
        made |= {f"archive: {name}": content for name, content in archives(plain).items()}
    elif kind == "csv":
        made = texts()
    elif kind == "toml":
        made = dict(settings(sound.decode()))
    else:
        made = {**templates(sound), **{f"archive: {n}": c for n, c in archives(sound).items()}}
    whole = {n: one if isinstance(one, Trick) else Trick("", one) for n, one in made.items()}
    return tuple((n, one._replace(name=one.name or f"costs.{kind}")) for n, one in whole.items())
