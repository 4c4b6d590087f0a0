"""A storey of a model rendered, traced from clicks, and laid over the rooms of the same model."""

from itertools import combinations
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
import shapely

from spread.drawings.ifc import WALLS, Storeys, footprint, open_model, solids
from spread.drawings.opening import open_drawing
from spread.drawings.stacking import stacked
from spread.drawings.storey import CUT
from spread.drawings.tracer import trace
from spread.drawings.tracing import Opening, tracings_of
from spread.errors import SpreadError
from spread.outlines.found import found_of
from spread.outlines.ifc import read_ifc

pytestmark = pytest.mark.usefixtures("read_here")

MODELS = Path(__file__).parent / "data" / "models"


class Storey:
    """A storey of a model: its rooms by code, its walls, and what a person would click on its picture."""

    def __init__(self, file, page, dwellings):
        data = (MODELS / file).read_bytes()
        self.opened = open_drawing(data, file, Opening(page=page))
        held = found_of(read_ifc(data, file))
        self.rooms = [
            n for n, room in enumerate(held.rooms) if page - 1 in room.levels and room.word != "Roof"
        ]
        names = {n: held.rooms[n].name for n in self.rooms}
        graph = nx.Graph(held.links)
        graph.add_nodes_from(self.rooms)
        # Rooms without a wall between are one space; a dwelling is all rooms with its letter.
        open_ = {
            n: min(names[m] for m in nx.node_connected_component(graph.subgraph(self.rooms), n))
            for n in self.rooms
        }
        self.code = {n: names[n][0] if dwellings else open_[n] for n in self.rooms}
        self.shape = {n: held.rooms[n].outline for n in self.rooms}
        model = open_model(data, file)
        high = Storeys(model).heights[page - 1] + CUT
        tall = [
            footprint(triangles, normals)
            for _, triangles, normals in solids(model, WALLS, cut=False)
            if triangles[:, :, 2].min() < high < triangles[:, :, 2].max()
        ]
        self.walls = shapely.union_all(tall)
        self.whole = (
            shapely.union_all([self.walls, *self.shape.values()])
            .buffer(0.3, join_style="mitre")
            .buffer(-0.3, join_style="mitre")
        )
        low_x, _, _, high_y = self.walls.bounds
        self.to_pixels = lambda at: (
            (np.asarray(at) - (low_x, high_y)) * (self.opened.metre, -self.opened.metre) + 40
        )

    def seeds(self):
        inside = {n: shape.representative_point().coords[0] for n, shape in self.shape.items()}
        corners = shapely.get_coordinates(
            max(shapely.get_parts(self.whole), key=lambda one: one.area).exterior
        )
        return {
            "floor": "1",
            "outline": self.to_pixels(corners[:-1]).tolist(),
            "length": {"from": [40, 20], "to": [40 + 10 * self.opened.metre, 20], "metres": 10},
            "clicks": [
                {"kind": "unit", "code": self.code[n], "at": self.to_pixels(at).tolist()}
                for n, at in inside.items()
            ],
        }

    def traced(self):
        sent = {"floors": [self.seeds()]}
        got = trace(sent, [self.opened.image], "seeds.json")
        plan = stacked(tracings_of(sent, "seeds.json"), got, name="Traced", file="seeds.json")
        # Back onto the model: the tracer's plan begins at the lower left corner of the outline.
        low = shapely.get_coordinates(
            max(shapely.get_parts(self.whole), key=lambda one: one.area).exterior
        ).min(axis=0)
        return {
            code: shapely.transform(unit.parts["1"], lambda at: at + low) for code, unit in plan.units.items()
        }

    def truth(self):
        """Return the clear outline of each code in the model."""
        codes = dict.fromkeys(self.code.values())
        return {
            code: shapely.union_all([self.shape[n] for n in self.rooms if self.code[n] == code])
            for code in codes
        }


THICKEST = 0.8
"""Metres of the thickest wall between two rooms: between the bathrooms of the duplex it has 0.74 m."""


def neighbours(shapes, thick):
    """Return the pairs with half a metre and more of wall in common."""
    pairs = set()
    for (a, one), (b, other) in combinations(sorted(shapes.items()), 2):
        wide = one.buffer(thick / 2 + 0.02, join_style="mitre").intersection(
            other.buffer(thick / 2 + 0.02, join_style="mitre")
        )
        if (
            wide.area > 0.5 * 0.04
            and max(wide.bounds[2] - wide.bounds[0], wide.bounds[3] - wide.bounds[1]) > 0.5 + thick
        ):
            pairs.add((a, b))
    return pairs


@pytest.mark.parametrize(
    ("file", "page", "dwellings"),
    [
        ("duplex.ifc", 2, True),
        pytest.param("duplex.ifc", 3, False, marks=pytest.mark.slow),
        pytest.param("tall.ifc", 1, False, marks=pytest.mark.slow),
        pytest.param("duplex.ifc", 3, True, marks=pytest.mark.slow),
        pytest.param("duplex.ifc", 2, False, marks=pytest.mark.slow),
    ],
)
def test_walls_traced_from_a_rendered_storey_are_those_of_the_model(file, page, dwellings):
    storey = Storey(file, page, dwellings)
    traced, truth = storey.traced(), storey.truth()
    assert set(traced) == set(truth)
    off = {code: traced[code].difference(storey.walls).area / truth[code].area - 1 for code in truth}
    found, there = neighbours(traced, 0.0), neighbours(truth, THICKEST)
    print(
        file, page, {code: f"{share:+.1%}" for code, share in off.items()}, len(there), sorted(found ^ there)
    )
    assert found == there
    assert max(map(abs, off.values())) < 0.05


def test_storeys_without_rooms_are_laid_over_one_another_by_the_model_itself():
    data = (MODELS / "tall.ifc").read_bytes()
    floors, pictures = [], []
    for page in (1, 3):
        opened = open_drawing(data, "tall.ifc", Opening(page=page))
        pictures.append(opened.image)
        assert opened.pages == 5
        wide, high, metre = opened.wide, opened.high, opened.metre
        corners = [[40, 40], [wide - 40, 40], [wide - 40, high - 40], [40, high - 40]]
        units = [(f"{page}01", 0.25, 0.5), (f"{page}02", 0.75, 0.25), (f"{page}03", 0.75, 0.75)]
        floors.append(
            {
                "floor": str(page),
                "page": page,
                "outline": corners,
                "length": {"from": [40, 20], "to": [40 + 5 * metre, 20], "metres": 5},
                "match": [list(place) for place in opened.match],
                "clicks": [
                    {"kind": "unit", "code": code, "at": [x * wide, y * high]} for code, x, y in units
                ],
            }
        )
    sent = {"floors": floors}
    plan = stacked(
        tracings_of(sent, "seeds.json"), trace(sent, pictures, "seeds.json"), name="Tall", file="seeds.json"
    )
    for lower, upper in (("101", "301"), ("102", "302"), ("103", "303")):
        one, other = plan.units[lower].parts["1"], plan.units[upper].parts["3"]
        assert one.intersection(other).area > 0.97 * max(one.area, other.area)


@pytest.mark.parametrize(
    ("page", "words"), [(9, "there is no storey 9; it has 5"), (1, "no walls 1.1 m above")]
)
def test_a_storey_that_cannot_be_drawn_is_told(page, words):
    file = "tall.ifc" if page == 9 else "duct.ifc"
    with pytest.raises(SpreadError, match=words):
        open_drawing((MODELS / file).read_bytes(), file, Opening(page=page))
