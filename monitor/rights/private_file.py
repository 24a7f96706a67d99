"""Files that only their owner may read, written whole or not at all."""

import os
import stat
import tempfile
from pathlib import Path

from monitor.errors import RightsError

LARGEST = 64 * 1024
OWNER_ONLY = 0o600


def password_file(store: Path) -> Path:
    """Where the crew's password lies: beside the store, as the two below do."""
    return store.with_name(f"{store.name}.password")


def root_file(store: Path) -> Path:
    """The root certificate that phones are told to trust, with its key."""
    return store.with_name(f"{store.name}.root.pem")


def server_file(store: Path) -> Path:
    """The certificate that is served with, and its key."""
    return store.with_name(f"{store.name}.server.pem")


def write_private(path: Path, data: bytes) -> None:
    """Replaces `path`. Written by root it belongs to whoever owns the folder, as the service must read it.

    Raises RightsError where that folder is missing or cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)  # Mode 0600 from the start.
    except OSError as error:
        raise RightsError(f"{path.parent}: {error.strerror}: {path.name} cannot be written there") from error
    try:
        with os.fdopen(handle, "wb") as file:
            if os.geteuid() == 0:
                owner = path.parent.stat()
                os.fchown(file.fileno(), owner.st_uid, owner.st_gid)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except OSError as error:
        Path(name).unlink(missing_ok=True)
        raise RightsError(f"{path}: cannot be written: {error.strerror}") from error
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)


def read_private(path: Path) -> bytes | None:
    """What stands in it; None where there is no such file.

    Raises RightsError where it cannot be read, is no plain file, or others may read or change it.
    """
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise RightsError(f"{path}: cannot be read: {error.strerror}") from error
    try:
        about = os.fstat(handle)
        if not stat.S_ISREG(about.st_mode):
            raise RightsError(f"{path}: not a plain file")
        if about.st_mode & 0o077:
            mode = stat.S_IMODE(about.st_mode)
            raise RightsError(f"{path}: others may open it, too (mode {mode:04o}): chmod 600 {path}")
        return os.read(handle, LARGEST)
    finally:
        os.close(handle)
