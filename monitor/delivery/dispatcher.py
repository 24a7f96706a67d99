"""Every way out of the boat's settings, as the pipeline's teller: hands over, tells how each stands, and
has each tried once a day."""

import time
from collections.abc import Mapping, Sequence
from typing import Any

from monitor.delivery.desk import Desk
from monitor.delivery.loudspeaker import LoudspeakerThread
from monitor.delivery.message import MessageWayThread, addresses
from monitor.delivery.mqtt import MqttWayThread
from monitor.delivery.way import MEMORY, Outbox, WayThread
from monitor.errors import RightsError
from monitor.records import Notice, Reason, Snapshot, Way
from monitor.rights.private_file import read_private
from monitor.settings import LoudspeakerWay, MessageWay, MqttWay, Settings
from monitor.system_clock import Clock

STOPS_WITHIN_S = 2.0


class Dispatcher:
    """`hand`, `ways` and `look` belong to the watch's thread; none of them waits."""

    def __init__(
        self, settings: Settings, clock: Clock, outbox: Outbox, *, listening: bool = True, **options: Any
    ) -> None:
        """`listening` False: what is handed over is dropped until `listen`, as a simulated past is.
        `options` are every way's own (`WayThread`)."""
        self._desk = Desk(settings, clock)
        self._outbox, self._listening = outbox, listening
        self._ways = [
            thread for way in settings.ways for thread in _threads(way, self._desk, outbox, options)
        ]
        for thread in self._ways:
            thread.recovered = self._try_all

    def start(
        self, waiting: Sequence[tuple[str, Notice]] = (), memory: Mapping[str, Any] | None = None
    ) -> None:
        """Begin to deliver, with what was `waiting` before a restart, by way, and what is remembered."""
        of_way: dict[str, list[Notice]] = {thread.name: [] for thread in self._ways}
        for name, notice in waiting:
            if name in of_way:
                of_way[name].append(notice)
            else:  # The settings have it no more.
                self._outbox.delivered(name, [notice.id])
        for thread in self._ways:
            thread.restore((memory or {}).get(f"{MEMORY}{thread.name}"), of_way[thread.name])
            thread.start()

    def stop(self) -> None:
        """Within two seconds; what is not delivered stays in the outbox."""
        for thread in self._ways:
            thread.ask_to_stop()
        end_s = time.monotonic() + STOPS_WITHIN_S
        for thread in self._ways:
            thread.join(max(0.0, end_s - time.monotonic()))

    def listen(self) -> None:
        self._listening = True

    def post(self, notices: Sequence[Notice]) -> None:
        """Give them to the card, where each is kept until its way has confirmed it."""
        if self._listening:
            for thread in self._ways:
                thread.post(notices)

    def hand(self, notices: Sequence[Notice]) -> None:
        """Deliver them, in order."""
        if not self._listening:
            return
        self._desk.take(notices)
        for thread in self._ways:
            thread.put(notices)

    def ways(self) -> tuple[Way, ...]:
        """How each way stands."""
        return tuple(thread.way() for thread in self._ways)

    def look(self, snapshot: Snapshot) -> None:
        """How things stand: what is to be heard, which alerts are open, the time."""
        if not self._listening:
            return
        self._desk.look(snapshot)
        for thread in self._ways:
            if day := thread.test_due():
                thread.tested(day)
                told = Reason("ways: daily test", {"way": thread.name})
                id = f"test/{thread.name}/{day}"
                thread.put([Notice(id, "test", snapshot.at_s, snapshot.utc_s, told)])

    def _try_all(self) -> None:
        """One way gets through again: perhaps the network is back."""
        for thread in self._ways:
            thread.retry()


def _threads(
    way: MqttWay | MessageWay | LoudspeakerWay, desk: Desk, outbox: Outbox, options: Mapping[str, Any]
) -> list[WayThread]:
    """One, or one for each address of a message way, so that none waits for another."""
    if isinstance(way, MqttWay):
        return [MqttWayThread(way, desk, outbox, **options)]
    if isinstance(way, LoudspeakerWay):
        return [LoudspeakerThread(way, desk, outbox, **options)]
    try:
        text = read_private(way.urls_file)
        found = addresses(text or b"")
        why = f"{way.urls_file}: {'no such file' if text is None else 'holds no address'}"
    except RightsError as error:
        found, why = [], str(error)
    if len(found) < 2:
        return [MessageWayThread(way, desk, outbox, found[0] if found else None, why, **options)]
    names = [f"{way.name} {n}" for n in range(1, len(found) + 1)]
    return [
        MessageWayThread(way, desk, outbox, address, name=name, **options)
        for name, address in zip(names, found, strict=True)
    ]
