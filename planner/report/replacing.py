"""A new report put in the place of the old one: wholly, or finished by the next command.

A report is written into a folder of its own. Once it is complete that folder is renamed,
which happens at once or not at all; from then on the new report counts, and every command
that reads or writes reports first finishes putting its files in their place. Each of these
stages is on the disk before the next begins, so that a power cut does not mix them.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from planner.errors import ReportError
from planner.figures import read_register
from planner.messages import say
from planner.paths import FIGURES_FILE, WORKBOOK_FILE
from planner.store.files import disk_faults, sync_file, sync_folder

NEW = ".new-"
READY = ".ready"
"""A report that is complete; its files are on their way to their place."""

WRITTEN = ".written"
"""Names of the files that a report wrote, so that no file of the officer's own is touched."""

VERSION = "earlier-version-"


@contextmanager
def replacing_folder(folder: Path) -> Iterator[Path]:
    """Give an empty folder to write a report into, and put it in place when all is written.

    Files of a report of another year are moved to a folder of that year; what lies there
    already is kept inside it as an earlier version.
    """
    with disk_faults(folder, "issued.close_it", ReportError, by_file=True):
        folder.mkdir(parents=True, exist_ok=True)
        finish_report(folder)
        for left in folder.glob(f"{NEW}*"):
            shutil.rmtree(left)
        new = Path(tempfile.mkdtemp(prefix=NEW, dir=folder))
        try:
            yield new
            names = sorted(path.name for path in new.iterdir())
            _check_figures(new, names)
            (new / WRITTEN).write_text("\n".join([*names, WRITTEN]) + "\n", encoding="utf-8")
            for name in (*names, WRITTEN):
                _check_replaceable(folder / name)
                sync_file(new / name)
            sync_folder(new)
            new.replace(folder / READY)
        except BaseException:
            shutil.rmtree(new, ignore_errors=True)
            raise
        sync_folder(folder)
        finish_report(folder)


def finish_report(folder: Path) -> bool:
    """Finish putting a report in its place, where that was cut off; tell whether it was.

    Every step can be taken again: what is moved already is no longer there to be moved.

    Raises
    ------
    ReportError
        A file cannot be replaced; the report is complete and waits.
    """
    ready = folder / READY
    if not ready.is_dir():
        return False
    with disk_faults(folder, "issued.close_it", ReportError, by_file=True):
        if (ready / FIGURES_FILE).exists():
            _keep_other_year(folder, _year_of(ready / FIGURES_FILE))
            _drop_copy(folder, ready)
            listed = _listed(ready) or _listed(folder)
            for name in _listed(folder) - listed:
                (folder / name).unlink(missing_ok=True)
            for name in in_order(path.name for path in ready.iterdir()):
                (ready / name).replace(folder / name)
        else:
            # figures go last: what is left without them was never a whole report
            _check_figures(ready, sorted(path.name for path in ready.iterdir()))
        sync_folder(folder)
        shutil.rmtree(ready)
    return True


def _check_figures(new: Path, names: Sequence[str]) -> None:
    """Fail where files would be dropped because nothing says of which year they are."""
    if names and FIGURES_FILE not in names:
        places = {"folder": str(new.parent), "file": FIGURES_FILE, "name": new.name}
        message = say("issued.not_complete", len(names), **places)
        raise ReportError(message, path=str(new.parent))


def in_order(names: Iterable[str]) -> list[str]:
    """Order files as they are put in place: that likeliest to be open first, figures last."""
    known = set(names)
    ends = {WORKBOOK_FILE, FIGURES_FILE}
    middle = sorted(known - ends)
    return [*known & {WORKBOOK_FILE}, *middle, *known & {FIGURES_FILE}]


def _keep_other_year(folder: Path, reporting_year: str) -> None:
    """Move the files of another year's report to a folder of that year; figures last."""
    figures = folder / FIGURES_FILE
    if not figures.exists():
        return
    earlier = _year_of(figures)
    if earlier == reporting_year:
        return
    kept = folder / earlier
    kept.mkdir(exist_ok=True)
    if (kept / FIGURES_FILE).exists() and not _same(kept / FIGURES_FILE, figures):
        _set_aside(kept)
    _move(folder, kept)


def _drop_copy(folder: Path, ready: Path) -> None:
    """Take away the report of the same year that was kept, where the new one is the same."""
    kept = folder / _year_of(ready / FIGURES_FILE)
    figures = kept / FIGURES_FILE
    if figures.exists() and not _same(figures, ready / FIGURES_FILE):
        return
    for name in in_order(_listed(kept) - {WRITTEN}):
        (kept / name).unlink(missing_ok=True)
    (kept / WRITTEN).unlink(missing_ok=True)
    if kept.is_dir() and not any(kept.iterdir()):
        kept.rmdir()


def _set_aside(kept: Path) -> None:
    """Keep an earlier report of the same year as a version inside its folder."""
    number = 1
    while (kept / f"{VERSION}{number}" / FIGURES_FILE).exists():
        number += 1
    aside = kept / f"{VERSION}{number}"
    aside.mkdir(exist_ok=True)
    _move(kept, aside)


def _move(source: Path, target: Path) -> None:
    """Move a report's files, its list being copied first and taken away last."""
    names = _listed(source)
    if names:
        shutil.copyfile(source / WRITTEN, target / WRITTEN)
        sync_file(target / WRITTEN)
    else:
        names = {path.name for path in source.iterdir() if path.is_file()}
    for name in in_order(names - {WRITTEN}):
        if (source / name).exists():
            (source / name).replace(target / name)
    sync_folder(target)
    (source / WRITTEN).unlink(missing_ok=True)


def _listed(folder: Path) -> set[str]:
    """Names of files that a report in a folder wrote; none where no list is kept."""
    try:
        listed = (folder / WRITTEN).read_text(encoding="utf-8").split("\n")
    except FileNotFoundError:
        return set()
    return {name for name in listed if name and Path(name).name == name}


def _year_of(figures: Path) -> str:
    return read_register(figures.read_text(encoding="utf-8")).reporting_year


def _same(one: Path, other: Path) -> bool:
    return one.read_bytes() == other.read_bytes()


def _check_replaceable(path: Path) -> None:
    """Fail, before anything is changed, where a file is open elsewhere and locked."""
    if path.exists():
        with path.open("r+b"):
            pass
