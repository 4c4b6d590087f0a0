"""Documents and files as answers: what no cache keeps, and what a browser saves and never shows."""

from __future__ import annotations

from flask import Response, request

from spread.report.document import Document, Paper
from spread.report.html import write_html


def paper() -> Paper:
    """Return the paper that the address asks for."""
    return "letter" if request.args.get("paper") == "letter" else "a4"


def page(document: Document, on: Paper) -> Response:
    """Return a document as a page of its own."""
    return private(Response(write_html(document, on), mimetype="text/html"))


def private(response: Response) -> Response:
    """Return a response that no cache keeps."""
    response.headers["Cache-Control"] = "no-store"
    return response


def download(data: bytes, file: str, media_type: str) -> Response:
    """Return a file to keep."""
    response = Response(data, content_type=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{file}"'
    # A file is kept by the user and never shown as a page of ours, whatever is in it.
    response.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return private(response)
