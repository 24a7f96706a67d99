"""Marram's own voice for the guide's tests: two CAN buses on multicast and a real broker."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

from monitor.records import Frame
from simulators.packing import DBC
from simulators.speak import BrokerSpeaker, BusSpeaker
from simulators.voyage import BACKBONE, BATTERY_BUS, Item, Voyage
from tests.bench_bus import GROUP, allow_multicast
from tests.brokers import Mosquitto, free_port

START_S = 1_790_812_800 + 6 * 3600
"""2026-10-01 06:00 UTC, when her people get up."""


class Aboard:
    """`say` speaks a stretch of her life on the buses, as fast as it goes."""

    def __init__(
        self, broker_port: int, ports: dict[str, int], buses: BusSpeaker, broker: BrokerSpeaker
    ) -> None:
        self.broker_port = broker_port
        self.ports = ports
        self._buses = buses
        self._broker = broker
        self._items = list(islice(iter(Voyage("quiet-anchorage", 1, START_S, 1, 10.0)), 4000))
        self._at = 0

    def say(self, count: int = 250) -> None:
        for item in self._items[self._at : self._at + count]:
            if isinstance(item, Frame):
                self._buses.say(item)
            else:
                self._broker.say(item)
        self._at = (self._at + count) % len(self._items)

    def sources(self) -> list[dict[str, str]]:
        """As they are typed into the guide."""
        backbone, battery = (
            {"kind": "udp_multicast", "group": GROUP, "port": str(self.ports[name])}
            for name in (BACKBONE, BATTERY_BUS)
        )
        broker = {"kind": "mqtt", "host": "127.0.0.1", "broker_port": str(self.broker_port)}
        return [backbone, {**battery, "dbc": str(DBC)}, broker]


@contextmanager
def aboard(folder: Path) -> Iterator[Aboard]:
    allow_multicast(GROUP)
    ports = {BACKBONE: free_port(), BATTERY_BUS: free_port()}
    with Mosquitto(folder) as mosquitto:
        buses = BusSpeaker.udp_multicast({name: (GROUP, port) for name, port in ports.items()})
        broker = BrokerSpeaker("127.0.0.1", mosquitto.port)
        try:
            yield Aboard(mosquitto.port, ports, buses, broker)
        finally:
            broker.close()
            buses.close()


def past(sources: dict[str, str], hours: float) -> Iterator[Item]:
    """A stretch of her life from the sources as the guide has named them."""
    for item in Voyage("quiet-anchorage", 1, START_S, hours / 24, 10.0):
        yield item._replace(source=sources[item.source])


def id_of(page: str, called: str) -> str:
    """The thing's short name, from the row of the page that calls it so."""
    found = re.search(rf"<b>{re.escape(called)}</b>.*?thing=([0-9a-f]+)", page, re.DOTALL)
    assert found is not None, called
    return found[1]
