"""Through the whole watch: an alert of the pipeline's own goes out, and a restart takes up what waits."""

from pathlib import Path

import pytest

from monitor import daemon as daemon_module
from monitor.records import Command
from tests.brokers import Mosquitto
from tests.delivery.crew import listening
from tests.delivery.test_mqtt_way import WAY
from tests.live import VIRTUAL, SkippingClock, watching
from tests.sources.listening import eventually


@pytest.fixture(autouse=True)
def _brisk(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(daemon_module, "PUBLISH_EVERY_S", 0.05)
    monkeypatch.setattr(daemon_module, "LISTEN_S", 0.02)


def test_an_alert_goes_out_and_what_waits_outlives_a_restart(
    tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    broker = Mosquitto(tmp_path)
    source = VIRTUAL.format(request.node.name) + WAY.format(broker.port)
    clock = SkippingClock()
    with watching(tmp_path, source, clock=clock) as watch:
        watch.told_the_time()
        watch.daemon.submit(Command("try ways", "boat"))
        for _ in range(12):  # Nothing is heard of the bus for two minutes.
            clock.skip(10.0)
            at_s = clock.elapsed_s()
            assert eventually(lambda s=at_s: watch.daemon.latest().at_s >= s)  # type: ignore[misc]
        assert "source silent" in {a.rule for a in watch.daemon.latest().alerts}
        assert eventually(lambda: watch.daemon.latest().calls.ways[0].waiting >= 2)
        (way,) = watch.daemon.latest().calls.ways
        assert (way.name, way.kind, way.confirmed_utc_s) == ("broker", "mqtt", None)
    with broker, listening(broker.port) as crew, watching(tmp_path, source, clock=clock) as watch:
        assert crew.waits_for("alert/source-silent", subject="backbone", recorded=True, repeat=True)
        assert crew.waits_for("say/test", repeat=True)
        assert crew.waits_for("sound")
        assert eventually(lambda: watch.daemon.latest().calls.ways[0].waiting == 0)
        assert eventually(lambda: watch.daemon.latest().calls.ways[0].confirmed_utc_s is not None)
    with watching(tmp_path, source, clock=clock) as watch:
        assert watch.daemon.history().outbox() == []
