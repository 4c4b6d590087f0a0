"""Charts of documents printed grey: what lies beside one another is told apart by lightness alone."""

import datetime as dt

import numpy as np
import pytest

from spread.report.charts import Path, band_panels
from spread.report.document import Document, Picture
from spread.report.pdf import write_pdf

pdfium = pytest.importorskip("pypdfium2")
pytest.importorskip("typst")
APART = 25
"""Steps of 255 by which two neighbouring greys differ at least: some 10 % of the paper's white, several times
what a laser printer is uneven by (judgement)."""


def greys(svg, share=0.001):
    """The greys that cover most of a picture printed alone, lightest first: each a level well apart."""
    page = Document("t", (Picture(svg, "a chart"),), made_on=dt.date(2026, 11, 20))
    sheet = pdfium.PdfDocument(write_pdf(page))[0].render(scale=3, grayscale=True).to_numpy()
    sheet = sheet.reshape(len(sheet), -1)[int(len(sheet) * 0.15) :]
    counts = np.bincount(sheet.ravel(), minlength=256)
    return [int(g) for g in np.argsort(-counts, kind="stable") if counts[g] > share * sheet.size]


def test_band_within_band_and_the_line_are_four_greys():
    weeks = np.linspace(0.0, 1.0, 53)
    bands = np.array([20.0 + k * 8.0 + weeks * 4.0 for k in range(5)])
    found = greys(band_panels([Path("one", bands)], upright="units", along="weeks"))
    white, outer, inner = sorted(found, reverse=True)[0], *sorted(found[1:3], reverse=True)
    line = min(found)
    assert white == 255
    assert white - outer >= APART
    assert outer - inner >= APART
    assert inner - line >= 3 * APART, "the middle stands out of the band that it lies in"
