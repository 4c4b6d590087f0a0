"""Drawings whose truth is known: a plan as ink on paper, as a photograph of it, as PDF and as DXF."""

from __future__ import annotations

import io

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFilter
from shapely import Point

from spread.plan.facing import walls_of

SCALE = 30
"""Pixels of a metre on the sheet."""
MARGIN = 60


class Sheet:
    """One floor of a plan as an architect prints it: walls, door gaps with leaves, numbers in the rooms."""

    def __init__(self, plan, floor, *, scale=SCALE, partitions=True):
        self.plan, self.floor, self.scale = plan, floor, scale
        self.units = plan.on_floor(floor)
        spaces = [unit.parts[floor] for unit in self.units]
        self.halls = [hall.outline for hall in plan.hallways if hall.floor == floor]
        shafts = [shaft.outline for shaft in plan.shafts if floor in shaft.floors and shaft.kind == "stair"]
        commons = [space.outline for space in plan.commons if space.floor == floor]
        grown = [s.buffer(0.12, join_style="mitre") for s in (*spaces, *self.halls, *shafts, *commons)]
        self.outline = (
            shapely.union_all(grown).buffer(0.1, join_style="mitre").buffer(-0.1, join_style="mitre")
        )
        self.x0, _, _, self.y1 = self.outline.bounds
        open_floor = shapely.union_all(
            [s.buffer(-0.1, join_style="mitre") for s in (*spaces, *self.halls, *shafts, *commons)]
        )
        gaps = [d.at.buffer(0.45, cap_style="square") for d in plan.doors if d.floor == floor]
        self.walls = self.outline.difference(open_floor).difference(shapely.union_all(gaps))
        self.rooms = [s.buffer(-0.1, join_style="mitre") for s in spaces] if partitions else []

    def place(self, x, y):
        return ((x - self.x0) * self.scale + MARGIN, (self.y1 - y) * self.scale + MARGIN)

    @property
    def size(self):
        x0, y0, x1, y1 = self.outline.bounds
        return (int((x1 - x0) * self.scale) + 2 * MARGIN, int((y1 - y0) * self.scale) + 2 * MARGIN)

    def picture(self):
        picture = Image.new("L", self.size, 255)
        pen = ImageDraw.Draw(picture)
        for part in shapely.get_parts(self.walls):
            pen.polygon([self.place(*at) for at in part.exterior.coords], fill=30)
            for hole in part.interiors:
                pen.polygon([self.place(*at) for at in hole.coords], fill=255)
        for part in shapely.get_parts(self.walls):  # islands of wall inside the holes of others
            if any(
                shapely.Polygon(h).contains(part) for w in shapely.get_parts(self.walls) for h in w.interiors
            ):
                pen.polygon([self.place(*at) for at in part.exterior.coords], fill=30)
        for unit in self.units:
            at = self.place(*unit.parts[self.floor].representative_point().coords[0])
            pen.text(at, unit.id, fill=60, font_size=0.75 * self.scale, anchor="mm")
        for room in self.rooms:  # a partition with a gap for its door across each dwelling
            x0, y0, x1, y1 = room.bounds
            middle = (x0 + x1) / 2
            if y1 - y0 > 5:
                ends = [(y0, y0 + 0.37 * (y1 - y0)), (y0 + 0.37 * (y1 - y0) + 1.1, y1)]
                for low, high in ends:
                    cut = shapely.LineString([(middle, low), (middle, high)]).intersection(room)
                    for line in shapely.get_parts(cut):
                        if line.length > 0.3:
                            pen.line(
                                [self.place(*at) for at in line.coords],
                                fill=70,
                                width=max(self.scale // 10, 2),
                            )
        return picture

    def photograph(self, seed=1):
        """The sheet held at an angle in poor light: perspective, a shadow, blur and noise."""
        sheet = self.picture()
        wide, high = sheet.size
        frame = (wide, max(high, int(0.7 * wide)))
        diagonal = np.hypot(*frame)
        rng = np.random.default_rng(seed)
        # A camera with a phone's focal length above the sheet, tilted two ways.
        down, turn = np.radians(24), np.radians(-14)
        tilt = np.array([[1, 0, 0], [0, np.cos(down), -np.sin(down)], [0, np.sin(down), np.cos(down)]])
        yaw = np.array([[np.cos(turn), 0, np.sin(turn)], [0, 1, 0], [-np.sin(turn), 0, np.cos(turn)]])
        sheet_at = np.array([(-wide, -high, 0), (wide, -high, 0), (wide, high, 0), (-wide, high, 0)]) / 2
        space = sheet_at @ (tilt @ yaw).T + (0, 0, 0.9 * diagonal)
        flat = 0.7 * diagonal * space[:, :2] / space[:, 2:] + np.array(frame) / 2
        corners = [tuple(one) for one in flat.tolist()]
        to, rows = [(0, 0), (wide, 0), (wide, high), (0, high)], []
        for (x, y), (u, v) in zip(corners, to, strict=True):
            rows += [(x, y, 1, 0, 0, 0, -u * x, -u * y), (0, 0, 0, x, y, 1, -v * x, -v * y)]
        terms = np.linalg.solve(np.array(rows), np.array(to, dtype=float).ravel())
        assert flat.min() > 0
        assert (flat < frame).all(), "the camera sees all of the sheet"
        seen = sheet.transform(
            frame,
            Image.Transform.PERSPECTIVE,
            terms.tolist(),
            Image.Resampling.BICUBIC,
            fillcolor=90,
        )
        wide, high = frame
        light = np.linspace(1.0, 0.5, wide)[None, :] * np.linspace(0.9, 1.0, high)[:, None]
        shadow = np.where(np.add.outer(np.arange(high), np.arange(wide)) > 0.8 * (wide + high) / 2, 0.75, 1.0)
        lit = np.asarray(seen.filter(ImageFilter.GaussianBlur(self.scale / 25)), dtype=float) * light * shadow
        noisy = np.clip(lit + rng.normal(0, 5, lit.shape), 0, 255).astype(np.uint8)
        return Image.fromarray(noisy), corners

    def seeds(self, *, shift=(0.0, 0.0), straightened=None):
        """What a person clicks, in pixels of the sheet: outline, one length, hallways and units."""

        def px(x, y):
            a, b = self.place(x, y)
            if straightened:
                a, b = a * straightened[0] / self.size[0], b * straightened[1] / self.size[1]
            return [round(a + shift[0], 1), round(b + shift[1], 1)]

        x0, y0, x1, _ = self.outline.bounds
        clicks = [
            {"kind": "hallway", "at": px(*hall.representative_point().coords[0])} for hall in self.halls
        ]
        for unit in self.units:
            part = unit.parts[self.floor]
            middle = part.representative_point()
            beside = Point(middle.x + 0.4, middle.y - 0.6)  # not on the number that stands there
            at = beside if part.contains(beside) else middle
            clicks.append({"kind": "unit", "code": unit.id, "at": px(at.x, at.y)})
        for room in self.plan.commons:
            if room.floor == self.floor:
                at = px(*room.outline.representative_point().coords[0])
                clicks.append({"kind": "common", "code": room.id, "at": at})
        for shaft in self.plan.stairs:
            if self.floor in shaft.floors:
                kind = {"kind": "stair", "code": shaft.id}
                clicks.append({**kind, "at": px(*shaft.outline.representative_point().coords[0])})
        ring = shapely.Polygon(max(shapely.get_parts(self.outline), key=lambda p: p.area).exterior)
        return {
            "floor": self.floor,
            "outline": [px(*at) for at in ring.simplify(0.1).exterior.coords[:-1]],
            "length": {"from": px(x0, y0), "to": px(x1, y0), "metres": round(x1 - x0, 2)},
            "clicks": clicks,
        }


def as_png(picture):
    stream = io.BytesIO()
    picture.save(stream, "PNG")
    return stream.getvalue()


def as_jpeg(picture):
    stream = io.BytesIO()
    picture.save(stream, "JPEG", quality=80)
    return stream.getvalue()


def neighbours(plan, floor):
    """The pairs of homes with half a metre of wall between them."""
    return {frozenset((wall.a, wall.b)) for wall in walls_of(plan, floor)}
