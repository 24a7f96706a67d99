"""From an empty settings file to a watch that assesses: the guide driven over HTTP, Marram speaking on real
buses, and a daemon built from what was written. Nobody sleeps: her life is told as fast as it goes."""

import json
import tomllib
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from monitor.commands.understand import understood
from monitor.daemon import Daemon
from monitor.settings_writer import unset
from monitor.survey.ear import Ear
from monitor.survey.guide import Guide, draft_file, first_settings
from monitor.system_clock import SystemClock
from simulators.voyage import BACKBONE, BATTERY_BUS
from tests.brokers import free_port
from tests.sources.listening import eventually
from tests.survey.aboard import Aboard, aboard, id_of, past
from web.app import create_app
from web.setup_pages import setup_pages

URL = "http://127.0.0.1:8080"
HOSTILE = '<script>alert("x")</script>'


class Guided:
    """The guide as `ebbwatch run` would serve it."""

    def __init__(self, path: Path) -> None:
        self.guide = Guide(path, unset(path) or {}, Ear(SystemClock()))
        self.daemon = Daemon(first_settings(self.guide), SystemClock(), "guide")
        self.written: list[bool] = []
        app = create_app(self.daemon)
        setup_pages(app, self.daemon, self.guide, lambda: self.written.append(True))
        self.client = TestClient(app, base_url=URL, headers={"Origin": URL})

    def page(self, path: str, status: int = 200, /) -> str:
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return answer.text

    def say(self, path: str, status: int = 200, /, **form: str) -> str:
        answer = self.client.post(path, data=form)
        assert answer.status_code == status, answer.text
        return answer.text

    def close(self) -> None:
        self.client.close()
        self.daemon.stop()
        self.guide.close()


@pytest.fixture
def marram(tmp_path: Path) -> Iterator[Aboard]:
    with aboard(tmp_path) as found:
        yield found


@pytest.fixture
def guided(tmp_path: Path) -> Iterator[Guided]:
    (tmp_path / "boat.toml").write_text("")
    found = Guided(tmp_path / "boat.toml")
    yield found
    found.close()


def test_from_an_empty_file_to_a_watch_that_assesses(guided: Guided, marram: Aboard, tmp_path: Path) -> None:
    for path in ("/", "/power", "/fit-out", "/nowhere"):
        answer = guided.client.get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/setup")
    assert "Which language shall she speak?" in guided.page("/setup")
    guided.say("/setup/boat/language", value="en")
    guided.say("/setup/boat/name", value=" Marram  of the ría ")
    guided.say("/setup/boat/crew", value="3")
    assert "Where shall she listen?" in guided.say("/setup/boat/zone", value="Europe/Madrid")
    for source in marram.sources():
        guided.say("/setup/listen/add", **source)

    def heard() -> str:
        marram.say()
        return guided.page("/setup/heard")

    wanted = ("Battery 0", "Tank 0: fresh water", "Tank 1: fresh water", "Switch 1 of bank 0", "Pack.Voltage",
              "marram/panels /power", "Pressure 0: water")  # fmt: skip
    assert eventually(lambda: all(f"<b>{one}</b>" in heard() for one in wanted))

    def bind(called: str, what: str, **form: str) -> None:
        thing = id_of(guided.page("/setup/heard"), called)
        assert "What it says now" in guided.page(f"/setup/bind?thing={thing}&what={what}")
        guided.say("/setup/bind", thing=thing, what=what, **form)

    bind(
        "Battery 0",
        "house",
        name="house",
        chemistry="lifepo4",
        system="12",
        capacity_Ah="460",
        reserve_pct="20",
    )
    bind("Pack.Voltage", "of:house", quantity="voltage", scale="1")
    bind("Tank 0: fresh water", "tank", name="forward", capacity_L="165", unusable_L="8")
    bind("Tank 1: fresh water", "tank", name="midship", capacity_L="260", unusable_L="10")
    bind("Switch 1 of bank 0", "pump", name="pressure pump", flow_L_per_min="11")
    bind("Pressure 0: water", "of:pressure pump")
    sun = {"quantity": "power", "scale": "1", "kind": "sun", "into": "house", "rated_A": ""}
    bind("marram/panels /power", "charger", name="panels", **sun)

    heard_now = guided.page("/setup/heard")
    assert heard_now.count("This is house") == 2
    assert heard_now.count("This is forward") == 1
    end = guided.page("/setup/end")
    assert "No temperature near the pipes" in end
    assert "of the house bank" not in end
    assert "No level of a tank" not in end
    assert "boat.toml.before-" in end
    answer = guided.client.post("/setup/end", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert guided.written == [True]
    assert not draft_file(tmp_path / "boat.toml").exists()

    settings = understood(tmp_path / "boat.toml")
    assert settings.boat.name == "Marram of the ría"
    assert [s.name for s in settings.sources] == ["bus", "bus 2", "broker"]
    store = settings.store.model_copy(update={"path": tmp_path / "assessed.db"})
    daemon = Daemon(
        settings.model_copy(update={"store": store}), SystemClock(), "x", simulated="Marram", past=True
    )
    daemon.start()
    try:
        names = {BACKBONE: "bus", BATTERY_BUS: "bus 2", "broker": "broker"}
        life = past(names, 3)
        while batch := list(islice(life, 2000)):
            daemon.past(batch)
        known = daemon.latest

        def assessed() -> bool:
            made = {key for key, e in known().estimates.items() if e.value is not None}
            return {("tank_L", "forward"), ("tank_L", "midship"), ("run_starts", "pressure pump")} <= made

        assert eventually(assessed, 120), sorted(known().estimates)
        snapshot = known()
        assert ("charge_pct", "house") in snapshot.estimates
        assert {"house voltage", "house voltage (opinion 2)", "panels power"} <= set(snapshot.values)
    finally:
        daemon.stop()


def test_a_power_cut_loses_nothing(guided: Guided, marram: Aboard, tmp_path: Path) -> None:
    guided.say("/setup/boat/language", value="en")
    guided.say("/setup/boat/name", value="Tern")
    guided.say("/setup/listen/add", **marram.sources()[2])
    guided.close()

    again = Guided(tmp_path / "boat.toml")
    try:
        assert again.guide.boat == {"language": "en", "name": "Tern"}
        assert "How many are usually aboard?" in again.page("/setup")
        assert f"127.0.0.1:{marram.broker_port}" in again.page("/setup/listen")
    finally:
        again.close()


def test_a_damaged_draft_is_put_aside_and_told(tmp_path: Path) -> None:
    draft_file(tmp_path / "boat.toml").write_text("{")
    guided = Guided(tmp_path / "boat.toml")
    try:
        assert "boat.toml.draft.damaged" in guided.page("/setup/boat/name")
        assert (tmp_path / "boat.toml.draft.damaged").read_text() == "{"
    finally:
        guided.close()


def test_mistakes_are_named_and_what_was_typed_stays(guided: Guided, marram: Aboard) -> None:
    assert "boat.crew" in guided.say("/setup/boat/crew", 422, value="many")
    assert 'value="many"' in guided.say("/setup/boat/crew", 422, value="many")
    assert "boat.name" in guided.say("/setup/boat/name", 422, value="")
    assert "Nothing is named yet" in guided.say("/setup/end", 409)
    told = guided.say("/setup/listen/add", 422, kind="recording", path="x.log", dbc="no.dbc")
    assert "no.dbc" in told
    guided.say("/setup/listen/add", **marram.sources()[0])

    def heard() -> str:
        marram.say()
        return guided.page("/setup/heard")

    assert eventually(lambda: "<b>Tank 1: fresh water</b>" in heard())
    page = guided.page("/setup/heard")
    tank = id_of(page, "Tank 0: fresh water")
    told = guided.say(
        "/setup/bind", 422, thing=tank, what="tank", name="bus", capacity_L="much", unusable_L="0"
    )
    assert "bus is the name of something else already" in told
    assert "It holds: expected a number, got much" in told
    told = guided.say(
        "/setup/bind", 422, thing=tank, what="tank", name="bow", capacity_L="10", unusable_L="20"
    )
    assert "unusable_L must be less than capacity_L" in told
    guided.say("/setup/bind", thing=tank, what="tank", name="bow", capacity_L="165,5", unusable_L="0")
    assert guided.guide.rows("tanks")[0]["capacity_L"] == 165.5
    assert "take that away first" in guided.say("/setup/listen/away", 409, source="bus")
    guided.say("/setup/unbind", name="bow")
    guided.say("/setup/listen/away", source="bus")
    assert guided.guide.rows("sources") == []
    assert "not heard any more" in guided.page(f"/setup/bind?thing={tank}", 404)


def test_a_broker_that_is_not_there_is_told_exactly(guided: Guided) -> None:
    port = free_port()
    told = guided.say("/setup/listen/add", kind="mqtt", host="127.0.0.1", broker_port=str(port))
    assert "broker does not answer" in told
    assert f"127.0.0.1:{port}: " in told
    assert "Connection refused" in told


def test_a_typed_password_stands_in_a_file_of_its_own(guided: Guided, marram: Aboard, tmp_path: Path) -> None:
    form = {**marram.sources()[2], "username": "tern", "password": "a secret"}
    guided.say("/setup/listen/add", **form)
    file = tmp_path / "broker.password"
    assert file.read_text() == "a secret"
    assert file.stat().st_mode & 0o077 == 0
    assert "a secret" not in guided.guide.text() + draft_file(tmp_path / "boat.toml").read_text()
    assert guided.guide.rows("sources")[0]["password_file"] == "broker.password"


def test_hostile_topics_are_shown_as_text_and_a_thousand_are_searched(guided: Guided, marram: Aboard) -> None:
    import paho.mqtt.publish as publish

    guided.say("/setup/listen/add", **marram.sources()[2])
    said: list[Any] = [{"topic": f"boat/{n}/voltage", "payload": "12.8"} for n in range(1000)]
    said += [{"topic": HOSTILE, "payload": json.dumps({HOSTILE: 1, "a": HOSTILE})}]
    publish.multiple(said, port=marram.broker_port)

    assert eventually(lambda: len(guided.guide.ear.hearing.things()) >= 1001)
    page = guided.page("/setup/heard?find=script")
    assert HOSTILE not in page
    assert "&lt;script&gt;" in page
    assert "940 more" in guided.page("/setup/heard?find=voltage")
    assert "<b>boat/999/voltage</b>" in guided.page("/setup/heard?find=boat/999")
    thing = id_of(page, page.split("<b>")[1].split("</b>")[0])
    guided.say(
        "/setup/bind",
        thing=thing,
        what="instrument",
        quantity="voltage",
        scale="1",
        name=HOSTILE.replace("/", ""),
    )
    assert "<script>alert" not in guided.page("/setup/end") + guided.page("/setup/heard")
    assert tomllib.loads(guided.guide.text())["instruments"][0]["feeds"][0]["topic"] == HOSTILE


def test_a_disk_that_takes_nothing_is_told_and_the_answers_stay(
    guided: Guided, marram: Aboard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """EROFS as a read-only disk says it (errno(3))."""
    guided.say("/setup/listen/add", **marram.sources()[0])

    def heard() -> bool:
        marram.say()
        return "<b>Battery 0</b>" in guided.page("/setup/heard")

    assert eventually(heard)

    def refuse(*_: object, **__: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    thing = id_of(guided.page("/setup/heard"), "Battery 0")
    house = {
        "name": "house",
        "chemistry": "lifepo4",
        "system": "12",
        "capacity_Ah": "100",
        "reserve_pct": "20",
    }
    told = guided.say("/setup/bind", thing=thing, what="house", turned="yes", **house)
    assert "cannot be kept on the disk" in told
    assert guided.guide.rows("banks")[0]["feeds"][0]["positive"] == "discharging"
    assert "cannot be written: Read-only file system" in guided.say("/setup/end", 409)
    assert guided.written == []
    monkeypatch.undo()
    assert guided.client.post("/setup/end", follow_redirects=False).status_code == 303
