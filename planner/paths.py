"""Where the queries, templates and sample programs lie, in a checkout or in a wheel."""

from __future__ import annotations

import re
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_SHIPPED = _PACKAGE / "shipped"
_ROOT = _SHIPPED if _SHIPPED.is_dir() else _PACKAGE.parent

QUERIES = _ROOT / "queries"
TEMPLATES = _ROOT / "templates"
SAMPLE_PROGRAMS = _ROOT / "sample_programs"
FACTORS = _PACKAGE / "factors"

PROGRAM_FILE = "program.toml"
STORE_FILE = "program.duckdb"
CONTACTS_FILE = "contacts.duckdb"
KEY_FILE = "program.key"
LOCK_FILE = ".planner.lock"
BACKUP_FOLDER = "backups"
BACKUP_LIST_FILE = "backups.json"
RECEIPT_FOLDER = "erasures"
INTAKE_FILE = "intake.xlsx"
REPORT_FOLDER = "report"
SIZING_FOLDER = "sizing"
ORDERS_FOLDER = "orders"
NURSERY_FOLDER = "nursery"
ISSUED_FOLDER = "issued"
"""Reports that were given out, each frozen in a folder of its own."""

REPLACED_FOLDERS = "replaced-*"
"""Folders in which a restore keeps what it replaced and could not open."""

ISSUE_FILE = "issue.json"
RESTATEMENT_FILE = "restatement.csv"
ACQUITTAL_FOLDER = "acquittals"
EXPORT_FOLDER = "exports"
POOL_FOLDER = "pool"
REFUSED_FOLDER = "refused"
CHECKS_FILE = "checks.csv"
PRIVATE_FOLDER = "private"
"""Files with personal details that the officer works on; erasing a household clears them."""

DUPLICATES_FILE = "duplicates.xlsx"
FIGURES_FILE = "figures.json"
FIGURES_TABLE_FILE = "figures.csv"
WORKBOOK_FILE = "year-end.xlsx"
WORD_FILE = "year-end.docx"
BRIEF_FILE = "brief.docx"
APPENDIX_FILE = "appendices.docx"
"""The one-page decision brief alone, and what supports the paper, each in a file of its own."""

PAGE_FILE = "year-end.html"

_UNSAFE = re.compile(r"[^A-Za-z0-9_-]+")


def file_stem(code: str) -> str:
    """Write a code of the records so that it can be part of a file's name on any system.

    Examples
    --------
    >>> file_stem("North/1"), file_stem("../E 2")
    ('North_1', '_E_2')
    """
    return _UNSAFE.sub("_", code)


_LONGEST_STEM = 100
"""Letters of a file's name that the copy of its refused rows keeps."""


def copy_of_refused(load_id: str, file: str) -> Path:
    """Name the copy of a load's refused rows, in the program folder."""
    return Path(REFUSED_FOLDER) / f"{load_id}_{Path(file).stem[:_LONGEST_STEM]}.xlsx"


COPY_FOLDERS = (REFUSED_FOLDER, PRIVATE_FOLDER)
"""Folders in which the planner writes copies of rows that may hold personal details."""

OWNER_ONLY, FOLDER_OF_ITS_OWNER = 0o600, 0o700
"""Modes of files with personal details, and of the folder that holds them."""
