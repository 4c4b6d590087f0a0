"""The notebook of the documentation runs from its first cell to its last, and is kept without outputs."""

import json
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
NOTEBOOK = ROOT / "docs" / "spread-as-a-library.ipynb"


def test_the_notebook_is_kept_without_outputs():
    cells = [cell for cell in json.loads(NOTEBOOK.read_text())["cells"] if cell["cell_type"] == "code"]
    assert len(cells) > 4
    assert all(cell["outputs"] == [] and cell["execution_count"] is None for cell in cells)


@pytest.mark.slow
def test_the_notebook_runs():
    nbformat = pytest.importorskip("nbformat")
    nbclient = pytest.importorskip("nbclient")
    pytest.importorskip("ipykernel")
    notebook = nbformat.read(NOTEBOOK, as_version=4)
    nbclient.NotebookClient(
        notebook, timeout=600, kernel_name="python3", resources={"metadata": {"path": str(ROOT)}}
    ).execute()
    outputs = [one for cell in notebook.cells if cell.cell_type == "code" for one in cell.outputs]
    texts = [str(one.get("data", {}).get("text/plain", "")) for one in outputs]
    assert any(text.startswith("<Building Tolliwick Gardens: ") for text in texts)
    assert any("rate[wall]" in text for text in texts)
