"""Writing documents as files: all of them or none, and never over a file by accident."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Literal

from spread.errors import Problem, SpreadError
from spread.files import write_together
from spread.report.document import Document, Paper
from spread.report.html import write_html
from spread.report.pdf import write_pdf

Format = Literal["html", "pdf"]
_ODD = re.compile(r"[^\w.-]+")


def file_name(*words: str) -> str:
    """Return words as the stem of a file name: letters, digits, dots and hyphens."""
    return "-".join(_ODD.sub("_", word).strip("._") or "_" for word in words)


def write_documents(
    documents: Mapping[str, Document],
    folder: Path,
    *,
    formats: Sequence[Format] = ("html",),
    paper: Paper = "a4",
    replace: bool = False,
) -> tuple[Path, ...]:
    """Write documents, each as a file of its own in each format.

    Everything is set before the first file is written, and the files appear together or not at all.

    ``documents``: by the stem of their file names. ``folder``: where; made if there is none, and taken away
    again if nothing could be written. ``formats``: HTML, PDF or both. ``paper``: the paper they are for.
    ``replace``: whether files of these names may be written over. Returns the files of the first format in
    the order of ``documents``, then those of the next. Raises SpreadError when files are there already, the
    folder or a file cannot be made, or typst is missing.
    """
    paths = {folder / f"{stem}.{kind}": (stem, kind) for kind in formats for stem in documents}
    check_free(paths, folder, replace=replace)
    made = {path: _set(documents[stem], kind, paper) for path, (stem, kind) in paths.items()}
    with _folder(folder):
        write_together(made)
    return tuple(paths)


def check_free(paths: Iterable[Path], folder: Path, *, replace: bool) -> None:
    """Say which files are there already, unless they may be written over."""
    there = sorted(path.name for path in paths if path.exists())
    if there and not replace:
        names = ", ".join(there[:3]) + (f" and {len(there) - 3} more" if len(there) > 3 else "")
        fix = "choose another folder, or add --replace to write over"
        raise SpreadError.at(folder.name or str(folder), "", f"it already holds {names}", fix)


def write_pages(document: Document, pages: Sequence[tuple[Path, Format]], paper: Paper = "a4") -> None:
    """Write one document as files that were named one by one, together or not at all.

    Raises SpreadError when one is a folder or named twice, cannot be written, or typst is missing.
    """
    fix = "name a file to write"
    paths = [path for path, _ in pages]
    problems = [Problem(str(path), "", "it is a folder", fix) for path in paths if path.is_dir()]
    if len(set(paths)) < len(paths):
        problems.append(Problem(str(paths[0]), "", "it is named for two formats", "name two files"))
    if problems:
        raise SpreadError(problems)
    write_together({path: _set(document, kind, paper) for path, kind in pages})


def _set(document: Document, kind: Format, paper: Paper) -> str | bytes:
    return write_pdf(document, paper) if kind == "pdf" else write_html(document, paper)


@contextlib.contextmanager
def _folder(folder: Path) -> Iterator[None]:
    """Make a folder for what is written inside the block; take away what was made if that fails."""
    new = [one for one in (folder, *folder.parents) if not one.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise SpreadError.at(
            folder.name, "", f"it cannot be made a folder ({why})", "choose another"
        ) from None
    try:
        yield
    except BaseException:
        with contextlib.suppress(OSError):
            for one in new:
                one.rmdir()
        raise
