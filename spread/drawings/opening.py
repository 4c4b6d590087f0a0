"""Any drawing to the picture that is clicked on, in a process that may be ended."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from spread.drawings.extra import need_extra
from spread.drawings.ifc import is_ifc, told_if_spoilt
from spread.drawings.tracing import Opening, opening_of
from spread.errors import SpreadError
from spread.worker import in_worker

LARGEST_FILE = 200_000_000
SECONDS = 90.0
SMALLER = "save the floor plan alone, smaller or as a picture"


@dataclass(frozen=True, slots=True)
class Opened:
    """The picture that is clicked on, as PNG or JPEG, and what the file had: pages, layers, texts.

    ``metre``: pixels of a metre, and ``match``: two places that are on every floor, where known.
    """

    image: bytes
    wide: int
    high: int
    pages: int
    layers: Mapping[str, int]
    texts: tuple[tuple[str, float, float], ...]
    metre: float = 0.0
    match: tuple[tuple[float, float], ...] = ()


def read_drawing(path: Path) -> bytes:
    """Return a drawing's bytes; SpreadError when it is too large or cannot be read."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            what = f"it is larger than the {LARGEST_FILE / 1e6:.0f} MB that are read"
            raise SpreadError.at(path.name, "", what, SMALLER)
        return path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise SpreadError.at(path.name, "", f"it cannot be read ({reason})", "check its name") from None


def open_drawing(data: bytes, file: str, opening: Opening = Opening()) -> Opened:  # noqa: B008 - it is frozen
    """Return the picture of a drawing; SpreadError, one sentence, for what cannot be read."""
    need_extra(file)
    if not data:
        raise SpreadError.at(file, "", "it is empty", "choose a picture, a PDF, a DXF or an IFC")
    if is_ifc(data):
        need_extra(file, "ifc")
    asked = {key: value for key, value in asdict(opening).items() if value}
    reader = "spread.drawings.opening:picture_of"
    got: Any = in_worker(reader, data, file, json.dumps(asked), seconds=SECONDS, smaller=SMALLER)
    texts = tuple((str(t), float(x), float(y)) for t, x, y in got["texts"])
    match = tuple((float(x), float(y)) for x, y in got["match"])
    image = base64.b64decode(got["image"])
    return Opened(image, got["wide"], got["high"], got["pages"], got["layers"], texts, got["metre"], match)


def picture_of(data: bytes, file: str, asked: str) -> dict[str, Any]:
    """Open a drawing; runs in the worker."""
    from spread.drawings.dxf import draw_dxf, is_dxf  # noqa: PLC0415 - an extra
    from spread.drawings.pictures import read_page, read_picture, straightened  # noqa: PLC0415
    from spread.drawings.storey import draw_ifc  # noqa: PLC0415

    opening = opening_of(json.loads(asked), file)
    pages, layers, texts, metre = 1, {}, [], 0.0
    match: tuple[tuple[float, float], ...] = ()
    if data[:1024].lstrip()[:5] == b"%PDF-":
        picture, pages = read_page(data, file, opening.page)
    elif is_ifc(data):
        with told_if_spoilt(file):
            cut = draw_ifc(data, file, opening.page)
        picture, pages, texts, metre = cut.picture, cut.storeys, list(cut.texts), cut.metre
        match = cut.match
    elif is_dxf(data):
        drawn = draw_dxf(data, file, opening.layers)
        picture, layers, texts = drawn.picture, drawn.layers, list(drawn.texts)
    else:
        picture = read_picture(data, file)
    if opening.corners:
        picture, metre = straightened(picture, opening.corners, opening.proportion), 0.0
        match = ()
    kept = [_saved(picture, "PNG"), _saved(picture, "JPEG", quality=90)]
    return {
        "image": base64.b64encode(min(kept, key=len)).decode(),
        "wide": picture.width,
        "high": picture.height,
        "pages": pages,
        "layers": layers,
        "texts": texts,
        "metre": metre,
        "match": match,
    }


def _saved(picture: Any, kind: str, **more: int) -> bytes:  # noqa: ANN401 - of the extra
    stream = io.BytesIO()
    picture.save(stream, kind, **more)
    return stream.getvalue()


def grey_of(image: bytes, file: str) -> np.ndarray:
    """Return the pixels of a picture that was opened before."""
    from spread.drawings.pictures import read_picture  # noqa: PLC0415 - an extra

    return np.asarray(read_picture(image, file))
