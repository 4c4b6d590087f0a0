"""Writing files whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

from spread.errors import Problem, SpreadError


def write_whole(
    path: Path, text: str | bytes, *, error: type[SpreadError] = SpreadError, mode: int = 0o644
) -> None:
    """Write a file in one step: a reader sees the old file or the new one, never half.

    ``path``: the file; its folder must exist. ``text``: what to write; a text as UTF-8. ``error``: what to
    raise when it cannot be written. ``mode``: who may read it, as for ``chmod``; the draft beside it is the
    owner's alone at all times.
    """
    write_together({path: text}, error=error, mode=mode)


def write_together(
    texts: Mapping[Path, str | bytes], *, error: type[SpreadError] = SpreadError, mode: int = 0o644
) -> None:
    """Write files that belong together: all of them or none, each as of :func:`write_whole`.

    All are written as drafts beside their places first. If one cannot then take its place, those that already
    did are put back as they were.

    ``texts``: what to write by file. ``error``, ``mode``: as for :func:`write_whole`. Raises SpreadError of
    the class ``error``: which file cannot be written, and why.
    """
    drafts: dict[Path, Path] = {}
    earlier: dict[Path, Path | None] = {}
    try:
        for path, text in texts.items():
            with _said(path, error):
                drafts[path] = _draft(path)
                _fill(drafts[path], text, mode)
        for number, (path, draft) in enumerate(drafts.items(), start=1):
            with _said(path, error):
                if number < len(drafts):  # whatever fails behind it, this one must be able to go back
                    earlier[path] = _copy(path)
                draft.replace(path)
    except BaseException:
        for path, copy in earlier.items():
            if path in drafts and not drafts[path].exists():
                _put_back(path, copy)
        raise
    finally:
        for leftover in (*drafts.values(), *filter(None, earlier.values())):
            leftover.unlink(missing_ok=True)


@contextlib.contextmanager
def _said(path: Path, error: type[SpreadError]) -> Iterator[None]:
    """Say in one sentence why a file cannot be written."""
    try:
        yield
    except OSError as reason:
        why = (reason.strerror or "unknown reason").lower()
        full = reason.errno in (errno.ENOSPC, errno.EDQUOT)
        fix = "make room and try again" if full else "make the folder or choose another"
        raise error(Problem(path.name, "", f"it cannot be written ({why})", fix)) from None


def _draft(path: Path) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    os.close(handle)
    return Path(name)


def _fill(draft: Path, text: str | bytes, mode: int) -> None:
    with draft.open("wb") as file:
        file.write(text.encode("utf-8") if isinstance(text, str) else text)
        file.flush()
        os.fsync(file.fileno())
    draft.chmod(mode)


def _copy(path: Path) -> Path | None:
    """Keep what stands in a file beside it; None if there is no such file."""
    if not path.is_file():
        return None
    copy = _draft(path)
    try:
        shutil.copy2(path, copy)
    except BaseException:
        copy.unlink(missing_ok=True)
        raise
    return copy


def _put_back(path: Path, copy: Path | None) -> None:
    if copy is None:
        path.unlink(missing_ok=True)
    else:
        copy.replace(path)
