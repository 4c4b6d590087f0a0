"""A photograph as a picture of a document: inside an SVG element, so that nothing is fetched."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Callable

from spread.records.photographs import Photograph, cleaned
from spread.records.store import Store
from spread.report.document import Picture


def kept_in(store: Store) -> Callable[[str], Photograph | None]:
    """Return what gives the photographs of a building by their names, or None where one is not kept."""

    def of(name: str) -> Photograph | None:
        data = store.photograph(name)
        return None if data is None else cleaned(data)

    return of


def picture_of(kept: Photograph, words: str) -> Picture:
    """Return a photograph at half the width of the page, with what it is of under it."""
    inside = b64encode(kept.data).decode("ascii")
    size = f'width="{kept.width}" height="{kept.height}"'
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {kept.width} {kept.height}">'
        f'<image {size} href="data:image/jpeg;base64,{inside}"/></svg>'
    )
    return Picture(svg, words, caption=words, width=0.5)
