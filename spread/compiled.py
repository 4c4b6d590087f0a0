"""Compiled functions that are kept on disk, and when they are out of date."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from pathlib import Path


def drop_outdated(folder: Path, sources: Iterable[Path] = ()) -> int:
    """Remove what numba keeps of a package whose sources changed since.

    Numba compiles a function anew when its own file changes. The functions and constants of other modules
    are compiled into it too, and of those it knows nothing: after an update a kept function could go on
    with old code inside.

    ``folder``: the package. ``sources``: Folders of other packages whose code or constants are compiled in.
    Returns how many kept functions were removed; they are compiled again at their next use.
    """
    kept = list((folder / "__pycache__").glob("*.nbi"))
    if not kept:
        return 0
    changed = max(file.stat().st_mtime for place in (folder, *sources) for file in place.glob("*.py"))
    outdated = [index for index in kept if index.stat().st_mtime < changed]
    removed = 0
    for index in outdated:
        with contextlib.suppress(OSError):  # another process removed it first, or it is not ours to remove
            index.unlink()
            removed += 1
    return removed


def is_kept(package: Path) -> bool:
    """Return whether anything compiled is kept of a package: without it the first use takes a minute."""
    return any((package / "__pycache__").glob("*.nbi"))
