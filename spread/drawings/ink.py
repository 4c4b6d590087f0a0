"""Which pixels of a grey picture are walls."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Mask = NDArray[np.bool_]

PAPER = 61
"""Pixels. Dark areas narrower than this are ink, wider ones are paper in the shadow (no source)."""
LOOSE = 1.2
"""Metres. Ink of less extent that touches nothing is a number, a letter or a table (no source)."""


def ink_of(grey: NDArray[np.uint8], dark: float, thin: int, metre: float) -> Mask:
    """Return the walls of a picture.

    ``dark``: the slider, 0 to 1: how far between black and the paper around it a pixel still is ink.
    ``thin``: pixels of the thinnest stroke that is kept. ``metre``: pixels of a metre.
    """
    fine = ndimage.gaussian_filter(grey.astype(np.float32), 0.8)
    # The paper is what is left when strokes are closed, at a quarter of the size: it keeps the edges of
    # shadows, which the lightest pixel around would make ink of, and has no detail else.
    small = ndimage.grey_closing(ndimage.uniform_filter(fine, 4)[2::4, 2::4], PAPER // 4)
    paper = np.pad(np.kron(small, np.ones((4, 4), dtype=np.float32)), ((0, 4), (0, 4)), mode="edge")[
        : fine.shape[0], : fine.shape[1]
    ]
    ink: Mask = fine < dark * np.maximum(paper, 1.0)
    if thin > 1:
        kept = ndimage.binary_opening(ink, np.ones((thin, thin), dtype=bool))
        ink = ndimage.binary_dilation(kept, iterations=thin, mask=ink)
    return _without_loose(ink, LOOSE * metre)


def _without_loose(ink: Mask, shortest: float) -> Mask:
    pieces, count = ndimage.label(ink, np.ones((3, 3), dtype=bool))
    if not count:
        return ink
    long = [False]
    for place in ndimage.find_objects(pieces):
        long.append(max(side.stop - side.start for side in place) >= shortest)
    return np.asarray(np.array(long)[pieces])
