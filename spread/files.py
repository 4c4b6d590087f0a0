"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from spread.errors import Problem, SpreadError


def write_whole(
    path: Path, text: str | bytes, *, error: type[SpreadError] = SpreadError, mode: int = 0o644
) -> None:
    """Write a file in one step: a reader sees the old file or the new one, never half.

    Parameters
    ----------
    path
        The file; its folder must exist.
    text
        What to write; a text as UTF-8.
    error
        What to raise when it cannot be written.
    mode
        Who may read it, as for ``chmod``; the draft beside it is the owner's alone at all times.
    """
    try:
        handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    except OSError as reason:
        why = (reason.strerror or "unknown reason").lower()
        raise error(
            Problem(path.name, "", f"it cannot be written ({why})", "make the folder or choose another")
        ) from None
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(text.encode("utf-8") if isinstance(text, str) else text)
            file.flush()
            os.fsync(file.fileno())
        Path(draft).chmod(mode)
        Path(draft).replace(path)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise
