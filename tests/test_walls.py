"""Shared walls against cases of known length, geometry facts and libpysal."""

from __future__ import annotations

import math

import numpy as np
import pytest
from contact_plans import corridor_building, cut_rectangles, moved, plan_of, stair
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from spread.contacts.exposure import ExposureSettings
from spread.contacts.walls import shared_walls

ROOM = box(0, 0, 6, 9)
# True lengths by construction; the cases are the ones on which touching, strip and buffer rules fail.
CASES = {
    "a 0.2 m wall": (ROOM, box(6.2, 0, 12, 9), 9.0),
    "only a corner": (ROOM, box(6.2, 9.2, 12, 15), 0.0),
    "only a corner that touches": (ROOM, box(6, 9, 12, 15), 0.0),
    "an L around a corner": (
        box(0, 0, 6, 5),
        Polygon([(6.2, 0), (9, 0), (9, 9), (0, 9), (0, 5.2), (6.2, 5.2)]),
        11.0,
    ),
    "a staggered neighbour": (box(0, 0, 8, 6), box(8.2, 3, 16, 9), 3.0),
    "a sliver of overlap": (ROOM, box(5.95, 0, 12, 9), 9.0),
    "a party wall of 0.6 m": (ROOM, box(6.6, 0, 12, 9), 9.0),
    "a corridor of 1.8 m between": (ROOM, box(7.8, 0, 12, 9), 0.0),
    "outlines that touch": (ROOM, box(6, 0, 12, 9), 9.0),
}


def metres(*shapes, hallways=(), **constants):
    plan = plan_of(
        {str(k): shape for k, shape in enumerate(shapes)}, hallways=[("1", hall) for hall in hallways]
    )
    return {(wall.a, wall.b): wall.metres for wall in shared_walls(plan, ExposureSettings(**constants))}


@pytest.mark.parametrize("name", CASES)
def test_a_wall_has_its_true_length(name):
    first, second, true = CASES[name]
    assert metres(first, second).get(("0", "1"), 0.0) == pytest.approx(true, abs=1e-6)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("angle", [33.0, 90.0, 211.7])
def test_a_wall_has_its_true_length_at_any_angle(name, angle):
    first, second, true = (
        affinity.rotate(s, angle, (0, 0)) if i < 2 else s for i, s in enumerate(CASES[name])
    )
    assert metres(first, second).get(("0", "1"), 0.0) == pytest.approx(true, abs=1e-4)


def test_projection_is_right_where_growing_one_room_is_not():
    # Growing one outline by d and measuring the other's boundary inside it gives 6.3, 8.1 and 3.5 m (run with
    # shapely 2.2.0 here) where 6.0, 8.0 and 3.0 m are true by construction.
    room, d = box(0, 0, 8, 6), 0.35
    for neighbour, grown, true in (
        (box(8.2, 0, 16, 6), 6.3, 6.0),
        (box(0, 6.3, 8, 12), 8.1, 8.0),
        (box(8.2, 3, 16, 9), 3.5, 3.0),
    ):
        inside = room.boundary.intersection(neighbour.buffer(d, join_style="mitre")).length
        assert inside == pytest.approx(grown, abs=1e-9)
        assert metres(room, neighbour) == {("0", "1"): pytest.approx(true)}


def test_a_1e_9_gap_breaks_touching_but_not_a_wall():
    # DE-9IM facts of shapely: see its documentation of touches and relate.
    first, second = box(0, 0, 1, 1), box(1 + 1e-9, 0, 2, 1)
    assert not first.touches(second)
    assert box(0, 0, 1, 1).touches(box(1, 1, 2, 2))  # a corner does touch
    assert metres(first, second) == {("0", "1"): pytest.approx(1.0)}


def test_a_grid_of_20_by_10_units_has_370_walls():
    # 20 * 9 + 19 * 10
    walls = metres(*(box(x, y, x + 1, y + 1) for x in range(20) for y in range(10)))
    assert len(walls) == 370
    assert set(np.round(list(walls.values()), 9)) == {1.0}


@given(seed=st.integers(0, 10_000), cuts=st.integers(2, 40))
@settings(max_examples=15, deadline=None)
def test_walls_equal_libpysal_rook_contiguity_with_perimeters_on_gap_free_plans(seed, cuts):
    import geopandas
    from libpysal.graph import Graph

    shapes = cut_rectangles(np.random.default_rng(seed), cuts)
    ours = metres(*shapes, wall_gap=0.0, wall_overlap=0.0, wall_least=1e-6)
    table = geopandas.GeoDataFrame(geometry=shapes)
    graph = Graph.build_contiguity(table, rook=True, by_perimeter=True, strict=True)
    theirs = {(str(a), str(b)): w for (a, b), w in graph.adjacency.items() if a < b and w > 1e-6}
    assert ours == pytest.approx(theirs, abs=1e-6)


@given(angle=st.floats(0, 360), dx=st.floats(-500, 500), dy=st.floats(-500, 500), flip=st.booleans())
@settings(max_examples=20, deadline=None)
def test_turning_shifting_or_mirroring_a_building_changes_no_wall(angle, dx, dy, flip):
    plan = corridor_building(1, 4)
    other = moved(plan, angle, dx, dy)
    if flip:
        mirrored = {u: affinity.scale(x.parts["1"], -1, 1, origin=(0, 0)) for u, x in other.units.items()}
        other = plan_of(mirrored)
    before = {(w.a, w.b): w.metres for w in shared_walls(plan)}
    after = {(w.a, w.b): w.metres for w in shared_walls(other)}
    assert before == pytest.approx(after, abs=1e-6)


@given(seed=st.integers(0, 1000))
@settings(max_examples=15, deadline=None)
def test_a_centimetre_of_drawing_noise_moves_a_wall_by_centimetres(seed):
    rng = np.random.default_rng(seed)
    shapes = [box(0, 0, 6, 9), box(6.1, 0, 12, 9), box(0, 9.1, 12, 15)]
    noisy = [Polygon(np.array(s.exterior.coords[:-1]) + rng.uniform(-0.01, 0.01, (4, 2))) for s in shapes]
    found = metres(*noisy)
    assert found == pytest.approx({("0", "1"): 9.0, ("0", "2"): 6.0, ("1", "2"): 5.9}, abs=0.06)


def test_a_third_unit_between_two_parts_them():
    walls = metres(box(0, 0, 6, 9), box(6.6, 0, 12, 9), box(6.1, 0, 6.5, 9))
    assert ("0", "1") not in walls
    assert walls["0", "2"] == pytest.approx(9.0)


def test_a_narrow_hallway_between_two_units_parts_them():
    assert metres(box(0, 0, 6, 9), box(6.7, 0, 12, 9), hallways=[box(6.05, -5, 6.65, 20)]) == {}


def test_a_hallway_that_ends_half_way_leaves_half_a_wall():
    walls = metres(box(0, 0, 6, 9), box(6.7, 0, 12, 9), hallways=[box(6.05, -5, 6.65, 4.5)])
    assert walls == {("0", "1"): pytest.approx(4.5)}


def test_half_a_metre_is_the_least_that_counts():
    assert metres(box(0, 0, 6, 9), box(6.2, 8.6, 12, 15)) == {}
    assert metres(box(0, 0, 6, 9), box(6.2, 8.4, 12, 15)) == {("0", "1"): pytest.approx(0.6)}


def test_repeated_points_and_points_along_a_wall_change_nothing():
    fussy = Polygon([(0, 0), (3, 0), (6, 0), (6, 0), (6, 4), (6, 4.0001), (6, 9), (0, 9), (0, 0)])
    assert metres(fussy, box(6.2, 0, 12, 9)) == {("0", "1"): pytest.approx(9.0, abs=1e-3)}


def test_a_unit_around_a_light_well_faces_what_stands_in_the_well():
    around = box(0, 0, 20, 20).difference(box(5, 5, 15, 15))
    assert metres(around, box(5.2, 5.2, 14.8, 14.8)) == {("0", "1"): pytest.approx(4 * 9.6)}


def test_the_faces_of_a_wall_lie_on_the_two_units():
    (wall,) = shared_walls(plan_of({"a": ROOM, "b": box(6.2, 2, 12, 20)}))
    assert wall.face_a == pytest.approx(np.array([[[6.0, 2], [6, 9]]]))
    assert wall.face_b == pytest.approx(np.array([[[6.2, 2], [6.2, 9]]]))


def test_a_hallway_and_a_stair_in_the_same_place_part_a_wall_once():
    units = {"0": box(0, 0, 6, 9), "1": box(6.7, 0, 12, 9)}
    half = box(6.05, -5, 6.65, 4.5)
    plan = plan_of(units, hallways=[("1", half)], shafts=[stair("S", ("1",), half)])
    assert [wall.metres for wall in shared_walls(plan)] == [pytest.approx(4.5)]


@pytest.mark.parametrize(("angle", "faces"), [(0, True), (8, True), (12, False), (30, False)])
def test_edges_up_to_ten_degrees_off_still_face_each_other(angle, faces):
    slope = math.tan(math.radians(angle))
    slanted = Polygon([(1.1, 0), (1.1 + slope, 1), (9, 1), (9, 0)])
    assert bool(metres(box(0, 0, 1, 1), slanted)) is faces
