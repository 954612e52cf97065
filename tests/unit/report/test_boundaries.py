"""Area boundaries: RFC 7946's rules, and a sentence for each way in which a file breaks them."""

import json

import numpy as np
import pytest
import shapely

from planner.errors import IntakeError
from planner.report.charts.boundaries import read_boundaries

WARM_JANUARY = [25, 25, 23, 20, 17, 14, 13, 14, 17, 20, 22, 24]
WARM_JULY = WARM_JANUARY[6:] + WARM_JANUARY[:6]
AREAS = ("north", "south")


def square(east, north, size=1.0):
    x, y = east, north
    corners = [[x, y], [x + size, y], [x + size, y + size], [x, y + size]]
    return [[*corners, corners[0]]]


def feature(area_id, rings, kind="Polygon", **properties):
    geometry = {"type": kind, "coordinates": rings}
    return {
        "type": "Feature",
        "properties": {"area_id": area_id, **properties},
        "geometry": geometry,
    }


def collection(*features):
    return {"type": "FeatureCollection", "features": list(features)}


TWO = collection(feature("north", square(150, -20)), feature("south", square(150, -21)))


@pytest.fixture
def read(tmp_path):
    def read_content(content, *, property_name="area_id", temperatures=WARM_JANUARY):
        path = tmp_path / "areas.geojson"
        text = content if isinstance(content, str) else json.dumps(content)
        path.write_text(text, encoding="utf-8")
        return read_boundaries(path, property_name, AREAS, temperatures)

    return read_content


def test_squares_keep_their_corners_and_are_narrowed_by_latitude(read) -> None:
    shapes = read(TWO)
    assert shapes.missing == ()
    (ring,) = shapes.rings["north"]
    width, height = np.ptp(ring, axis=0)
    assert height == pytest.approx(1.0)
    assert width == pytest.approx(np.cos(np.radians(20.0)), rel=1e-3)


def test_neighbours_still_share_their_border_when_detail_is_dropped(read) -> None:
    wave = [[150 + t, -20 + 0.0005 * np.sin(40 * t)] for t in np.linspace(0, 1, 200)]
    north = [[*wave, [151, -19], [150, -19], wave[0]]]
    south = [[*wave[::-1], [150, -21], [151, -21], wave[-1]]]
    shapes = read(collection(feature("north", north), feature("south", south)))
    assert shapes.rings["north"][0].shape[0] < 20
    one, other = (shapely.Polygon(shapes.rings[name][0]) for name in AREAS)
    assert one.intersection(other).area == pytest.approx(0.0, abs=1e-9)
    assert one.union(other).area == pytest.approx(one.area + other.area)
    assert shapely.union(one, other).geom_type == "Polygon"


def test_islands_and_parts_in_several_features_are_one_area(read) -> None:
    islands = feature("north", [square(150, -20), square(153, -20)], "MultiPolygon")
    again = feature("north", square(156, -20))
    shapes = read(collection(islands, again, feature("south", square(150, -23))))
    assert len(shapes.rings["north"]) == 3


def test_an_area_without_a_shape_is_named(read) -> None:
    assert read(collection(feature("north", square(150, -20)))).missing == ("south",)


OPEN = [[[150, -20], [151, -20], [151, -19], [150, -19]]]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "not a GeoJSON file"),
        ("[" * 100_000, "not a GeoJSON file"),
        ({"type": "Feature"}, "expected a FeatureCollection"),
        (collection(), "holds no areas"),
        (collection(feature("north", OPEN)), "open ring: it begins at [150, -20]"),
        (collection(feature("north", [[[150, -20], [151, -20], [150, -20]]])), "3 positions"),
        (collection(feature("north", [[["a", 1]] * 4])), "0 positions"),
        (collection(feature("north", [150, -20], "Point")), "is a Point"),
        (collection({"type": "Feature", "properties": {"ward": 1}}), "found ward"),
        (collection(feature("nord", square(150, -20))), "none of its areas is in the records"),
        (
            collection(feature("south", square(150, -20)), feature("nort", square(150, -21))),
            "Did you mean 'north'?",
        ),
        (collection(feature("north", square(334_000, 6_250_000))), "EPSG:4326"),
        (collection(feature("north", square(-20, 150))), "latitude stands before longitude"),
        (collection(feature("north", square(150, 20))), "north of the equator"),
    ],
)
def test_what_is_wrong_is_said_with_what_to_do(read, content, words) -> None:
    with pytest.raises(IntakeError) as raised:
        read(content)
    message = str(raised.value)
    assert message.startswith("areas.geojson: ")
    assert words in message


def test_the_warm_season_tells_the_hemisphere(read) -> None:
    """Where July is warm (common knowledge) a town lies north; without seasons nobody asks."""
    with pytest.raises(IntakeError, match="south of the equator"):
        read(TWO, temperatures=WARM_JULY)
    assert read(TWO, temperatures=[26.0] * 12).missing == ()


def test_another_property_may_hold_the_area(read) -> None:
    named = {**feature("x", square(150, -20), ward="north")}
    assert read(collection(named), property_name="ward").missing == ("south",)


def test_a_missing_file_is_named(tmp_path) -> None:
    with pytest.raises(IntakeError, match="found no such file"):
        read_boundaries(tmp_path / "none.geojson", "area_id", AREAS, WARM_JANUARY)
