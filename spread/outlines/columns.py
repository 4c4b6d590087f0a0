"""A layer of a map as rooms: which layer, which columns, and how long a unit of it is, as a person says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from spread.outlines.asking import CODES, LAYER, LEVELS, METRES, SORTS, UNIT_OF_LENGTH, Asker
from spread.outlines.found import Found, Layer
from spread.plan.drawing.floor_names import floor_height
from spread.tables.meanings import ROLL, suggested

ONE_FLOOR, ALL_HOMES, NUMBERED = "all on one floor", "all are units", "number them by floor"
_LIKELY_WIDTH = (8.0, 400.0)  # metres of a building
_OWN = {"unit": ("id",), "floor": ("level", "storey", "level_id")}
_SORTS = ("kind", "category", "type", "use", "usage", "class", "function", "room_type")


def metre_of(found: Found, asker: Asker) -> float:
    """Return the metres of one unit of the coordinates, as the file or else a person says."""
    if found.metre is not None:
        return found.metre
    rooms = [room for layer in (found.layers or {}).values() for room in layer.rooms]
    box = shapely.total_bounds([room.outline for room in rooms if room.outline is not None])
    wide = float(max(box[2] - box[0], box[3] - box[1])) if rooms else 0.0
    fits = [word for word, size in METRES.items() if _LIKELY_WIDTH[0] <= wide * size <= _LIKELY_WIDTH[1]]
    shown = [f"the drawing is {wide:,.4g} of them wide"]
    may_be = fits[0] if len(fits) == 1 else ""
    return METRES.get(asker.choose(UNIT_OF_LENGTH, list(METRES), may_be, examples=shown, quiet=False), 1.0)


def rooms_of_layer(found: Found, asker: Asker) -> Found:
    """Return the rooms of the layer and by the columns that a person named; as it is while these are open."""
    layers = found.layers or {}
    sizes = {name: len(layer.rooms) for name, layer in layers.items()}
    chosen = max(sizes, key=lambda name: sizes[name])
    if len(layers) > 1:
        shown = [f"{name}: {size} areas" for name, size in sizes.items()]
        chosen = asker.choose(LAYER, list(layers), chosen, examples=shown)
        if asker.open:
            return found
    layer = layers[chosen]
    heads = list(layer.columns)

    def column(key: str, may_be: str, otherwise: str) -> str:
        return asker.choose(key, [*heads, otherwise], may_be or otherwise, examples=_some(layer, may_be))

    code = column(CODES, _head(layer, "unit"), NUMBERED)
    floor = column(LEVELS, _head(layer, "floor"), ONE_FLOOR)
    sort = column(SORTS, next((head for head in heads if head.casefold() in _SORTS), ""), ALL_HOMES)

    def cell(row: Sequence[str], head: str) -> str:
        return row[heads.index(head)] if head in heads else ""

    levels = sorted({cell(row, floor) for row in layer.cells}, key=floor_height)
    rooms = tuple(
        replace(
            room,
            levels=(levels.index(cell(row, floor)),),
            name=cell(row, code),
            group=cell(row, code),
            word=cell(row, sort),
            place=room.place + (f" ({cell(row, code)!r})" if cell(row, code) else ""),
        )
        for room, row in zip(layer.rooms, layer.cells, strict=True)
    )
    return replace(found, rooms=rooms, levels=tuple(levels))


def _head(layer: Layer, meaning: str) -> str:
    """Return the column that may have a meaning of a list of units; empty if none."""
    found = [head for head in layer.columns if suggested(head, ROLL) == meaning]
    found += [head for head in layer.columns if head.casefold() in _OWN[meaning]]
    return found[0] if found else ""


def _some(layer: Layer, head: str) -> list[str]:
    if not head:
        return []
    at = layer.columns.index(head)
    return [f"{head}: {text}" for text in dict.fromkeys(row[at] for row in layer.cells) if text]
