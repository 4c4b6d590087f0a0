"""The libraries that read drawings are an extra; without them it is said in one sentence."""

from __future__ import annotations

from importlib.util import find_spec

from spread.errors import SpreadError

_NEEDED = ("skimage", "pypdfium2", "ezdxf")


def need_extra(file: str) -> None:
    """Raise SpreadError when the extra ``[drawings]`` is not installed; ``file`` is what was to be read."""
    if not all(find_spec(name) for name in _NEEDED):
        what = "drawings are read by libraries that are not installed here"
        raise SpreadError.at(file, "", what, "install them with: pip install 'spread[drawings]'")
