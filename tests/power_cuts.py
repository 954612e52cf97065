"""What a power cut may leave of a folder, at every step of a command that runs to its end.

A step is a moment before or after the planner renames, removes or makes a file, or has one
written to the disk. At each, the disk may hold of a file any mixture of pages written since
its content was last known to be on the disk, old, new or empty; and the names as they were at
any moment since a folder was last known to be on the disk, for file systems keep the order of
names. What DuckDB itself sends to the disk is not counted on.
"""

from __future__ import annotations

import os
import stat
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from tests.killing import Findings, copy_of, look

if TYPE_CHECKING:
    import numpy as np

    from tests.killing import Prepared

Names = dict[str, dict[str, int]]
"""Names in each folder."""

PAGE_BYTES = 4096
CLOCK_NS = 50_000_000
"""A file may be written twice at what its system's clock calls the same time."""
_CALLS = ("replace", "rename", "unlink", "rmdir", "mkdir", "fsync")


@dataclass(frozen=True)
class Step:
    """What was on the disk, and on its way there, at one moment.

    Attributes
    ----------
    names
        Names that the folders may have, the newest last, each standing for the number of a
        file.
    present, safe
        Content of each file as last written, and as it is known to be on the disk.
    """

    names: list[Names]
    present: dict[int, bytes]
    safe: dict[int, bytes]


@dataclass
class Disk:
    """Follows the files of a folder while a command runs in this process."""

    folder: Path
    steps: list[Step] = field(default_factory=list)
    renamed_to: set[Path] = field(default_factory=set)
    _files: dict[Path, int] = field(default_factory=dict)
    _names: list[Names] = field(default_factory=list)
    _present: dict[int, bytes] = field(default_factory=dict)
    _safe: dict[int, bytes] = field(default_factory=dict)
    _read: dict[int, tuple[int, ...]] = field(default_factory=dict)
    _count: int = 0

    def begin(self) -> None:
        """Take all that is there as safely on the disk."""
        self._scan()
        self._safe = dict(self._present)
        del self._names[:-1]

    def note(self) -> None:
        """Look at the folder and keep what a power cut would find now."""
        self._scan()
        self.steps.append(Step(list(self._names), dict(self._present), dict(self._safe)))

    def rename(self, source: Path, target: Path) -> None:
        """Let a file keep its number under another name."""
        moved = {
            path: target / path.relative_to(source) for path in self._files if _in(path, source)
        }
        for path in [path for path in self._files if _in(path, target)]:
            del self._files[path]
        self.renamed_to.update(moved.values())
        for path, other in moved.items():
            self._files[other] = self._files.pop(path)

    def remove(self, path: Path) -> None:
        """Forget a file; one of the same name is another."""
        self._files.pop(path, None)

    def sync(self, descriptor: int) -> None:
        """Know that a file's content, or a folder's names, are on the disk."""
        self._scan()
        path = Path(f"/proc/self/fd/{descriptor}").resolve()
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            del self._names[:-1]
        elif path in self._files:
            number = self._files[path]
            self._safe[number] = self._present[number]

    def _scan(self) -> None:
        found = {path for path in self.folder.rglob("*") if path.is_file()}
        for path in set(self._files) - found:
            del self._files[path]
        for path in found:
            if path not in self._files:
                self._count += 1
                self._files[path] = self._count
            self._read_again(path, self._files[path])
        folders = [self.folder, *(path for path in self.folder.rglob("*") if path.is_dir())]
        names: Names = {str(folder): {} for folder in folders}
        for path, number in self._files.items():
            names[str(path.parent)][path.name] = number
        if not self._names or self._names[-1] != names:
            self._names.append(names)

    def _read_again(self, path: Path, number: int) -> None:
        """Read a file, unless it is as it was when it was read after it had settled."""
        about = path.stat()
        seen = (about.st_ino, about.st_size, about.st_mtime_ns)
        if self._read.get(number) == seen:
            return
        is_settled = time.time_ns() - about.st_mtime_ns > CLOCK_NS
        self._present[number] = path.read_bytes()
        self._read.pop(number, None)
        if is_settled:
            self._read[number] = seen


def _in(path: Path, folder: Path) -> bool:
    return path == folder or folder in path.parents


@contextmanager
def followed(folder: Path):
    """Follow a folder while the block runs, through the calls by which files change."""
    disk = Disk(folder.resolve())
    disk.begin()
    kept = {name: getattr(os, name) for name in _CALLS}

    def called(name):
        def call(*args, **options):
            disk.note()
            answer = kept[name](*args, **options)
            if name in ("replace", "rename"):
                disk.rename(Path(args[0]).resolve(), Path(args[1]).resolve())
            elif name == "fsync":
                disk.sync(args[0])
            elif name == "unlink" and "dir_fd" not in options:
                disk.remove(Path(args[0]).resolve())
            disk.note()
            return answer

        return call

    try:
        for name in _CALLS:
            setattr(os, name, called(name))
        yield disk
    finally:
        for name, call in kept.items():
            setattr(os, name, call)
    disk.note()


def leave(step: Step, rng: np.random.Generator, disk: Disk, folder: Path) -> None:
    """Write what a power cut may leave at a step into a folder."""
    names = step.names[rng.integers(len(step.names))]
    for name, files in names.items():
        into = folder / Path(name).relative_to(disk.folder)
        into.mkdir(parents=True, exist_ok=True)
        for file, number in files.items():
            torn = _torn(step.present[number], step.safe.get(number, b""), rng)
            (into / file).write_bytes(torn)


def _torn(new: bytes, old: bytes, rng: np.random.Generator) -> bytes:
    """Mix pages of a file's new and its old content, or none, and cut its end off."""
    if new == old:
        return new
    shorter, longer = sorted((len(new), len(old)))
    size = int(rng.choice([shorter, longer, rng.integers(shorter, longer + 1)]))
    empty = bytes(longer)
    sources = (new, new, old, empty)
    pages = range(0, size, PAGE_BYTES)
    picked = (sources[rng.integers(len(sources))][at : at + PAGE_BYTES] for at in pages)
    return b"".join(page.ljust(PAGE_BYTES, b"\0") for page in picked)[:size]


def study_power_cuts(
    prepared: Prepared, cuts: int, rng: np.random.Generator, folder: Path
) -> Findings:
    """Cut the power at so many steps of a command, the last among them; tell what was found."""
    name = prepared.command.name
    whole = copy_of(prepared.folder, folder / "followed")
    with followed(whole) as disk:
        prepared.command.act(whole)
    found = Findings()
    for cut in range(cuts):
        last = len(disk.steps) - 1
        number = last if cut == 0 else int(rng.integers(last))
        left = folder / f"cut {cut}"
        leave(disk.steps[number], rng, disk, left)
        before = found.left["before"]
        look(left, prepared.states, found, f"{name}, cut at step {number} of {last}")
        if number == last and found.left["before"] > before:
            found.faults.append(f"{name}: lost after it had ended")
        found.kills += 1
    return found
