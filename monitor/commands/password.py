"""`ebbwatch password`: sets the one password that the crew acts with."""

import getpass
import sys
from pathlib import Path

from monitor.errors import RightsError
from monitor.rights.password import LONGEST, new_password, write_password
from monitor.rights.private_file import password_file
from monitor.settings_file import read_settings


def set_password(settings_path: Path) -> None:
    """Asks twice without echo, or reads a line where standard input is no terminal.

    Raises SettingsError, and RightsError where it is too short, mistyped or cannot be written.
    """
    path = password_file(read_settings(settings_path).store.path)
    write_password(path, new_password(_asked() if sys.stdin.isatty() else _line()))
    print(f"The password is set, in {path}. Whoever was signed in must sign in again.")


def _asked() -> str:
    first = getpass.getpass("The crew's new password: ")
    if getpass.getpass("Once more: ") != first:
        raise RightsError("the two differ: nothing was changed")
    return first


def _line() -> str:
    data = sys.stdin.buffer.readline(4 * LONGEST + 2)  # No character of UTF-8 has more than four bytes.
    try:
        return data.decode("utf-8").removesuffix("\n").removesuffix("\r")
    except UnicodeDecodeError as error:
        raise RightsError("the password is not UTF-8 text") from error
