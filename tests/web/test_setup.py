"""What the guide tells of places and sources that say nothing, on a clock that is moved by hand."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.survey.ear import Ear
from monitor.survey.guide import Guide
from monitor.survey.places import Place
from tests.bench_bus import GROUP, allow_multicast
from tests.brokers import Mosquitto, free_port
from tests.sources.listening import eventually
from tests.web.canned import canned
from web.presentation import setup_listen
from web.presentation.figures import reader_of

MINUTE_S = 61.0


class Hand:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def elapsed_s(self) -> float:
        return self.now_s

    def wall_s(self) -> float:
        return 1_790_812_800.0 + self.now_s


@pytest.fixture
def clock() -> Hand:
    return Hand()


@pytest.fixture
def guide(tmp_path: Path, clock: Hand) -> Iterator[Guide]:
    found = Guide(tmp_path / "boat.toml", {}, Ear(clock))
    yield found
    found.close()


def why(guide: Guide) -> list[str]:
    return [row.why for row in setup_listen.source_rows(reader_of(canned("well")), guide)]


def test_a_bus_that_says_nothing_for_a_minute_is_told_with_what_to_look_at(guide: Guide, clock: Hand) -> None:
    allow_multicast(GROUP)
    row = {"kind": "can", "interface": "udp_multicast", "channel": GROUP, "port": free_port()}
    guide.add_source({"name": "bus", **row})
    assert guide.ear.answers("bus", 15)
    assert why(guide) == [""]

    clock.now_s += MINUTE_S

    assert why(guide)[0].startswith(
        "Nothing heard on bus for 1\u00a0min. Is the bus switched on? Is its bit rate"
    )


def test_a_broker_that_refuses_and_one_that_says_nothing(guide: Guide, clock: Hand, tmp_path: Path) -> None:
    """mosquitto without anonymous users answers "Not authorized" (MQTT 3.1.1, 3.2.2.3, code 5)."""
    with Mosquitto(tmp_path) as quiet, Mosquitto(tmp_path, "allow_anonymous false") as closed:
        for name, port in (("quiet", quiet.port), ("closed", closed.port)):
            guide.add_source({"kind": "mqtt", "name": name, "host": "127.0.0.1", "port": port})
        assert guide.ear.answers("quiet", 15)
        assert eventually(lambda: "Not authorized" in why(guide)[1])
        clock.now_s += MINUTE_S
        assert why(guide)[0].startswith("The broker quiet answers, but nothing was heard for 1\u00a0min.")


def test_an_interface_that_is_down_and_none_at_all(guide: Guide, monkeypatch: pytest.MonkeyPatch) -> None:
    reader = reader_of(canned("well"))
    monkeypatch.setattr(setup_listen, "places", lambda: (Place("socketcan", "can0", False),))
    (found,) = setup_listen.listen(reader, guide).found
    assert "ip link set can0 up type can bitrate 250000 listen-only on" in found.down
    monkeypatch.setattr(setup_listen, "places", tuple)
    assert setup_listen.listen(reader, guide).found == ()
