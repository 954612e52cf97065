"""Invented outlines of a town's areas, somewhere at sea: no real place has them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import shapely

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sample_programs.generator.towns import Town

BOUNDARIES_FILE = "areas.geojson"

AT_SEA = {
    "port_marrow": (152.0, -17.5),
    "thornquay": (-18.0, 52.5),
    "valdorra": (-16.0, 42.0),
}
"""Longitude and latitude of each town's middle: open water, so that nobody is mapped."""

REACH_DEGREES = 0.08
COAST_POINTS = 48
DECIMALS = 5
"""About a metre."""


def boundaries_text(town: Town, seed: int) -> str:
    """Write the areas as GeoJSON (RFC 7946), each with its area_id and name."""
    rng = np.random.default_rng([seed, 4326])
    outline = _outline(rng)
    middles = _middles(rng, len(town.areas))
    cells = shapely.get_parts(
        shapely.voronoi_polygons(shapely.MultiPoint(middles), extend_to=outline)
    )
    # Voronoi cells come in no promised order
    of_area = [next(c for c in cells if c.contains(shapely.Point(m))) for m in middles]
    origin = np.array(AT_SEA[town.folder])
    features = [
        {
            "type": "Feature",
            "properties": {"area_id": area.area_id, "area_name": area.area_name},
            "geometry": {
                "type": "Polygon",
                "coordinates": [_positions(cell.intersection(outline), origin)],
            },
        }
        for area, cell in zip(town.areas, of_area, strict=True)
    ]
    content = {
        "type": "FeatureCollection",
        "name": f"{town.council.name}: invented outlines",
        "features": features,
    }
    return json.dumps(content, ensure_ascii=False, separators=(",", ":")) + "\n"


def _outline(rng: np.random.Generator) -> shapely.Polygon:
    """Make a closed coast: a circle bent by a few waves."""
    angle = np.linspace(0.0, 2.0 * np.pi, COAST_POINTS, endpoint=False)
    radius = np.ones(COAST_POINTS)
    for waves in (2, 3, 5):
        radius += rng.uniform(0.04, 0.14) * np.cos(waves * angle + rng.uniform(0.0, 6.3))
    return shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))


def _middles(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Spread points by a sunflower's spiral, a little disturbed."""
    place = np.arange(count)
    radius = 0.85 * np.sqrt((place + 0.5) / count)
    angle = place * np.pi * (3.0 - np.sqrt(5.0)) + rng.uniform(-0.25, 0.25, count)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def _positions(shape: shapely.Polygon, origin: NDArray[np.float64]) -> list[list[float]]:
    """Outer ring, anticlockwise as RFC 7946 wants it, in degrees."""
    ring = shapely.get_coordinates(shapely.orient_polygons(shape).exterior)
    degrees = np.round(origin + ring * REACH_DEGREES, DECIMALS)
    return [[float(east), float(north)] for east, north in degrees]
