"""Say what is wrong with a built wheel: another top-level name, or a data file of the tree that it lacks."""

from __future__ import annotations

import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGES = ("spread", "dashboard")
BUILT = {".pyc", ".nbi", ".nbc"}


def faults(wheel: Path) -> list[str]:
    """Return a sentence a fault; none for a whole wheel."""
    with zipfile.ZipFile(wheel) as file:
        names = {name for name in file.namelist() if ".dist-info/" not in name}
    tops = {name.split("/")[0] for name in names}
    said = [f"the wheel installs {top!r} at the top" for top in sorted(tops - set(PACKAGES))]
    wanted = {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*")
        if path.is_file() and path.suffix not in BUILT and "__pycache__" not in path.parts
    }
    return said + [f"the wheel lacks {name}" for name in sorted(wanted - names)]


if __name__ == "__main__":
    found = faults(Path(sys.argv[1]))
    sys.exit("\n".join(found) or None)
