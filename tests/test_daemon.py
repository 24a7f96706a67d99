"""The whole watch on real transports: what is really sent is shown, remembered and told; whatever is taken
away and given back, the watch goes on.
"""

import json
import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import can
import paho.mqtt.client as paho
import pytest
from fastapi.testclient import TestClient
from paho.mqtt.enums import CallbackAPIVersion

from monitor import daemon as daemon_module
from monitor.errors import CommandError
from monitor.pipeline.energy import EnergyDesk
from monitor.pipeline.judgement import Judgement
from monitor.pipeline.watch import Pipeline
from monitor.pipeline.water import WaterDesk
from monitor.records import Command, EventKind, Frame
from monitor.storage import database
from tests.bench_bus import GROUP, allow_multicast
from tests.brokers import Mosquitto, free_port
from tests.live import ALL, BROKER, VIRTUAL, SkippingClock, watching
from tests.sources.listening import Adapter, eventually
from tests.watched import battery, pump
from web.app import create_app


@pytest.fixture(autouse=True)
def _brisk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A snapshot each twentieth of a second instead of each second."""
    monkeypatch.setattr(daemon_module, "PUBLISH_EVERY_S", 0.05)
    monkeypatch.setattr(daemon_module, "LISTEN_S", 0.02)


@contextmanager
def bus_called(channel: str) -> Iterator[Callable[[Frame], None]]:
    with can.Bus(channel, "virtual", ignore_config=True) as bus:
        yield lambda frame: bus.send(can.Message(arbitration_id=frame.can_id, data=frame.data))


@pytest.fixture
def bus(request: pytest.FixtureRequest) -> Iterator[Callable[[Frame], None]]:
    """Says frames on the virtual bus named after the test."""
    with bus_called(request.node.name) as say:
        yield say


@pytest.fixture
def virtual(request: pytest.FixtureRequest) -> str:
    return VIRTUAL.format(request.node.name)


# ---- what is sent becomes a reading, a row and a page


@pytest.mark.parametrize("transport", ["virtual", "udp_multicast"])
def test_a_frame_on_a_bus_becomes_a_reading_a_row_and_a_page(tmp_path: Path, transport: str) -> None:
    port = free_port()
    allow_multicast(GROUP)
    listen, options = VIRTUAL.format("pages"), {"channel": "pages", "interface": "virtual"}
    if transport == "udp_multicast":
        listen = f'interface = "udp_multicast"\nchannel = "{GROUP}"\nport = {port}\n'
        options = {"channel": GROUP, "interface": transport, "port": port, "hop_limit": 0}  # type: ignore[dict-item]
    with can.Bus(ignore_config=True, **options) as sender, watching(tmp_path, listen) as watch:
        assert eventually(lambda: watch.up("backbone"))
        watch.told_the_time()
        frame = battery(0.0, 13.27, -8.4)
        sender.send(can.Message(arbitration_id=frame.can_id, data=frame.data))
        assert eventually(lambda: watch.reading("house voltage") == 13.27)
        assert watch.reading("house current") == -8.4
        assert watch.source("backbone").heard == 1
        watch.next_minute()
        assert eventually(lambda: watch.kept("house voltage") == [13.27])

        client = TestClient(create_app(watch.daemon), base_url="http://127.0.0.1:8470")
        page = client.get("/")
        assert page.status_code == 200
        assert "Marram" in page.text
        fit_out = client.get("/fit-out").text
        assert "backbone" in fit_out
        assert "13.27" in fit_out
        now_s = watch.daemon.latest().utc_s
        assert now_s is not None
        data = client.get(
            "/history/data", params={"channel": "house voltage", "from": now_s - 600, "to": now_s}
        )
        assert data.status_code == 200
        assert "13.27" in data.text
        ours = {"Origin": "http://127.0.0.1:8470"}
        wish = client.post("/mode", data={"place": "sailing", "people": "awake"}, headers=ours)
        assert wish.status_code == 200
        assert watch.daemon.latest().mode.place == "sailing"


def test_a_message_of_a_real_broker_and_the_broker_dies_and_returns(tmp_path: Path, virtual: str) -> None:
    with Mosquitto(tmp_path) as mosquitto:
        publish(mosquitto.port, "heater/old", "on", retain=True)
        source = virtual + BROKER.format(mosquitto.port)
        with watching(tmp_path, source) as watch:
            watch.told_the_time()
            assert eventually(lambda: watch.up("broker"))
            publish(mosquitto.port, "heater", json.dumps({"water": 54.5}))
            assert eventually(lambda: watch.reading("calorifier temperature") == 54.5)
            assert watch.reading("calorifier on") is None, "kept by the broker for who knows how long"
            watch.next_minute()
            assert eventually(lambda: watch.kept("calorifier temperature") == [54.5])

            mosquitto.kill()
            assert eventually(lambda: not watch.up("broker"))
            assert str(mosquitto.port) in watch.source("broker").trouble
            mosquitto.start()
            assert eventually(lambda: watch.up("broker"))
            publish(mosquitto.port, "heater", json.dumps({"water": 55.5}))
            assert eventually(lambda: watch.reading("calorifier temperature") == 55.5)
            assert watch.source("broker").trouble == ""


def publish(port: int, topic: str, payload: str, *, retain: bool = False) -> None:
    client = paho.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def test_an_adapter_is_unplugged_and_plugged_in_again(tmp_path: Path) -> None:
    tty = tmp_path / "ttyACM0"
    with Adapter(tty) as adapter, watching(tmp_path, f'interface = "slcan"\nchannel = "{tty}"\n') as watch:
        assert eventually(lambda: watch.up("backbone") and adapter.open)
        adapter.say(slcan(battery(0.0, 13.11, 2.0)))
        assert eventually(lambda: watch.reading("house voltage") == 13.11)

        adapter.unplug()
        assert eventually(lambda: not watch.up("backbone"))
        assert "ttyACM0" in watch.source("backbone").trouble
        watch.clock.skip(120)
        assert eventually(lambda: watch.daemon.latest().values["house voltage"].silent)

        adapter.plug()
        assert eventually(lambda: watch.up("backbone") and adapter.open)
        adapter.say(slcan(battery(0.0, 13.12, 2.0)))
        assert eventually(lambda: watch.reading("house voltage") == 13.12)
        assert not watch.daemon.latest().values["house voltage"].silent
        assert {c for c in adapter.commands if c[0] in "tTrR"} == set(), "it never sends"


def slcan(frame: Frame) -> str:
    return f"T{frame.can_id:08X}{len(frame.data)}{frame.data.hex().upper()}\r"


# ---- what the crew asks for


def test_the_crew_is_answered_within_a_second(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None]
) -> None:
    with watching(tmp_path, virtual) as watch:
        watch.told_the_time()
        assert eventually(lambda: watch.up("backbone"))
        for _ in range(3):
            bus(battery(0.0, 13.2, -5.0))
            watch.clock.skip(31.0)
            assert eventually(lambda: watch.daemon.latest().at_s > watch.clock.elapsed_s() - 1)
        assert eventually(lambda: bool(watch.daemon.latest().alerts))
        alert = watch.daemon.latest().alerts[0]

        for command in (
            Command("acknowledge", alert.alert),
            Command("mode", "boat", {"place": "alongside", "people": "away"}),
            Command("note", "crew", {"text": "New impeller."}),
        ):
            began_s = time.monotonic()
            watch.daemon.submit(command)
            assert time.monotonic() - began_s < 1.0

        latest = watch.daemon.latest()
        assert (latest.mode.place, latest.mode.people, latest.mode.by_hand) == ("alongside", "away", True)
        assert {a.alert: a.state for a in latest.alerts}[alert.alert] == "acknowledged"
        for refused in (
            Command("acknowledge", "nothing"),
            Command("acknowledge", alert.alert),
            Command("mode", "boat", {"place": "on the moon"}),
            Command("note", "crew", {"text": "  "}),
            Command("clock", "boat", {}),
            Command("clock", "boat", {"utc_s": "noon"}),
            Command("fly", "boat"),
        ):
            with pytest.raises(CommandError):
                watch.daemon.submit(refused)
    with watching(tmp_path, virtual, boot="next") as again:
        notes = [e.event.facts for e in again.daemon.history().events(EventKind.NOTE, ALL)]
        assert notes == [{"text": "New impeller."}]
        assert again.daemon.latest().mode.place == "alongside"
        assert {a.state for a in again.daemon.latest().alerts if a.alert == alert.alert} == {"acknowledged"}


# ---- mistakes of our own


FAILING = {
    "an estimator of water": (WaterDesk, "minute"),
    "an estimator of energy": (EnergyDesk, "minute"),
    "the judgement": (Judgement, "judge"),
    "what is computed": (Pipeline, "_computed"),
}


@pytest.mark.parametrize(("owner", "method"), FAILING.values(), ids=FAILING)
def test_a_mistake_inside_is_told_and_costs_no_reading(
    tmp_path: Path,
    virtual: str,
    bus: Callable[[Frame], None],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    owner: type,
    method: str,
) -> None:
    def fails(*_: Any, **__: Any) -> Any:
        raise ZeroDivisionError("a mistake of ours")

    with watching(tmp_path, virtual) as watch:
        watch.told_the_time()
        assert eventually(lambda: watch.up("backbone"))
        monkeypatch.setattr(owner, method, fails)
        for n in range(3):
            bus(battery(0.0, 13.0 + n / 10, -5.0))
            assert eventually(lambda n=n: watch.reading("house voltage") == 13.0 + n / 10)  # type: ignore[misc]
            watch.next_minute()
            assert eventually(lambda n=n: len(watch.kept("house voltage")) == n + 1)  # type: ignore[misc]
        assert eventually(lambda: watch.troubles()["the watch stumbled"]["times"] >= 3)
        watch.daemon.submit(Command("note", "crew", {"text": "Odd."}))
        assert TestClient(create_app(watch.daemon), base_url="http://127.0.0.1").get("/").status_code == 200

        monkeypatch.undo()
        bus(battery(0.0, 13.9, -5.0))
        assert eventually(lambda: watch.reading("house voltage") == 13.9)
    stumbles = [r for r in caplog.records if "stumbled" in r.message]
    assert len(stumbles) == 1, "told once a minute, not with every reading"
    assert "a mistake of ours" in (stumbles[0].exc_text or "")


def test_a_wish_that_fails_is_answered_at_once(
    tmp_path: Path, virtual: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: Any) -> None:
        raise ZeroDivisionError

    with watching(tmp_path, virtual) as watch:
        monkeypatch.setattr(Pipeline, "command", fails)
        with pytest.raises(CommandError, match="could not do it"):
            watch.daemon.submit(Command("note", "crew", {"text": "Odd."}))
        assert eventually(lambda: "the watch stumbled" in watch.troubles())


# ---- beginning again


def a_full_charge() -> list[Frame]:
    """Twenty minutes at 13.9 V with a tail of 4 A, then ten at 30 A out; elapsed time from an hour on."""
    held = [battery(3600.0 + s, 13.9, 4.0) for s in range(1200)]
    drawn = [battery(4800.0 + s, 13.2, -30.0) for s in range(600)]
    return [f._replace(source="backbone") for f in held + drawn]


@pytest.fixture
def charged(tmp_path: Path, virtual: str) -> float:
    """A store whose boat has been full and drew 5 Ah; the charge that was told last."""
    clock = SkippingClock(3590.0)
    with watching(tmp_path, virtual, clock=clock, past=True) as watch:
        watch.told_the_time()
        watch.daemon.past(list(a_full_charge()))
        assert eventually(lambda: watch.daemon.now_s == 5399.0)
        clock.skip(1820.0)
        watch.daemon.begin()
        assert eventually(lambda: watch.told("charge_pct", "house") is not None)
        found = watch.told("charge_pct", "house")
    assert found is not None
    assert found == pytest.approx(97.5, abs=2)
    return found


@pytest.mark.parametrize(("boot", "number"), [("boot", 1), ("another", 2)])
def test_a_restart_goes_on_with_the_charge(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None], charged: float, boot: str, number: int
) -> None:
    clock = SkippingClock(5520.0 if boot == "boot" else 40.0)
    clock.began_utc_s += 0 if boot == "boot" else 5520
    with watching(tmp_path, virtual, clock=clock, boot=boot) as watch:
        watch.told_the_time()
        assert eventually(lambda: watch.up("backbone"))
        bus(battery(0.0, 13.2, -30.0))
        assert eventually(lambda: watch.reading("house voltage") == 13.2)
        watch.next_minute()
        assert eventually(lambda: len(watch.kept("house voltage")) == 1801)
        assert eventually(lambda: watch.told("charge_pct", "house") is not None)
        assert watch.told("charge_pct", "house") == pytest.approx(charged, abs=1.0)
        assert [b.number for b in watch.daemon.history().boots()] == list(range(1, number + 1))
        assert watch.daemon.latest().clock_trusted


def test_what_was_heard_last_is_kept_at_the_end(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None]
) -> None:
    with watching(tmp_path, virtual) as watch:
        watch.told_the_time()
        assert eventually(lambda: watch.up("backbone"))
        bus(battery(0.0, 13.3, -5.0))
        assert eventually(lambda: watch.source("backbone").heard == 1)

    with watching(tmp_path, virtual, boot="next") as again:
        assert again.kept("house voltage") == [13.3]


# ---- the store


def test_a_spoiled_store_is_set_aside_with_its_name_told(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None]
) -> None:
    (tmp_path / "boat.db").write_bytes(random.Random(3).randbytes(9000))
    with watching(tmp_path, virtual) as watch:
        watch.told_the_time()
        assert eventually(lambda: watch.up("backbone"))
        bus(battery(0.0, 13.3, -5.0))
        assert eventually(lambda: watch.reading("house voltage") == 13.3)
        name = watch.troubles()["store: set aside"]["name"]
        assert (tmp_path / name).stat().st_size == 9000
        watch.next_minute()
        assert eventually(lambda: watch.kept("house voltage") == [13.3])
        page = TestClient(create_app(watch.daemon), base_url="http://127.0.0.1").get("/").text
        assert name in page


def test_a_full_card_does_not_stop_the_watch(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite's own limit of pages stands in for the card: it fails the same way (SQLITE_FULL)."""
    monkeypatch.setattr(database, "_PRAGMAS", (*database._PRAGMAS, "PRAGMA max_page_count = 60"))
    rng = random.Random(9)
    clock = SkippingClock(3590.0)
    with watching(tmp_path, virtual, clock=clock, past=True) as watch:
        noise = [battery(3600.0 + s, rng.uniform(12, 14), rng.uniform(-90, 90)) for s in range(18_000)]
        for n in range(0, len(noise), 2000):
            watch.daemon.past([f._replace(source="backbone") for f in noise[n : n + 2000]])
        assert eventually(lambda: watch.daemon.now_s == 21_599.0 and "store: failing" in watch.troubles())
        clock.skip(18_010.0)
        watch.daemon.begin()
        assert eventually(lambda: watch.up("backbone"))
        bus(battery(0.0, 13.45, -5.0))
        assert eventually(lambda: watch.reading("house voltage") == 13.45)
        bus(pump(0.0, True))
        assert eventually(lambda: watch.reading("pressure pump running") == 1.0)
        watch.daemon.submit(Command("mode", "boat", {"place": "sailing"}))
        assert eventually(lambda: watch.daemon.latest().mode.place == "sailing")
        assert "full" in watch.troubles()["store: failing"]["why"]
        assert TestClient(create_app(watch.daemon), base_url="http://127.0.0.1").get("/").status_code == 200


def test_a_folder_that_is_not_there_does_not_stop_the_watch(
    tmp_path: Path, virtual: str, bus: Callable[[Frame], None]
) -> None:
    folder = tmp_path / "card"
    with watching(folder, virtual) as watch:
        assert eventually(lambda: watch.up("backbone"))
        watch.told_the_time()
        bus(battery(0.0, 13.3, -5.0))
        assert eventually(lambda: watch.reading("house voltage") == 13.3)
        assert "store: failing" in watch.troubles()
        folder.mkdir()
        watch.next_minute()
        assert eventually(lambda: (folder / "boat.db").exists() and watch.kept("house voltage") == [13.3])
