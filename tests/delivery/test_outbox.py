"""What waits for the ways lies on the card, in order, and outlives the process, however that ends."""

import multiprocessing
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from monitor.delivery.dispatcher import Dispatcher
from monitor.records import Notice, Reason
from monitor.storage.history import History
from monitor.storage.writer import Writer
from tests.brokers import Mosquitto
from tests.delivery.crew import HandClock, alert, listening, settings, snapshot
from tests.delivery.lives import COUNT, hand_over
from tests.delivery.test_mqtt_way import WAY
from tests.sources.listening import eventually
from tests.storage.minutes import change, opened


def test_notices_come_back_as_they_were_in_order(tmp_path: Path) -> None:
    path, writer = tmp_path / "boat.db", opened(tmp_path / "boat.db")
    said = Notice("morning/1/5.000", "morning", 5.0, None, Reason("way tried", {"litres": 1.5, "none": None}))
    odd = replace(alert(2, subject="<b>\n\"' ø"), recorded=False, second=True)
    writer.post("one", [alert(1), odd])
    writer.post("two", [alert(1)])
    writer.post("one", [said, alert(1)])
    writer.delivered("two", [alert(1).id])
    assert writer.flush(30)

    with closing(History(path)) as history:
        assert history.outbox() == [("one", alert(1)), ("one", odd), ("one", said)]
    writer.close()


def test_they_follow_the_alert_in_one_stream(tmp_path: Path) -> None:
    """What is handed to the writer after an alert is never on the card before it."""
    writer = opened(tmp_path / "boat.db")
    assert writer.boot is not None
    writer.alerts([change(writer.boot)], 0.0)
    writer.post("one", [alert(1)])
    assert writer.flush(30)
    with closing(History(tmp_path / "boat.db")) as history:
        assert len(history.alert_changes()) == len(history.outbox()) == 1
    writer.close()


def test_a_notice_of_another_version_is_left_behind(tmp_path: Path) -> None:
    writer = opened(tmp_path / "boat.db")
    writer.post("one", [alert(1)])
    writer.close()
    with closing(sqlite3.connect(tmp_path / "boat.db")) as connection:
        connection.execute("INSERT INTO outbox (way, id, notice) VALUES ('one', 'x', '{\"odd\": 1}')")
        connection.commit()

    with closing(History(tmp_path / "boat.db")) as history:
        assert history.outbox() == [("one", alert(1))]


def test_kill_9_loses_nothing_of_what_was_handed_over(tmp_path: Path) -> None:
    """Killed in the midst of delivering; the next process delivers the rest. What was on its way may come
    twice, with the same id; nothing is missing."""
    path = tmp_path / "boat.db"
    with Mosquitto(tmp_path) as broker, listening(broker.port) as crew:
        context = multiprocessing.get_context("forkserver")
        context.set_forkserver_preload(["tests.delivery.lives"])
        heard, telling = context.Pipe(duplex=False)
        process = context.Process(target=hand_over, args=(path, WAY.format(broker.port), telling))
        process.start()
        telling.close()
        with closing(heard):
            assert heard.poll(30)
            assert heard.recv(), "all of it is on the card"
        process.kill()
        process.join()
        process.close()

        writer, history, clock = Writer(path), History(path), HandClock()
        writer.open()
        writer.begin_boot("second")
        left = history.outbox()
        dispatcher = Dispatcher(settings(WAY.format(broker.port)), clock, writer, first_retry_s=0.02)
        dispatcher.start(left, history.recall())
        dispatcher.look(snapshot(clock.at_s))
        assert eventually(lambda: dispatcher.ways()[0].waiting == 0)
        assert crew.waits_for("alert", 1, id=left[-1][1].id) if left else True
        dispatcher.stop()
        assert writer.flush(30)
        assert history.outbox() == []
        writer.close()
        history.close()

        expected = [alert(n).id for n in range(COUNT)]
        assert eventually(lambda: set(expected) <= {p["id"] for p in crew.of("alert")})
        assert list(dict.fromkeys(p["id"] for p in crew.of("alert"))) == expected
