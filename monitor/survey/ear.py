"""The sources of a draft, listened to by the very threads that the watch will use."""

import threading
import time
from collections.abc import Iterable

from monitor.records import SourceHealth
from monitor.settings import Boat, CanSource, MqttSource, RecordingSource, Settings
from monitor.sources.inbox import Inbox
from monitor.sources.mqtt import MqttThread
from monitor.sources.open import open_sources
from monitor.sources.thread import SourceThread
from monitor.survey.hearing import Hearing
from monitor.system_clock import Clock
from monitor.wire.dbc import DbcBook

AnySource = CanSource | MqttSource | RecordingSource
WAITING = 20_000
LOOK_S = 0.05


class Ear:
    """Listens to whatever `listen_to` names, and nothing else."""

    def __init__(self, clock: Clock) -> None:
        self.hearing = Hearing()
        self._clock = clock
        self._inbox = Inbox(WAITING)
        self._threads: dict[str, tuple[AnySource, SourceThread, float]] = {}
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._take, name="survey", daemon=True)
        self._thread.start()

    def listen_to(self, sources: Iterable[AnySource]) -> None:
        """Begin with what is new or changed, end with what is gone. Raises SettingsError for a DBC file that
        cannot be read."""
        wanted = {source.name: source for source in sources}
        for name, (source, thread, _) in list(self._threads.items()):
            if _line(wanted.get(name)) != _line(source):
                thread.stop()
                self.hearing.forget(name)
                del self._threads[name]
        for name, source in wanted.items():
            if name not in self._threads:
                dbc = None if isinstance(source, MqttSource) else source.dbc
                self.hearing.begin(name, None if dbc is None else DbcBook(dbc))
                thread = self._open(source)
                self._threads[name] = (source, thread, self._clock.elapsed_s())
                thread.start()

    def _open(self, source: AnySource) -> SourceThread:
        if isinstance(source, MqttSource):
            return MqttThread(
                source.model_copy(update={"status_topic": None}), ["#"], self._inbox, self._clock
            )
        settings = Settings(boat=Boat(name="survey"), sources=[source])
        return open_sources(settings, self._inbox, self._clock)[0]

    def health(self) -> dict[str, SourceHealth]:
        return {name: thread.health.snapshot() for name, (_, thread, _) in self._threads.items()}

    def listening_s(self, name: str) -> float:
        """How long it has been listened to."""
        found = self._threads.get(name)
        return 0.0 if found is None else self._clock.elapsed_s() - found[2]

    def now_s(self) -> float:
        return self._clock.elapsed_s()

    def answers(self, name: str, within_s: float) -> bool:
        """Waits until it answers, or says why it does not."""
        found = self._threads.get(name)
        end_s = time.monotonic() + within_s
        while found is not None and not found[1].health.up and not found[1].health.trouble:
            if time.monotonic() > end_s or self._stopping.wait(LOOK_S):
                break
        return found is not None and found[1].health.up

    def close(self) -> None:
        self._stopping.set()
        for _, thread, _ in self._threads.values():
            thread.stop()
        self._inbox.close()
        self._thread.join(2)

    def _take(self) -> None:
        while not self._stopping.is_set():
            for batch in self._inbox.take(0.2):
                self.hearing.feed(batch)


def _line(source: AnySource | None) -> object:
    """What makes it another line to listen on: not which languages are asked of it."""
    return (
        source
        if source is None or isinstance(source, MqttSource)
        else source.model_copy(update={"speaks": ["nmea2000"]})
    )
