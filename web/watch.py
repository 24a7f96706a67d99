"""What the screens need of the watch, and nothing else of it."""

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar, runtime_checkable

from monitor.alerts.preview import Outlook
from monitor.clock import Boot, Interval
from monitor.records import Account, AlertChange, Command, Event, EventKind, Reason, RuleChange, Snapshot
from monitor.settings import Settings

T = TypeVar("T")


class Series(Protocol):
    """A channel over a span, thinned: parallel arrays, NaN where nothing was heard."""

    @property
    def utc_s(self) -> Any: ...

    @property
    def low(self) -> Any: ...

    @property
    def mean(self) -> Any: ...

    @property
    def high(self) -> Any: ...

    @property
    def level(self) -> str: ...


class Record(Protocol):
    """The history, read-only, for use from any thread. Raises StorageError where it cannot be read."""

    def channels(self) -> Sequence[str]: ...

    def series(self, channel: str, during: Interval, points: int = 2000) -> Series: ...

    def events(
        self, kind: EventKind | None, during: Interval
    ) -> Sequence[tuple[Event, float | None, float | None]]: ...

    def alert_changes(self, during: Interval | None = None) -> Sequence[tuple[AlertChange, float | None]]: ...


@runtime_checkable
class Begun(Protocol):
    """A record that knows its boots, and so when it begins."""

    def boots(self) -> Sequence[Boot]: ...


class Previewed(Protocol):
    """What would have come of a rule about one subject (`monitor.pipeline.preview.Preview`)."""

    @property
    def subject(self) -> str: ...

    @property
    def by(self) -> Reason: ...

    @property
    def outlook(self) -> Outlook | None: ...

    @property
    def refused(self) -> bool: ...


@runtime_checkable
class Foresees(Protocol):
    """A watch that can run a rule, as it stands or with a change, over its history."""

    def previews(self, change: RuleChange | None, during: Interval, rule: str = "") -> Sequence[Previewed]:
        """One for each subject. Raises CommandError for what cannot be, StorageError."""


@runtime_checkable
class Works(Protocol):
    """A watch with a further process, low in priority, for what takes longer than a moment."""

    def apart(self, function: Callable[..., T], *args: Any) -> T:
        """What the function of a module returns, given the store's path and `args`. Raises WorkerError."""


class Watch(Protocol):
    @property
    def settings(self) -> Settings: ...

    def latest(self) -> Snapshot:
        """The newest snapshot; never waits."""

    def history(self) -> Record | None:
        """The record, read-only; None while there is none that can be read."""

    def account(self, during: Interval) -> Account | None:
        """A span of the history explained; None where nothing was heard in it. Raises StorageError."""

    def submit(self, command: Command) -> None:
        """Have the crew's wish carried out. Raises CommandError; answers within a second."""
