"""A watch's ways out in a process of its own, to be killed."""

import threading
from multiprocessing.connection import Connection
from pathlib import Path

from monitor.delivery.dispatcher import Dispatcher
from monitor.storage import schema  # noqa: F401  (loaded before the fork, so that each start is quick)
from monitor.storage.writer import Writer
from tests.delivery.crew import HandClock, alert, settings, snapshot

COUNT = 600


def hand_over(path: Path, ways: str, told: Connection) -> None:
    """Hands over a flood, says when all of it is on the card, and goes on until it is killed."""
    writer, clock = Writer(path), HandClock()
    writer.open()
    writer.begin_boot("first")
    dispatcher = Dispatcher(settings(ways), clock, writer, first_retry_s=0.02)
    dispatcher.start()
    dispatcher.look(snapshot(clock.at_s))
    for n in range(COUNT):
        dispatcher.hand([alert(n)])
    told.send(writer.flush(30))
    threading.Event().wait()
