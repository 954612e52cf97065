"""Read every byte that the commands write: python -m tests.benchmarks.leak_outputs.

A sample town is loaded with a serial number on every bin and names of people typed into a column
of numbers, and every command that writes for somebody is run, reports, letters, lists, calendars,
purchase orders, plans, packs and the console among them. Then

* every byte of every file, archives unpacked and marks left out, is searched for every name,
  street, mail address, telephone number, serial number and refused name; only what is private by
  purpose may hold one, and lies in a folder that is its owner's alone, in files that are so too;
* one household more is loaded and every command run again: of all that may leave the office nothing
  may read otherwise than before unless it says that it is kept there, or is for suppliers alone.

Nothing here shares code with the planner's own search. What is drawn as dots is not read. Prints a
line a command; ends with 1 where a detail or a difference got out.
"""

from __future__ import annotations

import csv
import html
import io
import re
import stat
import sys
import tempfile
import unicodedata
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from typer.testing import CliRunner

from planner.cli import app
from planner.paths import SAMPLE_PROGRAMS
from tests.kill_points import ALONE, TOWN, WORDS, WRITES_NOTHING, prepare_folder

WORKS_ON_RECORDS = (
    "backup", "demo", "erase", "key", "load", "new", "restore", "retain", "undo", "withdraw",
)  # fmt: skip
"""Commands that write for nobody, and those that change records, which the study does itself."""

WRITES = {
    **{name: words for name, words in WORDS.items() if name not in WORKS_ON_RECORDS},
    "evidence": ["{folder}/for-the-auditor-{turn}"],
    "order": [*WORDS["order"], "--force"],
    "sheet": ["--letters", "--force"],
}
READS = {**WRITES_NOTHING, "explain": ["bins_given"]}
PRIVATE = ("private", "refused")
OWN = ("program.", "contacts.duckdb", "backups", ".planner.lock", "areas.geojson", "more.csv",
       "unknown.csv", "events.csv", "registrations.csv", "bookings.csv")  # fmt: skip
"""Files of the office itself, which no command writes for anybody."""

OF_THE_OFFICER = "calendar/due.ics"
"""The officer's own list of what is to be done: it tells of loads and backups, and of nobody."""

KEPT = re.compile("in the office|to its suppliers alone|en la oficina|a sus proveedores")
SERIAL, TYPED = "Quorvex-{:05}", "Ask Quandeline Vespertrix"
FEWEST_LETTERS = 7
_HOUSEHOLD = re.compile(r"\bVD-\d{5}\b")
_STAMP = re.compile(r"DTSTAMP:\w+")
_MARK = re.compile(r"<[^<>]*>")
_FILTERED = re.compile(rb"stream\r?\n(.*?)endstream", re.DOTALL)


def main() -> int:
    """Run the study and print what was found."""
    with tempfile.TemporaryDirectory() as place:
        folder, found = Path(place) / "town", 0
        plant(folder)
        details = planted(folder)
        print(f"{len(details):,} details planted")
        told = ran(folder, 1)
        for name, words in {**told, **read(folder)}.items():
            for detail in held(words, details):
                print(f"    {name}: holds {detail}")
                found += 1
            if keys := {*_HOUSEHOLD.findall(words)}:
                print(f"knows households by their numbers alone: {name}, {len(keys):,} of them")
        found += check_private(folder, details)
        before = read(folder)
        add_household(folder)
        ran(folder, 2)
        after = read(folder)
        for name in after:
            if name in before and name != OF_THE_OFFICER and tells_more(name, after, before):
                print(f"    {name}: reads otherwise after one household more")
                found += 1
    print(f"{found} found")
    return int(found > 0)


def tells_more(name: str, after: dict[str, str], before: dict[str, str]) -> bool:
    """Tell whether a file reads otherwise and does not say who alone may see it.

    Lists of figures and charts hold no sentences: the papers beside them say it for them. A report
    of the year is to be that of the issue, and no longer the draft before it.
    """
    place, _, short = name.rpartition("/")
    is_paper = short.endswith((".docx", ".xlsx", ".html"))
    beside = [name] if is_paper else [one for one in after if one.startswith(f"{place}/")]
    issued = [one for one in before if place == "report" and one.endswith(f"_2025/{short}")]
    plain = [_STAMP.sub("", one) for one in (after[name], before[(issued or [name])[0]])]
    return plain[0] != plain[1] and not any(KEPT.search(after[one]) for one in beside)


def plant(folder: Path) -> None:
    """Load a town whose bins have serial numbers, and a file of rows that are refused."""
    prepare_folder(folder)
    for name in ("handovers", "households"):
        rows = (SAMPLE_PROGRAMS / TOWN / f"{name}.csv").read_text("utf-8-sig").splitlines()
        if name == "handovers":
            rows[1:] = [row + SERIAL.format(place) for place, row in enumerate(rows[1:])]
        else:
            column = rows[0].split(";").index("people_count")
            cells = rows[1].split(";")
            cells[:1], cells[column] = ["VD-90000"], TYPED
            rows[1:] = [";".join(cells)]
        path = folder / f"{name}_again.csv"
        path.write_text("\n".join(rows), "utf-8")
        run(folder, "load", [str(path)])
        path.unlink()


def planted(folder: Path) -> dict[str, str]:
    """Give every detail, as it is written and as it is searched for."""
    text = (SAMPLE_PROGRAMS / TOWN / "contacts.csv").read_text("utf-8-sig")
    rows = csv.DictReader(io.StringIO(text), delimiter=";")
    of_people = [
        row[name] for row in rows for name in ("full_name", "street_address", "email", "phone")
    ]
    count = len((SAMPLE_PROGRAMS / TOWN / "handovers.csv").read_text("utf-8").splitlines()) - 1
    every = [*of_people, *map(SERIAL.format, range(count)), TYPED.removeprefix("Ask ")]
    return {folded(one): one for one in every if len(folded(one)) >= FEWEST_LETTERS}


def ran(folder: Path, turn: int) -> dict[str, str]:
    """Run every command; give what each said."""
    told = {}
    for name, words in {**WRITES, **READS}.items():
        code, told[f"what {name} says"] = run(folder, name, words, turn)
        print(f"{name}: ended with {code}", flush=True)
    return told


def run(folder: Path, name: str, words: list[str], turn: int = 1) -> tuple[int, str]:
    given = [word.format(folder=folder, turn=turn) for word in words]
    where = [] if name in ALONE else ["--program", str(folder)]
    result = CliRunner().invoke(app, [name, *given, *where])
    if result.exit_code not in (0, 2, 3) or (
        turn == 1 and result.exit_code == 2 and name in WRITES
    ):
        message = f"{name}: {result.output[-500:]} {result.exception!r}"
        raise RuntimeError(message)
    return result.exit_code, result.output


def read(folder: Path) -> dict[str, str]:
    """Read every file that a command wrote for somebody, private ones left out."""
    names = {path: str(path.relative_to(folder)) for path in sorted(folder.rglob("*"))}
    return {
        name: "\n".join(texts(path.read_bytes()))
        for path, name in names.items()
        if path.is_file() and not name.startswith((*OWN, *PRIVATE))
    }


def texts(content: bytes) -> Iterator[str]:
    """Read bytes in every way in which a text may stand in them."""
    if content.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            for name in archive.namelist():
                if name != "docProps/core.xml":  # the time at which it was written
                    yield name
                    yield from texts(archive.read(name))
        return
    for packed in _FILTERED.findall(content):
        whole = zlib.decompressobj().decompress(packed) if packed[:1] == b"x" else packed
        yield whole.decode("latin-1")
    for form in ("utf-8", "utf-16-le", "latin-1"):
        text = content.decode(form, "ignore")
        yield html.unescape(_MARK.sub("", text))
        yield html.unescape(_MARK.sub(" ", text))


def folded(text: str) -> str:
    """Write a text as its letters and digits alone, small and without accents."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[^a-z0-9@]", "", plain)


def held(text: str, details: dict[str, str]) -> list[str]:
    """List the details that a text holds."""
    whole = folded(text)
    return [detail for one, detail in details.items() if one in whole]


def check_private(folder: Path, details: dict[str, str]) -> int:
    """Name the files that are private by purpose, and those that others can read."""
    found = 0
    for path in sorted(one for place in PRIVATE for one in (folder / place).rglob("*")):
        count = len(held("\n".join(texts(path.read_bytes())), details)) if path.is_file() else 0
        modes = [stat.S_IMODE(one.stat().st_mode) for one in (path, path.parent)]
        is_open = any(mode & 0o077 for mode in modes)
        found += is_open
        said = "others can read it" if is_open else "its owner's alone"
        print(f"private by purpose: {path.relative_to(folder)}, {count:,} details, {said}")
    return found


def add_household(folder: Path) -> None:
    """Load one household more, whose bin was given in a month that every output covers."""
    rows = {
        "households": "VD-90001;{};flat;2;2025-03-01;online;yes",
        "handovers": "VD-B90001;VD-90001;;caja_dos;2025-03-10;0,25;1,3;0;QV-90001",
    }
    heads = {
        "households": "household_id;area_id;dwelling;people_count;registered_date;channel;"
        "may_contact",
        "handovers": "handover_id;household_id;event_id;model_id;handover_date;worms_kg;bedding_kg;"
        "copayment;serial",
    }
    areas = (SAMPLE_PROGRAMS / TOWN / "areas.csv").read_text("utf-8-sig").splitlines()
    for name, row in rows.items():
        path = folder / f"one_more_{name}.csv"
        path.write_text(f"{heads[name]}\n{row.format(areas[1].split(';')[0])}\n", "utf-8")
        code, told = run(folder, "load", [str(path)])
        assert code == 0, told
        path.unlink()


if __name__ == "__main__":
    sys.exit(main())
