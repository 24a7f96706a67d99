"""Everything that can go wrong, as a tree: one class for each way to react.

    EbbwatchError
     +-- SettingsError       the settings file is wrong: refuse to start, name every key
     +-- SourceError         a bus, a broker or a recording failed
     |    +-- SourceLost     it was there and has gone: reconnect
     |    +-- CaptureError   a recording cannot be read: name the file and the line
     +-- UndecodableError    bytes that do not fit their message: count it, drop it, go on
     +-- StorageError        the store cannot be read or written
     |    +-- StoreDamaged   the file is not whole: set it aside and go on
     +-- DeliveryError       a way out did not take what is due: try again
     +-- RightsError         the password's or the certificate's file cannot be used: say why, let nobody act
     +-- WorkerError         a long job was given up or killed: say why, answer without it
     +-- CommandError        the crew asked for something that cannot be done: say why

Only the command line and the daemon catch EbbwatchError itself; everything else catches the
narrowest class.
"""


class EbbwatchError(Exception):
    """The root: its text is one clear line for a person."""


class SettingsError(EbbwatchError):
    """The settings file is wrong. `mistakes` holds one line for each, led by its key."""

    def __init__(self, mistakes: list[str]) -> None:
        super().__init__("\n".join(mistakes))
        self.mistakes = mistakes


class SourceError(EbbwatchError):
    """A bus, a broker or a recording failed."""


class SourceLost(SourceError):
    """A source that was there has gone: its thread reconnects."""


class CaptureError(SourceError):
    """A recording cannot be read."""


class UndecodableError(EbbwatchError):
    """Bytes that do not fit their published message definition."""


class StorageError(EbbwatchError):
    """The store cannot be read or written."""


class StoreDamaged(StorageError):
    """The store's file is not whole."""


class DeliveryError(EbbwatchError):
    """A way out did not take what is due."""


class RightsError(EbbwatchError):
    """The file of the password or of the certificate is missing, damaged or open to others."""


class WorkerError(EbbwatchError):
    """A job of the worker's was given up, or killed."""


class CommandError(EbbwatchError):
    """The crew asked for something that cannot be done."""
