"""Writing documents into a folder: all of them or none, and never over a file by accident."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from spread.errors import Problem, SpreadError
from spread.files import write_whole
from spread.report.document import Document, Paper
from spread.report.html import write_html
from spread.report.pdf import write_pdf

_ODD = re.compile(r"[^\w.-]+")


def file_name(*words: str) -> str:
    """Return words as the stem of a file name: letters, digits, dots and hyphens."""
    return "-".join(_ODD.sub("_", word).strip("._") or "_" for word in words)


def write_documents(
    documents: Mapping[str, Document], folder: Path, *, pdf: bool, paper: Paper = "a4", replace: bool = False
) -> tuple[Path, ...]:
    """Write documents, each as a file of its own.

    Everything is set before the first file is written, and each file appears whole.

    Parameters
    ----------
    documents
        By the stem of their file names.
    folder
        Where; made if there is none.
    pdf
        PDF instead of HTML.
    paper
        The paper they are for.
    replace
        Whether files of these names may be written over.

    Raises
    ------
    SpreadError
        When files are there already, the folder cannot be made, or typst is missing.
    """
    ending = "pdf" if pdf else "html"
    paths = {stem: folder / f"{stem}.{ending}" for stem in documents}
    there = sorted(path.name for path in paths.values() if path.exists())
    if there and not replace:
        names = ", ".join(there[:3]) + (f" and {len(there) - 3} more" if len(there) > 3 else "")
        fix = "choose another folder, or add --replace to write over"
        raise SpreadError(Problem(folder.name or str(folder), "", f"it already holds {names}", fix))
    made = {
        stem: write_pdf(document, paper) if pdf else write_html(document, paper)
        for stem, document in documents.items()
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise SpreadError(
            Problem(folder.name, "", f"it cannot be made a folder ({why})", "choose another")
        ) from None
    for stem, content in made.items():
        write_whole(paths[stem], content)
    return tuple(paths.values())
