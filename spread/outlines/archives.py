"""Files out of a ZIP that a stranger sent: bounded, never by a path, and never onto the disk."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import PurePosixPath

from spread.errors import SpreadError

MOST_FILES = 500
MOST_BYTES = 200_000_000
"""Of all files of an archive that are read, when they are unpacked."""
_AGAIN = "pack the files of the building alone, without a password"


def is_zip(data: bytes) -> bool:
    """Return whether bytes begin as an archive does."""
    return data[:4] == b"PK\x03\x04"


def members_of(data: bytes, file: str, endings: tuple[str, ...]) -> Mapping[str, bytes]:
    """Return the files of an archive with one of some endings, by the path that they have there.

    Raises SpreadError for what is locked, spoilt, too large when it is unpacked, or named out of its folder.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _members(archive, file, endings)
    except SpreadError:
        raise
    except Exception:  # zipfile, zlib and lzma each throw their own
        raise SpreadError.at(file, "", "it is cut short or no ZIP archive", _AGAIN) from None


def _members(archive: zipfile.ZipFile, file: str, endings: tuple[str, ...]) -> dict[str, bytes]:
    listed = archive.infolist()
    if len(listed) > MOST_FILES:
        what = f"it holds {len(listed):,} files, more than the {MOST_FILES} that are read"
        raise SpreadError.at(file, "", what, _AGAIN)
    found: dict[str, bytes] = {}
    left = MOST_BYTES
    for one in listed:
        path = PurePosixPath(one.filename.replace("\\", "/"))
        if path.is_absolute() or ".." in path.parts or ":" in one.filename:
            what = f"{one.filename[:60]!r} names a place outside of the archive"
            raise SpreadError.at(file, "", what, _AGAIN)
        if one.is_dir() or path.suffix.lower() not in endings or path.parts[0] == "__MACOSX":
            continue
        if one.flag_bits & 1:
            raise SpreadError.at(file, path.name, "it is locked with a password", _AGAIN)
        with archive.open(one) as stream:  # what it says of its size is not believed
            found[str(path)] = stream.read(left + 1)
        left -= len(found[str(path)])
        if left < 0:
            what = f"it is larger than {MOST_BYTES / 1e6:.0f} MB when it is unpacked"
            raise SpreadError.at(file, "", what, _AGAIN)
    return found
