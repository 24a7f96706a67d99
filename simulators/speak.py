"""Says a voyage aloud on real buses and to a real broker, at a pace that can be changed while it runs."""

import threading
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Protocol, Self

import can
import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from monitor.errors import SourceError
from monitor.records import Frame, Message

SHORTEST_WAIT_S = 0.004
GIVE_UP_S = 1.0
"""Further behind than this the pace is taken up anew instead of being made good in a rush."""


class Clock(Protocol):
    """Wall time and waiting, handed in so that tests need neither."""

    def now_s(self) -> float: ...

    def wait(self, stop: threading.Event, seconds: float) -> None: ...


class WallClock:
    """The computer's own."""

    def now_s(self) -> float:
        return time.monotonic()

    def wait(self, stop: threading.Event, seconds: float) -> None:
        stop.wait(seconds)


class Pace:
    """`speed` is simulated seconds for one second of wall time; it may be set at any moment."""

    def __init__(self, speed: float = 1.0, clock: Clock | None = None) -> None:
        self._clock = clock or WallClock()
        self._speed = speed
        self._from: tuple[float, float] | None = None

    @property
    def speed(self) -> float:
        return self._speed

    @speed.setter
    def speed(self, speed: float) -> None:
        self._speed, self._from = speed, None

    def wait_for(self, at_s: float, stop: threading.Event) -> None:
        """Return when it is time for something of that simulated moment, or when told to stop."""
        while not stop.is_set():
            start = self._from
            if start is None:
                self._from = start = (self._clock.now_s(), at_s)
            early_s = (at_s - start[1]) / self._speed - (self._clock.now_s() - start[0])
            if early_s < -GIVE_UP_S:
                self._from = None
            elif early_s < SHORTEST_WAIT_S:
                return
            else:
                self._clock.wait(stop, min(early_s, 0.25))


class BusSpeaker:
    """Puts frames on the bus that goes with their source. `refused` counts those it would not take."""

    def __init__(self, buses: Mapping[str, can.BusABC]) -> None:
        self._buses = buses
        self.refused = 0

    @classmethod
    def udp_multicast(cls, channels: Mapping[str, tuple[str, int]]) -> Self:
        """Buses by source, each at (group address, port); hop limit 0: nothing leaves this computer.

        Raises SourceError where the network takes no multicast.
        """
        return cls._open(
            {
                source: {"interface": "udp_multicast", "channel": group, "port": port, "hop_limit": 0}
                for source, (group, port) in channels.items()
            }
        )

    @classmethod
    def virtual(cls, channels: Mapping[str, str]) -> Self:
        """Buses by source that live inside this process, for computers without multicast."""
        return cls._open(
            {
                source: {"interface": "virtual", "channel": channel, "preserve_timestamps": False}
                for source, channel in channels.items()
            }
        )

    @classmethod
    def _open(cls, wanted: Mapping[str, dict[str, object]]) -> Self:
        buses: dict[str, can.BusABC] = {}
        try:
            for source, how in wanted.items():
                buses[source] = can.Bus(**how)  # type: ignore[arg-type]
        except (can.CanError, OSError) as error:
            for bus in buses.values():
                bus.shutdown()
            raise SourceError(f"{source}: {how['interface']} {how['channel']}: {error}") from error
        return cls(buses)

    def say(self, frame: Frame) -> None:
        bus = self._buses.get(frame.source)
        if bus is None:
            return
        message = can.Message(arbitration_id=frame.can_id, is_extended_id=frame.extended, data=frame.data)
        try:
            bus.send(message)
        except (can.CanError, OSError):
            self.refused += 1

    def close(self) -> None:
        for bus in self._buses.values():
            bus.shutdown()


class BrokerSpeaker:
    """Publishes messages at a broker; paho reconnects by itself and keeps what waits meanwhile."""

    def __init__(self, host: str, port: int, client_id: str = "marram") -> None:
        self._client = paho.Client(CallbackAPIVersion.VERSION2, client_id=client_id)
        try:
            self._client.connect(host, port, keepalive=30)
        except OSError as error:
            raise SourceError(f"broker {host}:{port}: {error}") from error
        self._client.loop_start()

    def say(self, message: Message) -> None:
        self._client.publish(message.topic, message.payload, qos=0)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def speak(
    items: Iterable[Frame | Message],
    pace: Pace,
    stop: threading.Event,
    on_frame: Callable[[Frame], None],
    on_message: Callable[[Message], None],
) -> int:
    """Say every item when its time has come, until there are no more or `stop` is set.

    Returns how many were said. `on_frame` and `on_message` are the speakers' `say`.
    """
    said = 0
    for item in items:
        pace.wait_for(item.at_s, stop)
        if stop.is_set():
            break
        if isinstance(item, Frame):
            on_frame(item)
        else:
            on_message(item)
        said += 1
    return said
