"""The libraries that read drawings are extras; without them it is said in one sentence."""

from __future__ import annotations

from importlib.util import find_spec

from spread.errors import SpreadError

_NEEDED = {
    "drawings": ("skimage", "pypdfium2", "ezdxf"),
    "ifc": ("ifcopenshell",),
    "gis": ("pyogrio", "pyproj"),
}


def need_extra(file: str, extra: str = "drawings") -> None:
    """Raise SpreadError when an extra is not installed; ``file`` is what was to be read."""
    if not all(find_spec(name) for name in _NEEDED[extra]):
        what = "drawings of its kind are read by libraries that are not installed here"
        raise SpreadError.at(file, "", what, f"install them with: pip install 'spread[{extra}]'")
