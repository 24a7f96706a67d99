"""`ebbwatch demo`: Marram's last days through the very pipeline, then her life on real buses."""

import asyncio
import socket
import tempfile
import threading
import time
import webbrowser
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from rich.console import Console
from rich.progress import Progress, TimeRemainingColumn
from simulators.speak import Speaker, multicast_works

from monitor.clock import DAY_S, MINUTE_S
from monitor.commands.run import listening_socket, server_for
from monitor.daemon import Daemon
from monitor.records import Frame, Message
from monitor.settings import CanSource, MqttSource, Settings, parse_settings
from monitor.sources.embedded_broker import EmbeddedBroker
from simulators.voyage import Voyage

SCENARIO = "quiet-anchorage"
PAST_EVERY_S = 5.0
"""The past is told at a slower beat than the buses speak: ten days then take a minute or two."""
BATCH = 2000
MULTICAST_GROUP = "239.74.163.2"
LIVE_DAYS = 60


class DemoClock:
    """Simulated time: it stands at the end of the past, then runs `speed` times as fast as life."""

    def __init__(self, at_s: float, speed: float) -> None:
        self._at_s = at_s
        self._speed = speed
        self._since: float | None = None

    def go(self) -> None:
        self._since = time.monotonic()

    def elapsed_s(self) -> float:
        if self._since is None:
            return self._at_s
        return self._at_s + (time.monotonic() - self._since) * self._speed

    def wall_s(self) -> float:
        return self.elapsed_s()


def run_demo(*, port: int, speed: float, days: int, seed: int, browser: bool) -> None:
    """Run until it is interrupted."""
    console = Console()
    line = listening_socket(f"127.0.0.1:{port}")
    now_s = time.time() // MINUTE_S * MINUTE_S
    voyage = Voyage(SCENARIO, seed, now_s - days * DAY_S, days + LIVE_DAYS)
    broker = EmbeddedBroker()
    broker_port = broker.start()
    multicast = multicast_works(MULTICAST_GROUP)
    with tempfile.TemporaryDirectory(prefix="ebbwatch-demo-") as folder:
        settings = demo_settings(voyage, Path(folder), broker_port, multicast)
        told = f"A simulated boat: {settings.boat.name}'s last {days} days, then her life at {speed:g} x."
        clock = DemoClock(now_s, speed)
        daemon = Daemon(settings, clock, "demo", simulated=told, past=True)
        daemon.start()
        bus = "UDP multicast" if multicast else "python-can's virtual bus (multicast is missing here)"
        console.print(told)
        console.print(f"CAN frames travel on {bus}, MQTT messages through a broker on port {broker_port}.")
        console.print(f"Dashboard: http://127.0.0.1:{port}/  (Ctrl-C ends the demo)")
        speaker = Speaker(settings, broker_port, speed)
        stopping = threading.Event()
        life = threading.Thread(
            target=_live, args=(voyage, daemon, clock, speaker, now_s, days, stopping, console), daemon=True
        )
        life.start()
        if browser:
            webbrowser.open(f"http://127.0.0.1:{port}/")
        try:
            asyncio.run(server_for(daemon).serve(sockets=[line]))
        finally:
            stopping.set()
            life.join(5)
            speaker.close()
            daemon.stop()
            broker.stop()


def demo_settings(voyage: Voyage, folder: Path, broker_port: int, multicast: bool) -> Settings:
    """The sample's settings with the buses that this computer has."""
    dbc = Path(__file__).parents[2] / "simulators" / "marram_bms.dbc"
    settings = parse_settings(voyage.settings_text(dbc=str(dbc)), folder)
    sources: list[object] = []
    for source in settings.sources:
        if isinstance(source, CanSource):
            bus = {"interface": "virtual", "channel": f"marram-{source.channel}"}
            if multicast:
                bus_port = _free_port(socket.SOCK_DGRAM)
                sources.append(
                    source.model_copy(
                        update={
                            "interface": "udp_multicast",
                            "channel": MULTICAST_GROUP,
                            "port": bus_port,
                        }
                    )
                )
            else:
                sources.append(source.model_copy(update=bus))
        elif isinstance(source, MqttSource):
            sources.append(source.model_copy(update={"port": broker_port}))
    return settings.model_copy(update={"sources": sources})


def _live(
    voyage: Voyage,
    daemon: Daemon,
    clock: DemoClock,
    speaker: Speaker,
    now_s: float,
    days: int,
    stopping: threading.Event,
    console: Console,
) -> None:
    """First the past, as fast as it goes, then the present on the buses."""
    names = speaker.names
    voyage.every_s = PAST_EVERY_S
    items: Iterator[Frame | Message] = iter(voyage)
    start_s = now_s - days * DAY_S
    item: Frame | Message | None = None
    with Progress(*Progress.get_default_columns()[:-1], TimeRemainingColumn(), console=console) as progress:
        task = progress.add_task(f"{days} days of history", total=days * DAY_S)
        over = False
        while not over and not stopping.is_set():
            batch: list[Frame | Message] = []
            for item in islice(items, BATCH):
                if item.at_s >= now_s:
                    over = True
                    break
                batch.append(item._replace(source=names.get(item.source, item.source)))
            daemon.past(batch)
            progress.update(task, completed=daemon.now_s - start_s)
        while daemon.now_s < now_s - MINUTE_S and not stopping.wait(0.2):
            progress.update(task, completed=daemon.now_s - start_s)
        progress.update(task, completed=days * DAY_S)
    voyage.every_s = 1.0
    clock.go()
    daemon.begin()
    console.print("Now live.")
    speaker.speak(items, clock.elapsed_s, stopping)


def _free_port(kind: socket.SocketKind) -> int:
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
