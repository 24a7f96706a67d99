"""The whole daemon under a full bus, replay against life, memory and the first page: `measure` prints."""

import os
import re
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import tty
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

import numpy as np

from monitor.clock import Anchor, Interval
from monitor.estimation.forecast import forecast
from monitor.estimation.use import UseHistory
from monitor.pipeline.watch import Pipeline
from monitor.storage.codec import Floats
from monitor.storage.history import History
from monitor.storage.writer import Writer
from simulators.voyage import Voyage
from tests.bench_bus import (
    CpuMeter,
    Sent,
    allow_multicast,
    bare_multicast_receiver_cost,
    saturate_multicast,
    saturate_slcan,
)
from tests.bench_store import a_year
from tests.pipeline.boat import Shelf, settings_of
from tests.web.canned import Server, canned

PYTHON = [sys.executable, "-m", "monitor"]
GROUP, PORT = "239.74.163.2", 43991
BUS = """
[boat]
name = "Bench"
[store]
path = "bench.db"
[[sources]]
kind = "can"
name = "bus"
{line}
[[banks]]
name = "house"
capacity_Ah = 460
feeds = [{{ source = "bus", instance = 0 }}]
[[banks]]
name = "start"
role = "start"
chemistry = "lead"
nominal_V = 12
capacity_Ah = 110
feeds = [{{ source = "bus", instance = 1 }}]
[[tanks]]
name = "tank"
capacity_L = 300
feeds = [{{ source = "bus", instance = 0 }}]
[[pumps]]
name = "pump"
feeds = [{{ source = "bus", instance = 0, indicator = 1, quantity = "running" }}]
[[chargers]]
name = "alternator"
kind = "alternator"
into = "house"
feeds = [{{ source = "bus", message = "dc point", instance = 0 }}]
[[engines]]
name = "engine"
feeds = [{{ source = "bus", instance = 0 }}]
[[instruments]]
name = "attitude"
feeds = [{{ source = "bus", message = "attitude" }}]
[[instruments]]
name = "position"
feeds = [{{ source = "bus", message = "position" }}]
[[instruments]]
name = "cabin"
feeds = [{{ source = "bus", message = "temperature" }}]
"""


@contextmanager
def running(folder: Path, settings: str) -> Iterator[tuple[int, str]]:
    """`ebbwatch run` on these settings: its process and its address, stopped in order at the end."""
    (folder / "boat.toml").write_text(settings, "utf-8")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        listen = f"127.0.0.1:{probe.getsockname()[1]}"
    command = [*PYTHON, "run", "--settings", str(folder / "boat.toml"), "--listen", listen]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        deadline = time.monotonic() + 30
        while True:
            try:
                urllib.request.urlopen(f"http://{listen}/", timeout=2).close()
                break
            except OSError:
                if time.monotonic() > deadline or process.poll() is not None:
                    raise RuntimeError("ebbwatch run does not answer") from None
                time.sleep(0.1)
        try:
            yield process.pid, f"http://{listen}"
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(30)


def full_bus(seconds: float) -> Iterator[str]:
    """A saturated 250 kbit/s bus: what the whole daemon costs, and what it lost."""
    with tempfile.TemporaryDirectory() as name:
        master, slave = os.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        line = f'interface = "slcan"\nchannel = "{os.ttyname(slave)}"'
        with running(Path(name), BUS.format(line=line)) as (pid, _):
            time.sleep(1.5)
            share, sent = _loaded(pid, lambda: saturate_slcan(master, seconds))
        yield _told("slcan over a pty", Path(name), share, sent, "at most 15 %, nothing lost")
        os.close(master)
        os.close(slave)
    allow_multicast(GROUP)
    bare = bare_multicast_receiver_cost(min(seconds, 20.0))
    with tempfile.TemporaryDirectory() as name:
        line = f'interface = "udp_multicast"\nchannel = "{GROUP}"\nport = {PORT}'
        with running(Path(name), BUS.format(line=line)) as (pid, _):
            time.sleep(1.5)
            share, sent = _loaded(pid, lambda: saturate_multicast(GROUP, PORT, seconds))
        yield f"python-can's own receive cost on multicast: {100 * bare:.1f} % of a core"
        limit = f"at most {100 * (bare + 0.15):.1f} %, nothing lost"
        yield _told("udp_multicast", Path(name), share, sent, limit)


def _loaded(pid: int, load: Callable[[], Sent]) -> tuple[float, Sent]:
    meter = CpuMeter(pid)
    sent = load()
    share = meter.share()
    time.sleep(1.0)
    return share, sent


def _told(what: str, folder: Path, share: float, sent: Sent, limit: str) -> str:
    _, heard = History(folder / "bench.db").samples("bus heard", Interval(0.0, 1e11))
    if not heard.size:  # The clock of the bench may be unconfirmed: count by rows of the boot itself.
        heard = _unplaced(folder / "bench.db")
    lost = sent.frames - int(heard.sum())
    rate = sent.frames / sent.seconds
    return (
        f"full bus, {what}: {sent.frames} frames in {sent.seconds:.0f} s ({rate:.0f}/s), "
        f"{lost} lost, {100 * share:.1f} % of a core ({limit})"
    )


def _unplaced(path: Path) -> Floats:
    """The same of a boot whose clock nobody confirmed: it is given any time."""
    boot = History(path).boots()[-1].number
    writer = Writer(path)
    writer.open()
    writer.anchor(boot, Anchor(0.0, 1e9, "bench", 0.0))
    writer.close()
    return History(path).samples("bus heard", Interval(0.0, 1e11))[1]


def replay(days: float) -> Iterator[str]:
    """The simulated boat's own telemetry (30 readings a second) through replay, on one core."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        simulate = [*PYTHON, "simulate", "quiet-anchorage", "--days", str(days), "--out", str(folder / "s")]
        subprocess.run(simulate, check=True, capture_output=True)
        command = [*PYTHON, "replay", "--settings", str(folder / "s/settings.toml")]
        command += ["--store", str(folder / "r.db"), "--report", str(folder / "r.json")]
        command += [str(folder / "s/bus.log"), str(folder / "s/mqtt.jsonl")]
        one_core = ["taskset", "-c", "0", *command]
        began = time.monotonic()
        subprocess.run(one_core, check=True, capture_output=True)
        seconds = time.monotonic() - began
        told = (folder / "r.json").read_text("utf-8")
        samples = int(re.search(r'"samples": (\d+)', told)[1])  # type: ignore[index]
        rate = samples / (days * 86400)
        times = days * 86400 / seconds
        size = (folder / "r.db").stat().st_size
        yield f"replay of {rate:.1f} readings a second: {times:,.0f} x life on one core (at least 2,000)"
        yield f"its store: {size / samples:.2f} bytes a reading, estimates and events in it"


def forecasts(count: int = 60) -> Iterator[str]:
    """One forecast of energy, from thirty days of use, 400 futures of ten days."""
    rng = np.random.default_rng(5)
    use = UseHistory()
    begins_s = 1_790_812_800.0
    for hour in range(30 * 24):
        made = max(0.0, 200 * np.sin((hour % 24 - 6) / 12 * np.pi))
        use.add(begins_s + hour * 3600, "at anchor", "awake", rng.gamma(4, 20), made, 3600)
    took = []
    for n in range(count):
        now_s = begins_s + 30 * 86400 + n
        began = time.perf_counter()
        forecast(now_s, 4000, 200, 1178, 5888, use, "at anchor", 1900, 1700, seed=n)
        took.append(time.perf_counter() - began)
    yield f"a forecast: {1e3 * statistics.median(took):.1f} ms, worst {1e3 * max(took):.1f} (at most 20)"


def assessing(days: float = 1.0) -> Iterator[str]:
    """What everything that is done at the beat costs: estimates, watchers, forecasts, judged alerts."""
    voyage = Voyage("quiet-anchorage", 3, 1_790_812_800.0, days, 1.0)
    shelf = Shelf()
    pipeline = Pipeline(settings_of(voyage), shelf, shelf.begin_boot("bench"), recorded=True)
    spent = []

    def timed(task: Callable[..., None]) -> Callable[..., None]:
        def timing(*args: float) -> None:
            began = time.perf_counter()
            task(*args)
            spent.append(time.perf_counter() - began)

        return timing

    for name in ("minute_over", "judge"):
        setattr(pipeline, name, timed(getattr(pipeline, name)))
    items = iter(voyage)
    while batch := list(islice(items, 5000)):
        pipeline.intake(batch)
    share = sum(spent) / (days * 86400)
    yield f"assessing everything once a minute: {100 * share:.2f} % of a core (at most 2)"


def page(requests: int = 40) -> Iterator[str]:
    """Memory of `ebbwatch run` with a year of history, and Ahead drawn in full before that year."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        a_year(folder / "marram.db")
        sample = Path(__file__).parents[1] / "deploy" / "settings.sample.toml"
        dbc = Path(__file__).parents[1] / "simulators" / "marram_bms.dbc"
        settings = sample.read_text("utf-8").replace('"marram_bms.dbc"', f'"{dbc}"')
        settings = settings.replace('"socketcan"', '"virtual"')
        with running(folder, settings) as (pid, address):
            _timed(address, requests)
            resident = _resident_MiB(pid)
        yield f"resident memory of ebbwatch run: {resident:.0f} MiB (at most 110)"

        watch = canned("well")
        watch.record = History(folder / "marram.db")
        with Server(watch) as server:
            took, html = _timed(server.url, requests)
            power, _ = _timed(f"{server.url}/power", requests)
            total = len(html) + sum(
                len(urllib.request.urlopen(server.url + path).read()) for path in _assets(html.decode())
            )
        yield (
            f"Ahead drawn in full, a year of history behind it: {1e3 * statistics.median(took):.1f} ms "
            f"(worst {1e3 * max(took):.1f}; at most 30)"
        )
        yield f"Power drawn in full, the same: {1e3 * statistics.median(power):.1f} ms (at most 60)"
        yield f"Ahead in all, uncompressed: {total / 1000:.0f} kB (at most 200)"


def _timed(address: str, requests: int) -> tuple[list[float], bytes]:
    """How long the first page took each time, from loopback, and its text."""
    took = []
    html = b""
    for _ in range(requests):
        began = time.perf_counter()
        with urllib.request.urlopen(address) as answer:
            html = answer.read()
        took.append(time.perf_counter() - began)
    return took, html


def _assets(html: str) -> list[str]:
    return sorted(set(re.findall(r'(?:src|href)="(/static/[^"]+)"', html)))


def _resident_MiB(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text("ascii")
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024  # type: ignore[index]


def measure(seconds: float = 60.0, days: float = 1.0) -> Iterator[str]:
    """Every figure of the whole watch, a line each."""
    yield from full_bus(seconds)
    yield from replay(days)
    yield from forecasts()
    yield from assessing()
    yield from page()


if __name__ == "__main__":
    for figure in measure(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0):
        print(figure, flush=True)
