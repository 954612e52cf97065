"""Block of program.toml on the map of areas."""

from __future__ import annotations

from planner.program.block import Block, Text


class AreaMap(Block):
    """A file of area boundaries (GeoJSON, RFC 7946) and what names an area in it."""

    boundaries: Text
    area_id_property: Text = "area_id"
