"""Keep it safe: backups, the key, personal details taken out; and what is due next."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    DryRun,
    File,
    NamedDay,
    ProgramFolder,
    advise,
    command,
    date_of,
    from_here,
    print_note,
    show,
)
from planner.errors import StoreError
from planner.messages import officer_messages, say
from planner.paths import PROGRAM_FILE

if TYPE_CHECKING:
    from planner.report.due import Due, DueItem
    from planner.report.wording import Wording
    from planner.store.erasing import Erased

_NAMED = 10


def backup(
    folder: Annotated[Path | None, typer.Argument(metavar="DIR")] = None,
    program: ProgramFolder = Path(),
) -> None:
    """Back up the program file, the records and the personal details, and check the backup."""
    from planner.store.keeping import back_up
    from planner.store.migrations import utc_now

    path = back_up(program, folder, utc_now())
    typer.echo(str(path))
    advise(say("backup.made"), "restore", path, program=program)


def restore(
    file: Annotated[Path | None, typer.Argument(metavar="FILE")] = None,
    program: ProgramFolder = Path(),
    *,
    dry_run: DryRun = False,
    unsealed: Annotated[bool, typer.Option("--unsealed")] = False,
) -> None:
    """Restore a backup, checked before anything changes; what is replaced is kept."""
    from planner.store.backup_list import newest_backup
    from planner.store.keeping import restore_backup
    from planner.store.migrations import utc_now

    file = file or newest_backup(program)
    restored = restore_backup(program, file, utc_now(), keep=not dry_run, unsealed=unsealed)
    made = say(
        "backup.made_at",
        file=str(file),
        time=officer_messages().moment(restored.made_at),
        age=_age(restored.made_at),
    )
    found = {"backup": made, "seal": say(f"seal.{restored.seal.value}")}
    if dry_run:
        show(say("backup.readable", **found))
        _print_lacking(restored.missing)
        advise(say("backup.dry"), "restore", file, program=program)
        return
    show(say("backup.restored", folder=str(program.absolute()), **found))
    _print_lacking(restored.missing)
    for line in restored.settings:
        show(f"  {PROGRAM_FILE}, {line}")
    if restored.backup_before is not None:
        advise(say("backup.before_kept"), "restore", restored.backup_before, program=program)
    if restored.replaced is not None:
        print_note(say("backup.before_unsound", folder=str(restored.replaced)))
    if restored.erased:
        print_note(say("backup.erased_again"))
    advise(say("backup.next"), "loads", program=program)


def _age(made_at: dt.datetime) -> str:
    days = (dt.datetime.now(dt.UTC).replace(tzinfo=made_at.tzinfo) - made_at).days
    if days < 1:
        return say("backup.age.new")
    return say("backup.age.days", days)


def _print_lacking(lacks: tuple[str, ...]) -> None:
    """Say what was taken in after the backup was made and is not in it."""
    for line in lacks[:_NAMED]:
        show(say("backup.lacks", line=line))
    if len(lacks) > _NAMED:
        show(say("backup.lacks_more", count=len(lacks) - _NAMED))


def key(
    program: ProgramFolder = Path(),
    *,
    passphrase: Annotated[bool, typer.Option("--passphrase")] = False,
    keyring: Annotated[bool, typer.Option("--keyring")] = False,
) -> None:
    """Print a recovery sheet of the key, or put the key under a passphrase or in the keyring."""
    from planner.store.keys import protect_key, recovery_sheet

    if passphrase and keyring:
        raise StoreError(say("key.both"))
    if keyring:
        path = protect_key(program, None)
        show(say("key.in_keyring", path=str(path)))
        advise(say("key.keyring_next"), "key", program=program)
        return
    if not passphrase:
        show(recovery_sheet(program))
        advise(say("key.sheet_next"), "key", "--passphrase", program=program)
        return
    chosen = typer.prompt(say("key.ask"), hide_input=True, confirmation_prompt=True)
    path = protect_key(program, chosen)
    show(say("key.under", path=str(path)))
    advise(say("key.under_next"), "key", program=program)


def erase(
    households: Annotated[list[str], typer.Argument(metavar="HOUSEHOLD")],
    program: ProgramFolder = Path(),
    *,
    dry_run: DryRun = False,
) -> None:
    """Erase personal details everywhere; the records without names stay."""
    from planner.store.keeping import erase_households
    from planner.store.migrations import utc_now

    erased = erase_households(program, households, utc_now(), keep=not dry_run)
    again = command("erase", *households, program=program) if dry_run else None
    print_erased(erased, again=again)


def print_erased(erased: Erased, *, again: str | None) -> None:
    """Print what an erasure took out, and what the officer must still do.

    `again` is the command that does what a dry run told; None when it has been done.
    """
    count = len(erased.households)
    named = ", ".join(erased.households) if count <= _NAMED else say("erase.households", count)
    show(say("erase.did" if again is None else "erase.would", named=named))
    show(say("erase.contacts", erased.contacts_count, former=erased.history_count))
    for path in erased.copies:
        show(say("erase.in_copy", path=str(path)))
    for path in erased.backups:
        show(say("erase.in_backup", path=str(from_here(path))))
    for path in erased.unreachable:
        print_note(say("erase.unreachable", path=str(path)))
    for path in erased.of_original:
        print_note(say("erase.of_original", path=str(path)))
    for place in erased.removed:
        show(say("erase.removed", path=str(place)))
    _print_search(erased)
    if again is not None:
        print_note(f"{say('erase.dry')}\n  {again}")
    elif erased.receipt is not None:
        show(say("erase.receipt", path=str(erased.receipt)))
        print_note(say("erase.next"))


def _print_search(erased: Erased) -> None:
    """Say where details are still, or that every byte was searched and none found."""
    places: dict[tuple[Path, bool], list[str]] = {}
    for one in erased.remains:
        places.setdefault((one.path, one.is_of_others), []).append(one.where)
    for (path, is_of_others), parts in places.items():
        place = ", ".join((str(from_here(path)), *filter(None, parts)))
        print_note(say("erase.shared" if is_of_others else "erase.still", place=place))
    if erased.searched_count and not erased.remains:
        print_note(say("erase.searched", erased.searched_count))
    elif not erased.searched_count:
        print_note(say("erase.nothing_to_search"))


def retain(
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.erase.dry_run")] = False,
) -> None:
    """Erase personal details older than contacts_retention_months of the program file."""
    from planner.store.keeping import retain_contacts
    from planner.store.migrations import utc_now

    erased = retain_contacts(program, utc_now(), keep=not dry_run)
    if erased is None:
        show(say("erase.none_old"))
        return
    again = command("retain", program=program) if dry_run else None
    print_erased(erased, again=again)


DAYS_LOOKED_AHEAD = 90
SHOWN_OF_A_KIND = 3


def due(
    program: ProgramFolder = Path(),
    *,
    days: Annotated[int, typer.Option(min=1, max=730)] = DAYS_LOOKED_AHEAD,
    as_of: NamedDay = None,
    calendar: File = None,
    successor: Annotated[Path | None, typer.Option(metavar="DIR")] = None,
) -> None:
    """Say what is due: field days, orders, calls, survey rounds, reports, backups, deletions."""
    found, wording, files = run.due(
        program, date_of(as_of), days, calendar=calendar, successor=successor
    )
    print_due(found, wording)
    for path in files:
        typer.echo(str(path))


def print_due(found: Due, wording: Wording) -> None:
    """Print what is late and what is due, each with the command that does it."""
    late = [item for item in found.items if item.is_late]
    ahead = [item for item in found.items if not item.is_late]
    if late:
        show(say("ahead.late"))
        _print_items(late, wording)
    if ahead:
        show(say("ahead.until", day=wording.day(found.window.last)))
        _print_items(ahead, wording)
    if not found.items:
        show(say("ahead.none", day=wording.day(found.window.last)))
    if not found.has_records:
        print_note(say("ahead.lists"))


def _print_items(items: list[DueItem], wording: Wording) -> None:
    """Print the first few of each kind, so that a season of hand-over days fits a screen."""
    width = max(len(wording.day(item.day)) for item in items)
    seen: Counter[str] = Counter()
    for item in items:
        seen[item.kind] += 1
        if seen[item.kind] > SHOWN_OF_A_KIND:
            continue
        show(f"  {wording.day(item.day):<{width}}  {item.what}")
        if item.command:
            show(f"  {'':<{width}}    planner {item.command}")
    left_out = sum(max(0, count - SHOWN_OF_A_KIND) for count in seen.values())
    if left_out:
        show(say("ahead.more", count=left_out))
