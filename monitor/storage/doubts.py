"""Files that a reader found damaged, for the writer of the same process to look through.

Readers and the writer know the file by its path and not each other. What is told is the file
itself, so that a word about one that was set aside meanwhile does not fall on its successor.
"""

from pathlib import Path
from typing import NamedTuple


class File(NamedTuple):
    device: int
    number: int


_doubted: set[File] = set()
"""Each use of it is one step of the interpreter: no lock."""


def file_at(path: Path) -> File:
    """Raises OSError."""
    found = path.stat()
    return File(found.st_dev, found.st_ino)


def tell(file: File) -> None:
    _doubted.add(file)


def told(path: Path) -> bool:
    """Whether a reader told of the file at `path` since this was last asked."""
    if not _doubted:
        return False
    try:
        _doubted.remove(file_at(path))
    except (KeyError, OSError):
        return False
    return True
