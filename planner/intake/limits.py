"""Bounds on the officer's files, so that a hostile one ends in a message and soon."""

from __future__ import annotations

MIB = 1024**2

FILE_BYTES_MOST = 256 * MIB
"""A workbook of 10⁶ households measures about 40 MiB; a state's 10⁷ rows go in as CSV."""

TEXT_BYTES_MOST = 1024 * MIB
"""A CSV of 10⁷ households measures about 500 MiB."""

UNPACKED_BYTES_MOST = 1024 * MIB
"""10⁶ rows of the widest table unpack to about 700 MiB of XML."""

RATIO_MOST = 200
"""Record sheets pack 8 to 40 times smaller; deflate can reach 1,032, as bombs do."""

RATIO_FREE_BYTES = 32 * MIB
"""Parts smaller than this may pack as tightly as they like: a blank formatted sheet does."""

PARTS_MOST = 5_000
"""A workbook has a few parts a sheet; 5,000 leaves room for pictures and comments."""

DIRECTORY_BYTES_MOST = MIB
"""5,000 entries of the archive's directory take about 0.5 MiB."""

COLUMNS_MOST = 1_000
"""The widest table has 15 columns; a council's own sheet may have many more beside them."""

CELLS_MOST = 20_000_000
"""Rectangle of rows by columns that the reader lays out: every row that a sheet can have
under 19 columns. An empty rectangle of this size was measured to take 1.5 GiB."""

ODS_BYTES_MOST = 256 * MIB
"""An .ods file takes 120 bytes a cell, so this is about 300,000 households; the reader
needs three times the memory that it needs for .xlsx."""

REPEATED_CELLS_MOST = 5_000_000
"""Filled cells that one .ods file may write as a count instead of as themselves."""

TEXT_IN_CELLS_BYTES_MOST = 1024 * MIB
"""All text of a file's cells when each repeat of a shared text is written out."""

DEPTH_MOST = 256
"""Elements within elements; a spreadsheet nests about ten deep."""

SPACES_MOST = 1_000_000
"""Spaces that one .ods file may write as a count instead of as themselves."""
