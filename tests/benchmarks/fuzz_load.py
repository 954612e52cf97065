"""Load files that were damaged by chance, whole commands at a time.

    python -m tests.benchmarks.fuzz_load [--cases 10000] [--seed 1] [--seconds 60]

Spreadsheets, text files, program files and Word templates of a sample program are changed: bytes,
stretches, parts of archives that are packed again. Each is met by the command that an officer
would run. Prints what became of each kind; ends with 1 where a case ended in anything but a
sentence, took longer than its time, left a row unaccounted for, or a store that does not open.
Such a case's bytes are kept beside the study's report.
"""

from __future__ import annotations

import argparse
import collections
import io
import shutil
import sys
import tempfile
import time
import zipfile
from pathlib import Path

import numpy as np
import polars as pl
from typer.testing import CliRunner

from planner.cli import app
from planner.errors import PlannerError
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS, STORE_FILE, TEMPLATES
from planner.report.word import check_template
from planner.store import open_store

TOWN = SAMPLE_PROGRAMS / "port_marrow"
KINDS = ("xlsx", "ods", "csv", "toml", "docx")
GOOD_ENDS = (0, 2, 3)
COUNTED = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")
COSTS = "cost_id,cost_date,category,amount\nC1,2025-07-01,bins,5\n"
_SNIPPETS = (
    b"<c r='ZZZ99999999'><v>1</v></c>",
    b't = "s"', b"<![CDATA[", b"&#27;", b"\x1b[2J", b"\xef\xbf\xbe",
    b"9" * 400, b"1e400", b"[" * 400, b"a." * 200, b'"' * 7, b"<", b"\x00", b"\xff\xfe", b"inf",
    b"{{ 'a' * 9999999999 }}", b"{% for a in b %}", b"<!ENTITY a 'b'>", b"\n" * 500, b"",
)  # fmt: skip


def main() -> int:
    """Draw cases, meet each with its command, and print what became of them."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--cases", type=int, default=10_000)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--seconds", type=float, default=60.0)
    given = asked.parse_args()
    ends: collections.Counter[tuple[str, str]] = collections.Counter()
    faults, slowest = [], 0.0
    with tempfile.TemporaryDirectory() as place:
        sources = sources_of(Path(place))
        for number in range(given.cases):
            rng = np.random.default_rng([given.seed, number])
            kind = KINDS[number % len(KINDS)]
            content = changed(sources[kind][rng.integers(len(sources[kind]))], rng)
            began = time.process_time()
            end, fault = met(kind, content, Path(place) / "case")
            slowest = max(slowest, time.process_time() - began)
            if slowest > given.seconds:
                fault = fault or f"took {slowest:.0f} s of the planner's own time"
            ends[kind, end] += 1
            if fault:
                faults.append(f"case {number}, {kind}: {fault}")
                Path(f"fuzz_load_{given.seed}_{number}.{kind}").write_bytes(content)
    for (kind, end), count in sorted(ends.items()):
        print(f"{kind:5} {end:32} {count:6,}")
    print(f"{given.cases:,} cases, {len(faults)} faults, the slowest {slowest:.1f} s")
    print("\n".join(faults))
    return int(bool(faults))


def sources_of(place: Path) -> dict[str, list[bytes]]:
    """Gather sound files of each kind."""
    books = [path.read_bytes() for path in sorted(TOWN.glob("*.xlsx"))]
    texts = [path.read_bytes() for path in sorted(SAMPLE_PROGRAMS.rglob("*.csv"))]
    small = [text for text in texts if len(text) < 200_000] or [COSTS.encode()]
    sheets = [path.read_bytes() for path in sorted(SAMPLE_PROGRAMS.rglob("*.ods"))]
    return {
        "xlsx": [book for book in books if len(book) < 300_000] or books[:1],
        "ods": [sheet for sheet in sheets if len(sheet) < 300_000] or [made_ods()],
        "csv": [*small, COSTS.encode()],
        "toml": [(TOWN / PROGRAM_FILE).read_bytes(), (TEMPLATES / PROGRAM_FILE).read_bytes()],
        "docx": [(TEMPLATES / "report.docx").read_bytes()],
    }


def made_ods() -> bytes:
    """Make a small sheet where no sample has one."""
    rows = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p>'
            "</table:table-cell>"
            for cell in line.split(",")
        )
        + "</table:table-row>"
        for line in COSTS.split()
    )
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet>"
        f'<table:table table:name="costs">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
        archive.writestr("content.xml", content)
    return packed.getvalue()


def changed(content: bytes, rng: np.random.Generator) -> bytes:
    """Change a file: its bytes, or a part of the archive that it is."""
    if not content.startswith(b"PK") or rng.random() < 1 / 4:
        return hit(content, rng)
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(packed, "w") as new:
        names = [name for name in old.namelist() if name.endswith((".xml", ".rels"))]
        chosen = names[rng.integers(len(names))]
        for name in old.namelist():
            part = old.read(name)
            new.writestr(name, hit(part, rng) if name == chosen else part)
    return packed.getvalue()


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


def met(kind: str, content: bytes, folder: Path) -> tuple[str, str]:
    """Meet a case with its command; tell its end, and what was wrong with it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    shutil.copy(TOWN / PROGRAM_FILE, folder / PROGRAM_FILE)
    path = folder / f"costs.{kind}"
    path.write_bytes(content)
    if kind == "docx":
        return template_met(path)
    if kind == "toml":
        path.replace(folder / PROGRAM_FILE)
        path = folder / "costs.csv"
        path.write_text(COSTS)
    result = CliRunner().invoke(app, ["load", str(path), "--program", str(folder)])
    told = result.output
    end = f"exit code {result.exit_code}"
    if result.exit_code not in GOOD_ENDS or "Traceback" in told:
        return end, f"{end}: {result.exception!r}"
    unseen = [sign for sign in told if ord(sign) < ord(" ") and sign not in "\n\t"]
    return end, "a control character in the output" if unseen else lost_rows(folder)


def template_met(path: Path) -> tuple[str, str]:
    try:
        check_template(path)
    except PlannerError as error:
        return ("a sentence", "") if str(error).strip() else ("nothing said", "no sentence")
    return "a template", ""


def lost_rows(folder: Path) -> str:
    """Tell whether the store opens and every row that was read has one fate."""
    if not (folder / STORE_FILE).exists():
        return ""
    with open_store(folder, read_only=True) as store:
        loads = store.loads()
    fates = pl.sum_horizontal(f"{name}_count" for name in COUNTED)
    wrong = loads.filter(pl.col("rows_read") != fates)
    return f"rows without a fate: {wrong.to_dicts()}" if wrong.height else ""


if __name__ == "__main__":
    sys.exit(main())
