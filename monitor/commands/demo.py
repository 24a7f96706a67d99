"""`ebbwatch demo`: Marram's last days through the very pipeline, then her life on real buses."""

import asyncio
import contextlib
import socket
import tempfile
import threading
import time
import webbrowser
from itertools import islice, takewhile
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import Progress

from monitor.clock import DAY_S, MINUTE_S
from monitor.commands.run import listening_socket, serve, server_for
from monitor.daemon import Daemon
from monitor.errors import CommandError, SourceError
from monitor.records import Command
from monitor.settings import CanSource, MqttSource, MqttWay, Settings
from monitor.settings_file import parse_settings
from monitor.sources.embedded_broker import EmbeddedBroker
from simulators.loads import FREEZER_W, FRIDGE_W
from simulators.packing import DBC
from simulators.speak import BrokerSpeaker, BusSpeaker, Pace, speak
from simulators.voyage import BACKBONE, BATTERY_BUS, Voyage

SCENARIO = "quiet-anchorage"
PAST_EVERY_S = 10.0
"""The past is told at a slower beat than the buses speak: ten days then take a minute or two."""
BATCH = 2000
MULTICAST_GROUP = "239.74.163.2"
LIVE_DAYS = 60
SPEAKS_S = 2.0
"""Within this every instrument has spoken once. [s]"""
ALIKE = 0.12
"""A learned load that takes so nearly as much is the one meant, as a share."""


class DemoClock:
    """Simulated time: it stands at the end of the past, then runs `speed` times as fast as life."""

    def __init__(self, at_s: float, speed: float) -> None:
        self._at_s = at_s
        self.speed = speed
        self._since: float | None = None

    def go(self) -> None:
        self._since = time.monotonic()

    def elapsed_s(self) -> float:
        if self._since is None:
            return self._at_s
        return self._at_s + (time.monotonic() - self._since) * self.speed

    def wall_s(self) -> float:
        return self.elapsed_s()


def run_demo(*, port: int, speed: float, days: int, seed: int, browser: bool) -> None:
    """Run until it is interrupted."""
    console = Console()
    line = listening_socket(f"127.0.0.1:{port}")
    now_s = time.time() // MINUTE_S * MINUTE_S
    voyage = Voyage(SCENARIO, seed, now_s - days * DAY_S, days + LIVE_DAYS, PAST_EVERY_S, live_from_s=now_s)
    broker = EmbeddedBroker()
    broker_port = broker.start()
    buses, channels = open_buses()
    with tempfile.TemporaryDirectory(prefix="ebbwatch-demo-") as folder:
        settings = demo_settings(voyage, Path(folder), broker_port, channels)
        told = f"{days} days of {settings.boat.name}'s past, then her life at {speed:g} times its pace"
        clock = DemoClock(now_s, speed)
        daemon = Daemon(settings, clock, "demo", simulated=told, past=True)
        daemon.start()
        multicast = all("port" in channel for channel in channels.values())
        bus = "UDP multicast" if multicast else "python-can's virtual bus, as multicast is missing here"
        console.print(f"A simulated boat: {told}.")
        console.print(f"CAN frames travel on {bus}, MQTT messages through a broker on port {broker_port}.")
        console.print(f"Dashboard: http://127.0.0.1:{port}/  (Ctrl-C ends the demo)")
        broker_line = BrokerSpeaker("127.0.0.1", broker_port)
        stopping = threading.Event()
        life = threading.Thread(
            target=_live,
            args=(voyage, daemon, clock, buses, broker_line, now_s, days, stopping, console),
            daemon=True,
        )
        if browser:
            webbrowser.open(f"http://127.0.0.1:{port}/")
        server = server_for(daemon)
        try:
            asyncio.run(serve(server, line, life.start))
        finally:
            stopping.set()
            life.join(5)
            broker_line.close()
            buses.close()
            daemon.stop()
            broker.stop()


def open_buses() -> tuple[BusSpeaker, dict[str, dict[str, Any]]]:
    """Marram's two buses and how to listen to them: on multicast, else inside this process."""
    ports = {name: _free_port(socket.SOCK_DGRAM) for name in (BACKBONE, BATTERY_BUS)}
    try:
        speaker = BusSpeaker.udp_multicast({name: (MULTICAST_GROUP, port) for name, port in ports.items()})
    except SourceError:
        channels = {name: f"marram-{name}" for name in ports}
        listen = {name: {"interface": "virtual", "channel": channel} for name, channel in channels.items()}
        return BusSpeaker.virtual(channels), listen
    group = {"interface": "udp_multicast", "channel": MULTICAST_GROUP}
    return speaker, {name: {**group, "port": port} for name, port in ports.items()}


def demo_settings(
    voyage: Voyage, folder: Path, broker_port: int, channels: dict[str, dict[str, Any]]
) -> Settings:
    """The sample's settings, listening to the buses of the demo and telling its broker. The store lies in
    `folder`."""
    settings = parse_settings(voyage.settings_text(dbc=str(DBC)), folder)
    sources = [
        source.model_copy(update={"port": broker_port})
        if isinstance(source, MqttSource)
        else source.model_copy(update=channels[source.channel])
        for source in settings.sources
        if isinstance(source, CanSource | MqttSource)
    ]
    ways = [way.model_copy(update={"port": broker_port}) for way in settings.ways if isinstance(way, MqttWay)]
    return settings.model_copy(update={"sources": sources, "ways": ways})


def _live(
    voyage: Voyage,
    daemon: Daemon,
    clock: DemoClock,
    buses: BusSpeaker,
    broker: BrokerSpeaker,
    now_s: float,
    days: int,
    stopping: threading.Event,
    console: Console,
) -> None:
    """First the past, as fast as it goes, then the present on the buses."""
    listening = [s.name for s in daemon.settings.sources if isinstance(s, CanSource)]
    named = dict(zip((BACKBONE, BATTERY_BUS), listening, strict=True))
    items = iter(voyage)
    start_s = now_s - days * DAY_S
    with Progress(console=console) as progress:
        task = progress.add_task(f"{days} days of history", total=days * DAY_S)
        past = takewhile(lambda item: item.at_s < now_s, items)
        while not stopping.is_set() and (batch := list(islice(past, BATCH))):
            daemon.past([item._replace(source=named.get(item.source, item.source)) for item in batch])
            progress.update(task, completed=daemon.now_s - start_s)
        while daemon.now_s < now_s - MINUTE_S and not stopping.wait(0.2):
            progress.update(task, completed=daemon.now_s - start_s)
        progress.update(task, completed=days * DAY_S)
    name_loads(daemon)
    clock.go()
    # Every bus speaks before silence is judged.
    threading.Timer(SPEAKS_S, daemon.begin).start()
    console.print("Now live.")
    speak(items, Pace(clock.speed), stopping, buses.say, broker.say)


def name_loads(daemon: Daemon) -> None:
    """What Marram's crew has called the two loads that it hears most: whichever takes about as much."""
    for name, watts in (("fridge", FRIDGE_W), ("freezer", FREEZER_W)):
        cycling = [kind for kind in daemon.latest().loads if kind.how == "cycles" and not kind.name]
        alike = [kind for kind in cycling if abs(kind.watts - watts) <= ALIKE * watts]
        if alike:
            heard = max(alike, key=lambda kind: kind.runs)
            with contextlib.suppress(CommandError):  # Not named is no harm: the crew may do it on the page.
                daemon.submit(Command("load", heard.id, {"name": name}))


def _free_port(kind: socket.SocketKind) -> int:
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
