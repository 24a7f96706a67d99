"""How soon an alarm is out while a thousand notices wait: from the hand over to another client's ear.

python -m tests.bench_ways
"""

import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from monitor.delivery.dispatcher import Dispatcher
from monitor.records import Severity
from monitor.storage.history import History
from monitor.storage.writer import Writer
from tests.brokers import Mosquitto
from tests.delivery.crew import HandClock, alert, listening, settings, snapshot
from tests.delivery.test_messages import posting, way
from tests.delivery.test_mqtt_way import WAY

FLOOD, ALARMS = 990, 10
LIMIT_S = 1.0


def measure() -> Iterator[str]:
    with (
        tempfile.TemporaryDirectory() as name,
        posting() as post,
        Mosquitto(folder := Path(name)) as broker,
        listening(broker.port) as crew,
    ):
        writer, clock = Writer(folder / "boat.db"), HandClock()
        writer.open()
        writer.begin_boot("bench")
        ways = WAY.format(broker.port) + way(folder, post.address, more='from_grade = "caution"')
        dispatcher = Dispatcher(settings(ways), clock, writer)
        dispatcher.start()
        dispatcher.look(snapshot(clock.at_s))
        assert crew.waits_for("watch")
        flood = [alert(n, Severity.WARNING if n % 3 else Severity.CAUTION) for n in range(FLOOD)]
        alarms = [alert(n, Severity.ALARM, rule="burst") for n in range(FLOOD, FLOOD + ALARMS)]
        began = time.perf_counter()
        dispatcher.hand([*flood, *alarms])
        handed = time.perf_counter()
        assert crew.waits_for("alert/burst", ALARMS)
        alarmed = time.perf_counter()
        lettered = done = 0.0
        while not (lettered and done):
            lettered = lettered or (time.perf_counter() if post.got else 0.0)
            done = done or (time.perf_counter() if len(crew.of("alert")) >= FLOOD + ALARMS else 0.0)
            time.sleep(0.01)
        last = max(n for n, p in enumerate(crew.of("alert")) if p["rule"] == "burst")
        writer.flush(30)
        dispatcher.stop()
        writer.close()
        left = len(History(folder / "boat.db").outbox())
    yield f"{FLOOD + ALARMS} notices handed to two ways and their outbox: {1000 * (handed - began):.0f} ms"
    yield (
        f"the last of {ALARMS} alarms heard over MQTT {1000 * (alarmed - began):.0f} ms after the hand over"
        f" began (limit {1000 * LIMIT_S:.0f} ms), at place {last + 1}"
    )
    yield f"all {FLOOD + ALARMS} heard over MQTT: {done - began:.2f} s"
    yield f"the first alarm's letter taken by a service: {lettered - began:.2f} s (a process of its own each)"
    yield f"left in the outbox for letters still going out: {left}"


if __name__ == "__main__":
    for line in measure():
        print(line)
