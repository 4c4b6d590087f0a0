"""What is kept of compiled functions is dropped when code that is compiled into them changed."""

import os
import subprocess
import sys

import pytest

from spread.compiled import drop_outdated

CALLED = "import numba as nb\n\n@nb.njit(cache=True)\ndef give():\n    return {}\n"
CALLER = (
    "import numba as nb\n"
    "from called import give\n\n"
    "@nb.njit(cache=True)\ndef ask():\n    return give() + 100\n"
)


def answer(folder, drop):
    """Run the caller in a process of its own, as a user's next command would."""
    code = "from pathlib import Path\nfrom spread.compiled import drop_outdated\n"
    code += "drop_outdated(Path.cwd())\n" if drop else ""
    code += "import caller\nprint(caller.ask())"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=folder, capture_output=True, text=True, check=True
    )
    return int(done.stdout)


@pytest.mark.parametrize(("drop", "then"), [(False, 101), (True, 102)])
def test_a_caller_is_compiled_again_when_only_what_it_calls_changed(tmp_path, drop, then):
    """Without dropping, numba answers with the old code: that is what the module is there for."""
    (tmp_path / "caller.py").write_text(CALLER)
    (tmp_path / "called.py").write_text(CALLED.format(1))
    for name in ("caller.py", "called.py"):
        os.utime(tmp_path / name, (1_700_000_000, 1_700_000_000))
    assert answer(tmp_path, drop) == 101
    (tmp_path / "called.py").write_text(CALLED.format(2))
    assert answer(tmp_path, drop) == then


def test_what_is_up_to_date_is_kept_and_an_empty_package_is_no_fault(tmp_path):
    assert drop_outdated(tmp_path) == 0
    (tmp_path / "code.py").write_text("")
    cache = tmp_path / "__pycache__"
    cache.mkdir()
    (cache / "code.f.nbi").write_text("")
    assert drop_outdated(tmp_path) == 0
    os.utime(cache / "code.f.nbi", (1_700_000_000, 1_700_000_000))
    elsewhere = tmp_path / "other"
    elsewhere.mkdir()
    (elsewhere / "constants.py").write_text("")
    os.utime(tmp_path / "code.py", (1_600_000_000, 1_600_000_000))
    assert drop_outdated(tmp_path) == 0
    assert drop_outdated(tmp_path, [elsewhere]) == 1
    assert not list(cache.iterdir())
