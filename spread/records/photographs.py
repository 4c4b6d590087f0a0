"""Photographs of what was found: checked, rid of everything but the picture, and kept once under a name.

A camera writes place, time and owner into a photograph. What is kept here has none of it: every segment of
the file that is not needed to see the picture is taken out (ITU-T T.81, annex B: APPn and COM segments).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from spread.errors import RecordError, told

PHOTOS = "photos"  #: Where they stand in a building's folder
LARGEST = 2_000_000  #: Bytes of one photograph; a phone sends a tenth of it
WIDEST = 6000  #: Pixels of a side

_NAME = re.compile(r"photos/[a-z0-9-]{8,40}\.jpg")
_SOI, _EOI, _SOS, _COM = 0xD8, 0xD9, 0xDA, 0xFE
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_JFIF, _ADOBE = 0xE0, 0xEE  # how the picture is to be read: density and colour, nothing of people


@dataclass(frozen=True, slots=True)
class Photograph:
    """A picture that was kept."""

    data: bytes  #: A JPEG file
    #: width, height: In pixels
    width: int
    height: int


def is_name(name: str) -> bool:
    """Return whether a name is one that a phone gives, such as ``photos/k3f9a2b7c1.jpg``."""
    return _NAME.fullmatch(name) is not None


def cleaned(data: bytes) -> Photograph:
    """Return a JPEG file without anything that is not the picture.

    Raises RecordError in a sentence for what is no JPEG file, or too large.
    """
    if len(data) > LARGEST:
        most = f"{LARGEST / 1e6:g}"
        raise RecordError(told("The photograph has more than {most} MB; take a smaller one.", most=most))
    parts, size = [b"\xff\xd8"], None
    for mark, segment in _segments(data):
        if mark in _FRAMES and len(segment) >= 9:
            size = int.from_bytes(segment[7:9]), int.from_bytes(segment[5:7])
        if mark != _COM and (not 0xE0 <= mark <= 0xEF or mark in (_JFIF, _ADOBE)):
            parts.append(segment)
    if size is None or not all(0 < side <= WIDEST for side in size):
        raise RecordError(told("The photograph did not arrive as a picture (JPEG); take it again."))
    return Photograph(b"".join(parts), *size)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each marker with its bytes; the last one runs from the start of the scan to its end.

    Nothing is yielded after a byte that fits no marker: the file then has no frame, or none that counts.
    """
    if data[:2] != b"\xff\xd8" or not data.rstrip(b"\0").endswith(b"\xff\xd9"):
        return
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        mark = data[place + 1]
        length = int.from_bytes(data[place + 2 : place + 4])
        if length < 2 or mark in (_SOI, _EOI):
            return
        if mark == _SOS:
            # To the first end of image: what a camera writes behind it (a second picture, a film) goes.
            yield mark, data[place : data.index(b"\xff\xd9", place) + 2]
            return
        yield mark, data[place : place + 2 + length]
        place += 2 + length
