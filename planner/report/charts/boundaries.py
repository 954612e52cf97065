"""Boundaries of areas from a GeoJSON file, checked and simplified for a small map."""

from __future__ import annotations

import difflib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.arrays import Numbers
from planner.errors import IntakeError
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from planner.program import Program

LARGEST_FILE_BYTES = 64 * 2**20
LEAST_POSITIONS = 4
"""A ring has four positions or more, the last the same as the first (RFC 7946, 3.1.6)."""

LINE_WIDTH_SHARE = 0.003
"""Detail below this share of the map's extent is thinner than a line of the map."""

CLEAR_SEASONS_C = 3.0
"""Warmest less coldest month from which the season tells the hemisphere."""

SHOWN = 5
"""Cases that a message lists."""


@dataclass(frozen=True)
class AreaShapes:
    """Outlines of areas, flattened for drawing."""

    # for each area its rings, outer and inner, of shape (positions, 2): east and north, in degrees
    # of latitude
    rings: Mapping[str, tuple[Numbers, ...]]
    missing: tuple[str, ...]  # areas of the records that the file has no shape for


def read_area_shapes(folder: Path, program: Program, area_ids: Sequence[str]) -> AreaShapes | None:
    """Read the outlines that program.toml names; None where it names none.

    Raises
    ------
    IntakeError
        The file is not as it should be; see `read_boundaries`.
    """
    if program.map is None:
        return None
    return read_boundaries(
        folder / program.map.boundaries,
        program.map.area_id_property,
        area_ids,
        program.climate.monthly_mean_temperature_c,
    )


def read_boundaries(
    path: Path,
    id_property: str,
    area_ids: Sequence[str],
    monthly_mean_temperature_c: Sequence[float],
) -> AreaShapes:
    """Read the shapes of the records' areas.

    Parameters
    ----------
    path
        A GeoJSON FeatureCollection of polygons in longitude and latitude (RFC 7946).
    monthly_mean_temperature_c
        January first: the warm season tells on which side of the equator the council lies.

    Raises
    ------
    IntakeError
        The file cannot be read, or a feature, ring or position is wrong: the message says
        which, and what to do about it.
    """
    collection = _collection(path)
    features = [
        (_area_of(path, number, feature, id_property), _polygons(path, number, feature))
        for number, feature in enumerate(collection, start=1)
    ]
    _ensure_known(path, id_property, [area_id for area_id, _ in features], area_ids)
    _ensure_degrees(path, features)
    _ensure_hemisphere(path, features, monthly_mean_temperature_c)
    wanted = [(area_id, polygons) for area_id, polygons in features if area_id in set(area_ids)]
    rings = _simplified(wanted)
    return AreaShapes(rings, tuple(sorted(set(area_ids) - set(rings))))


def _fault(path: Path, words: str) -> IntakeError:
    return IntakeError(f"{path.name}: {words}", path=str(path))


def _collection(path: Path) -> list[Any]:
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise _fault(path, say("boundaries.large"))
        content = json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        words = say("boundaries.no_file")
        raise _fault(path, words) from None
    except (OSError, ValueError, RecursionError) as error:
        words = say("boundaries.not_geojson", why=str(error))
        raise _fault(path, words) from error
    features = content.get("features") if isinstance(content, dict) else None
    if not isinstance(features, list) or content.get("type") != "FeatureCollection":
        words = say("boundaries.no_collection")
        raise _fault(path, words)
    if not features:
        raise _fault(path, say("boundaries.no_areas"))
    return features


def _area_of(path: Path, number: int, feature: Any, id_property: str) -> str:  # noqa: ANN401
    properties = feature.get("properties") if isinstance(feature, dict) else None
    value = properties.get(id_property) if isinstance(properties, dict) else None
    if value is None or isinstance(value, dict | list | bool):
        names = sorted(properties) if isinstance(properties, dict) else []
        found = ", ".join(names[:SHOWN]) or say("boundaries.none")
        words = say("boundaries.no_property", number=number, name=id_property, found=found)
        raise _fault(path, words)
    return str(value).strip()


def _polygons(path: Path, number: int, feature: Any) -> list[list[Numbers]]:  # noqa: ANN401
    geometry = feature.get("geometry") or {}
    kind = geometry.get("type") if isinstance(geometry, dict) else None
    if kind not in ("Polygon", "MultiPolygon"):
        shown = str(kind) if kind else say("boundaries.no_shape")
        words = say("boundaries.kind", number=number, kind=shown)
        raise _fault(path, words)
    parts = geometry.get("coordinates")
    polygons: Any = [parts] if kind == "Polygon" else parts
    try:
        return [[_ring(path, number, ring) for ring in polygon] for polygon in polygons]
    except TypeError as error:
        raise _fault(path, say("boundaries.no_positions", number=number)) from error


def _ring(path: Path, number: int, ring: Any) -> Numbers:  # noqa: ANN401
    try:
        positions = np.array([position[:2] for position in ring], dtype=float)
    except (TypeError, ValueError, IndexError):
        positions = np.empty((0, 2))
    if positions.shape[0] < LEAST_POSITIONS or not np.isfinite(positions).all():
        words = say("boundaries.short_ring", number=number, count=positions.shape[0])
        raise _fault(path, words)
    if not np.array_equal(positions[0], positions[-1]):
        ends = {"first": _place(positions[0]), "last": _place(positions[-1])}
        words = say("boundaries.open_ring", number=number, **ends)
        raise _fault(path, words)
    return positions


def _place(position: Numbers) -> str:
    return f"[{position[0]:g}, {position[1]:g}]"


def _ensure_known(
    path: Path, id_property: str, found: Sequence[str], area_ids: Sequence[str]
) -> None:
    unknown = sorted(set(found) - set(area_ids))
    if len(unknown) == len(set(found)):
        lists = {"found": ", ".join(unknown[:SHOWN]), "known": ", ".join(sorted(area_ids)[:SHOWN])}
        words = say("boundaries.all_unknown", name=id_property, **lists)
        raise _fault(path, words)
    for name in unknown:
        near = difflib.get_close_matches(name, area_ids, n=1)
        if near:
            words = say("boundaries.near", name=name, near=near[0])
            raise _fault(path, words)


def _positions(features: Sequence[tuple[str, list[list[Numbers]]]]) -> Iterator[Numbers]:
    for _, polygons in features:
        for polygon in polygons:
            yield from polygon


def _ensure_degrees(path: Path, features: Sequence[tuple[str, list[list[Numbers]]]]) -> None:
    widest = np.abs(np.concatenate(list(_positions(features)))).max(axis=0)
    if widest[0] > 180.0 or widest[1] > 180.0:
        raise _fault(path, say("boundaries.metres", most=round(widest.max())))
    if widest[1] > 90.0:
        raise _fault(path, say("boundaries.swapped"))


def _ensure_hemisphere(
    path: Path,
    features: Sequence[tuple[str, list[list[Numbers]]]],
    monthly_mean_temperature_c: Sequence[float],
) -> None:
    january, july = (np.mean(np.roll(monthly_mean_temperature_c, k)[:3]) for k in (1, -5))
    if abs(january - july) < CLEAR_SEASONS_C:
        return
    latitude = np.concatenate(list(_positions(features)))[:, 1].mean()
    if (latitude > 0) == (january > july):
        key = "boundaries.north" if latitude > 0 else "boundaries.south"
        raise _fault(path, say(key, latitude=officer_messages().number(latitude, 1)))


def _simplified(
    features: Sequence[tuple[str, list[list[Numbers]]]],
) -> dict[str, tuple[Numbers, ...]]:
    """Join the parts of each area, drop detail that no line shows, keep shared borders shared."""
    import shapely  # a report without a map does not pay for it

    parts: dict[str, list[Any]] = {}
    for area_id, polygons in features:
        drawn = [shapely.Polygon(polygon[0], polygon[1:]) for polygon in polygons]
        parts.setdefault(area_id, []).extend(shapely.make_valid(shape) for shape in drawn)
    joined = np.array([shapely.union_all(shapes) for shapes in parts.values()], dtype=object)
    west, south, east, north = shapely.total_bounds(joined)
    tolerance = LINE_WIDTH_SHARE * max(east - west, north - south)
    thinned = shapely.coverage_simplify(joined, tolerance)
    # a degree of longitude is shorter than one of latitude away from the equator
    narrower = np.cos(np.radians((south + north) / 2.0))
    return {
        area_id: tuple(
            np.asarray(ring.coords)[:, :2] * [narrower, 1.0]
            for polygon in shapely.get_parts(shape)
            if polygon.geom_type == "Polygon"
            for ring in (polygon.exterior, *polygon.interiors)
        )
        for area_id, shape in zip(parts, thinned, strict=True)
    }
