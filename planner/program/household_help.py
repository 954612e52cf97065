"""The block of program.toml on whom a household calls when its bin is in trouble."""

from __future__ import annotations

from planner.program.block import Block, Text


class HouseholdHelp(Block):
    """How households reach somebody who helps; printed on their sheets as it stands here."""

    phone: Text | None = None
    email: Text | None = None
    web_address: Text | None = None
    opening_hours: Text | None = None
