"""What the first sheet of the officer's workbook says."""

from __future__ import annotations

from planner.intake.passed_over import EXAMPLE_WORD
from planner.tables import TABLES

WHEN = {
    "areas": "Once, before anything else: from your rates or address register.",
    "households": "As people register. A number or code stands for each household.",
    "contacts": "Names and addresses stand here and nowhere else.",
    "events": "When hand-over days are fixed.",
    "handovers": "After each hand-over day, one row for each bin.",
    "givebacks": "When a bin comes back, or you learn that it is no longer used.",
    "waves": "Before each survey round.",
    "samples": "When households have been drawn for a round. Leave empty if you asked all.",
    "answers": "As answers come in. What is not known stays empty; do not write 0 for it.",
    "weighings": "When households have weighed what they fed for a week.",
    "audits": "After kerbside bins have been opened and sorted.",
    "costs": "From your ledger. Receipts are negative.",
    "suppliers": "Before ordering: who sells bins, worms or bedding, and what a delivery costs.",
    "offers": "Before ordering: from the suppliers' offers, one row for each item and pack.",
    "orders": "When orders have gone out; `planner order` writes these rows for you.",
    "deliveries": "After each delivery, one row for each line of the order, once it is checked.",
    "stock_counts": "When bins, worms or bedding in store are counted, the first time before "
    "the first delivery.",
}
"""When each sheet is filled, and with what in mind."""

LAST_PART = "Personal details"
"""Begins a new page in print, so that its heading does not stand alone."""

_STEPS = (
    "Fill the sheets that you have records for, from the left. Leave the others as they are.",
    "The second row of a sheet holds the names of the columns. Keep them. You may change "
    "their order, add rows above them, and add columns of your own, which are not read.",
    f'The grey row that begins with "{EXAMPLE_WORD}" shows how to fill a row. It is never loaded.',
    "Save the file and run: planner load intake.xlsx",
    "Rows that cannot be taken in are set out in the folder refused, in a workbook of their "
    "own: each marked cell says what was found and what to write. Mend them there, or here, "
    "and load that file; rows already taken in stay.",
    "To correct a record, change its row, keep its number or code, and load the file again.",
)
_CAUTIONS = (
    "Write names, addresses, telephone numbers and mail addresses on the sheet contacts "
    "alone. The number of a household must not tell who it is.",
    "Once the contacts are loaded, take this sheet's rows out of the file or delete the file. "
    "Do not send it by mail, and keep it where only those who need it can open it.",
    "Ask only for what you need, say what it is for, and write in may_contact whether the "
    "household agreed to be contacted again.",
)


def guide_lines() -> list[tuple[str, str, str]]:
    """List the lines of the guide: kind (title, part, line), left cell, right cell."""
    lines = [("title", "Records of a worm-bin giveaway", ""), ("line", "", "")]
    lines.append(("part", "What to do", ""))
    lines += [("line", str(number), step) for number, step in enumerate(_STEPS, start=1)]
    lines += [("line", "", ""), ("part", "The sheets", "")]
    lines += [("line", table, f"{one_row(table)} {WHEN[table]}") for table in TABLES]
    lines += [("line", "", ""), ("part", LAST_PART, "")]
    lines += [("line", "", caution) for caution in _CAUTIONS]
    return lines


def one_row(table: str) -> str:
    """Say what one row of a table is.

    Examples
    --------
    >>> one_row("handovers")
    'One row: one bin given to a household.'
    """
    meaning = (TABLES[table].__doc__ or "").strip().splitlines()[0]
    return f"One row: {meaning[0].lower()}{meaning[1:]}"
