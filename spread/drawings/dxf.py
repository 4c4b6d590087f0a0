"""A DXF to the same kind of picture: the lines of chosen layers as ink, and its texts as places to click.

What its header says of units is not believed: files are about that say millimetres over inches. A person
gives one known length instead.
"""

from __future__ import annotations

import io
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from spread.drawings.pictures import LONGEST
from spread.errors import SpreadError

MOST_ENTITIES = 400_000
_MARGIN = 20  # pixels of white around the drawing
_STROKE = 3
_TEXTS = ("TEXT", "MTEXT", "ATTRIB")
_NO_INK = (*_TEXTS, "ATTDEF", "DIMENSION", "HATCH", "POINT", "VIEWPORT", "IMAGE", "WIPEOUT")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A DXF as a picture; ``layers``: lines of each layer; ``texts``: what is written, and where."""

    picture: Image.Image
    layers: dict[str, int]
    texts: tuple[tuple[str, float, float], ...]


def is_dxf(data: bytes) -> bool:
    """Return whether bytes begin as a DXF does, as text or binary."""
    head = data[:4000].decode("latin-1").split()
    return data[:18] == b"AutoCAD Binary DXF" or ("SECTION" in head[:60] and "0" in head[:60])


def draw_dxf(data: bytes, file: str, layers: Sequence[str]) -> Drawn:
    """Draw the lines of some layers, or of all if none is named."""
    lines, texts, counts = _read(data, file)
    unknown = [name for name in layers if name not in counts]
    if unknown:
        what = f"it has no lines on a layer {unknown[0][:60]!r}"
        raise SpreadError.at(file, "layers", what, f"choose from {', '.join(sorted(counts)[:12])}")
    chosen = [line for layer, line in lines if not layers or layer in layers]
    if not chosen:
        raise SpreadError.at(file, "", "it has no lines to trace", "save the floor plan itself as DXF")
    points = np.concatenate(chosen)
    low, high = points.min(axis=0), points.max(axis=0)
    extent = float((high - low).max())
    if not math.isfinite(extent) or extent <= 0:
        raise SpreadError.at(file, "", "its lines have no extent", "save the floor plan itself as DXF")
    scale = (LONGEST - 2 * _MARGIN) / extent
    wide, high_px = (int(side * scale) + 2 * _MARGIN for side in (high - low))

    def placed(xy: np.ndarray) -> np.ndarray:
        return (xy - (low[0], high[1])) * (scale, -scale) + _MARGIN

    picture = Image.new("L", (wide, high_px), 255)
    pen = ImageDraw.Draw(picture)
    for line in chosen:
        pen.line([tuple(one) for one in placed(line).tolist()], fill=0, width=_STROKE, joint="curve")
    written = ((text, *placed(np.array(at)).tolist()) for text, at in texts)
    inside = tuple((t, x, y) for t, x, y in written if 0 <= x < wide and 0 <= y < high_px)
    return Drawn(picture, dict(counts.most_common()), inside)


def _read(
    data: bytes, file: str
) -> tuple[list[tuple[str, np.ndarray]], list[tuple[str, tuple[float, float]]], Counter[str]]:
    from ezdxf import recover  # noqa: PLC0415 - an extra
    from ezdxf.disassemble import recursive_decompose, to_primitives  # noqa: PLC0415
    from ezdxf.lldxf.const import DXFError  # noqa: PLC0415

    lines: list[tuple[str, np.ndarray]] = []
    texts: list[tuple[str, tuple[float, float]]] = []
    counts: Counter[str] = Counter()
    try:
        document, _ = recover.read(io.BytesIO(data))
        for entity in _no_more_than(recursive_decompose(document.modelspace()), file):
            kind = entity.dxftype()
            if kind in _TEXTS:
                words = " ".join((entity.plain_text() if kind == "MTEXT" else entity.dxf.text).split())
                if words:
                    texts.append((words[:80], (entity.dxf.insert.x, entity.dxf.insert.y)))
                continue
            if kind in _NO_INK:
                continue
            for made in to_primitives([entity]):
                line = np.array([(v.x, v.y) for v in made.vertices()], dtype=float)
                if len(line) > 1 and np.isfinite(line).all():
                    lines.append((entity.dxf.layer, line))
                    counts[entity.dxf.layer] += 1
    except (DXFError, ValueError, KeyError, IndexError, AttributeError, RecursionError, OSError) as error:
        if isinstance(error, SpreadError):
            raise
        raise SpreadError.at(file, "", "it is no whole DXF", "save it again, as DXF 2010 or newer") from None
    return lines, texts, counts


def _no_more_than(entities: Iterable[Any], file: str) -> Iterator[Any]:
    for number, entity in enumerate(entities):
        if number >= MOST_ENTITIES:
            what = f"it has more than {MOST_ENTITIES:,} lines and texts"
            raise SpreadError.at(file, "", what, "save the floor plan alone")
        yield entity
