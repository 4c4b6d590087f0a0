"""A photograph, a scan or a page of a PDF to one grey picture of a bounded size."""

from __future__ import annotations

import io
import warnings

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from spread.errors import SpreadError

LONGEST = 1600
"""Pixels of the longer side of a picture that is traced: 4 cm each in a building of 60 m."""
MOST_PIXELS = 100_000_000
MOST_PAGES = 500
_SHORT_LENS, _LONG_LENS = 0.45, 3.0
"""Focal lengths of cameras in diagonals of their pictures; a phone's is about 0.6 (common knowledge)."""
_FORMATS = ("PNG", "JPEG", "TIFF", "WEBP", "BMP", "GIF")
_OTHER = "save it as PNG, JPEG, PDF or DXF"

Grey = NDArray[np.uint8]
Corner = tuple[float, float]


def read_picture(data: bytes, file: str) -> Image.Image:
    """Return a picture, upright, grey and at most :data:`LONGEST` long; SpreadError when it is none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own limit stands below
            picture = Image.open(io.BytesIO(data), formats=_FORMATS)
            if picture.width * picture.height > MOST_PIXELS:
                what = f"it has {picture.width:,} x {picture.height:,} pixels, more than are read"
                raise SpreadError.at(file, "", what, "save it smaller, 1,600 pixels along its longer side")
            picture.draft("L", (LONGEST, LONGEST))
            return _bounded(ImageOps.exif_transpose(_on_white(picture)))
    except UnidentifiedImageError:
        raise SpreadError.at(file, "", "it is no picture, PDF or DXF that can be read", _OTHER) from None
    except Image.DecompressionBombError:
        raise SpreadError.at(file, "", "it has more pixels than are read", "save it smaller") from None
    except SpreadError:
        raise
    except (OSError, ValueError, SyntaxError, EOFError):
        raise SpreadError.at(file, "", "it is cut short or spoilt", "save it again, whole") from None


def read_page(data: bytes, file: str, page: int) -> tuple[Image.Image, int]:
    """Return a page of a PDF as a picture, and how many pages there are; the first page is 1."""
    import pypdfium2  # noqa: PLC0415 - an extra

    try:
        document = pypdfium2.PdfDocument(data)
        pages = len(document)
    except pypdfium2.PdfiumError as error:
        if "password" in str(error).lower():
            raise SpreadError.at(
                file, "", "it is locked with a password", "save a copy without one"
            ) from None
        raise SpreadError.at(file, "", "it is no whole PDF", "save it again and send it whole") from None
    if not 1 <= page <= min(pages, MOST_PAGES):
        what = f"there is no page {page} that can be read; it has {pages}"
        raise SpreadError.at(file, "", what, f"name a page from 1 to {min(pages, MOST_PAGES)}")
    try:
        sheet = document[page - 1]
        wide, high = sheet.get_size()
        if not 1 <= min(wide, high) <= max(wide, high) < 1e6:
            raise SpreadError.at(file, f"page {page}", "its size is no page's", "save it again")
        bitmap = sheet.render(scale=LONGEST / max(wide, high), grayscale=True)
        return bitmap.to_pil().convert("L"), pages
    except pypdfium2.PdfiumError:
        raise SpreadError.at(file, f"page {page}", "it cannot be drawn", "save it as a picture") from None


def straightened(picture: Image.Image, corners: tuple[Corner, ...], proportion: float = 0.0) -> Image.Image:
    """Return what lies between four corners of a photograph as if seen from straight above.

    ``corners``: upper left, upper right, lower right, lower left, in pixels. ``proportion``: width of the
    sheet by its height; worked out from the perspective if 0.
    """
    at = np.array(corners, dtype=float)
    sides = proportion or proportion_of(at - np.array(picture.size) / 2, float(np.hypot(*picture.size)))
    wide, high = (max(int(LONGEST * min(side, 1.0)), 1) for side in (sides, 1 / sides))
    to = np.array([(0, 0), (wide, 0), (wide, high), (0, high)], dtype=float)
    rows, sought = [], []
    for (x, y), (u, v) in zip(to, at, strict=True):  # where in the photograph each pixel comes from
        rows += [(x, y, 1, 0, 0, 0, -u * x, -u * y), (0, 0, 0, x, y, 1, -v * x, -v * y)]
        sought += [u, v]
    terms = np.linalg.solve(np.array(rows), np.array(sought))
    return picture.transform(
        (wide, high),
        Image.Transform.PERSPECTIVE,
        terms.tolist(),
        resample=Image.Resampling.BICUBIC,
        fillcolor=255,
    )


def proportion_of(at: NDArray[np.float64], diagonal: float) -> float:
    """Return the width by the height of a rectangle that a camera saw at four corners.

    ``at``: its corners in turn, from the middle of the picture. ``diagonal``: of the picture. The rectangle's
    sides are at right angles in space, which gives the focal length and then the proportion (Zhang and He
    2007, Whiteboard scanning and image enhancement, Digital Signal Processing 17, section 3). A focal length
    that no camera has is one of a picture seen almost straight, where it matters little.
    """
    one, two, four, three = np.concatenate([at / diagonal, np.ones((4, 1))], axis=1)
    across = (np.cross(one, four) @ three) / (np.cross(two, four) @ three) * two - one
    down = (np.cross(one, four) @ two) / (np.cross(three, four) @ two) * three - one
    slant = across[2] * down[2]
    focal = -(across[:2] @ down[:2]) / slant if abs(slant) > 1e-9 else _LONG_LENS**2
    scale = np.array([1.0, 1.0, np.clip(focal, _SHORT_LENS**2, _LONG_LENS**2)])
    return float(np.clip(np.sqrt((across**2 @ scale) / (down**2 @ scale)), 0.05, 20.0))


def _on_white(picture: Image.Image) -> Image.Image:
    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        whole = picture.convert("RGBA")
        picture = Image.alpha_composite(Image.new("RGBA", whole.size, "white"), whole)
    elif picture.mode.startswith("I") or picture.mode == "F":  # 16 bits and more: to their own range
        values = np.asarray(picture, dtype=float)
        low, high = float(values.min()), float(values.max())
        return Image.fromarray(((values - low) * (255 / max(high - low, 1e-9))).astype(np.uint8))
    return picture.convert("L")


def _bounded(picture: Image.Image) -> Image.Image:
    if max(picture.size) <= LONGEST:
        return picture
    scale = LONGEST / max(picture.size)
    size = (max(round(picture.width * scale), 1), max(round(picture.height * scale), 1))
    return picture.resize(size, Image.Resampling.LANCZOS)
