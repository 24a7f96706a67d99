"""Any other CAN device, as a DBC file describes it, read by cantools."""

from collections.abc import Mapping
from pathlib import Path

from monitor.errors import SettingsError, UndecodableError


class DbcBook:
    """The messages of one DBC file. Signals are called "Message.Signal".

    Raises SettingsError where the file cannot be read or does not make sense.
    """

    def __init__(self, path: Path) -> None:
        # Only here: it is not loaded where no DBC file is configured.
        import cantools

        try:
            database = cantools.database.load_file(path, database_format="dbc")
            assert isinstance(database, cantools.database.Database)
        except (OSError, ValueError, cantools.Error) as error:
            raise SettingsError([f"{path}: cannot be read as a DBC file: {error}"]) from error
        self._messages = {(m.frame_id, m.is_extended_frame): m for m in database.messages}
        self._names = {
            (m.name, signal.name): f"{m.name}.{signal.name}"
            for m in database.messages
            for signal in m.signals
        }
        self._errors = (cantools.Error, ValueError, KeyError)

    def signals(self) -> set[str]:
        """Every signal that a feed can name."""
        return set(self._names.values())

    def knows(self, can_id: int, extended: bool) -> bool:
        """Whether the file has a message of this identifier."""
        return (can_id, extended) in self._messages

    def decode(self, can_id: int, extended: bool, data: bytes) -> Mapping[str, float] | None:
        """The signals in a frame, None for an identifier that the file does not have.

        Raises UndecodableError if the data do not fit the message.
        """
        message = self._messages.get((can_id, extended))
        if message is None:
            return None
        try:
            decoded = message.decode_simple(data, decode_choices=False)
        except self._errors as error:
            raise UndecodableError(f"{message.name} ({can_id:X}): {error}") from error
        return {
            self._names[message.name, signal]: float(value)
            for signal, value in decoded.items()
            if isinstance(value, int | float)
        }
