"""Puts the parts together: sources, pipeline, store, ways out. The screens are handed it, not it them."""

import contextlib
import logging
import os
import queue
import socket
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from concurrent.futures import TimeoutError as TooLate
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from monitor.clock import Interval
from monitor.delivery.dispatcher import Dispatcher
from monitor.errors import CommandError, StorageError
from monitor.pipeline.account import account
from monitor.pipeline.preview import Preview, previews_of
from monitor.pipeline.watch import Pipeline
from monitor.records import Account, Command, Frame, Message, Notice, RuleChange, Snapshot
from monitor.settings import Settings
from monitor.sources.inbox import Inbox
from monitor.sources.open import open_sources
from monitor.storage.history import History
from monitor.storage.writer import Writer
from monitor.system_clock import Clock, network_time_synchronised
from monitor.worker import Worker

log = logging.getLogger("ebbwatch")
T = TypeVar("T")

LISTEN_S = 0.2
ANSWER_S = 1.0
FRAMES_WAITING = 20_000
TRUST_EVERY_S = 60.0
PUBLISH_EVERY_S = 1.0
COMPLAIN_EVERY_S = 60.0
"""A mistake that comes back with every reading must not fill the card with its story."""


class Daemon:
    """The watch as a whole: one thread that takes in and assesses, beside the sources' and writer's.

    It is what the screens are handed (`web.app.Watch`): `latest`, `history`, `account`, `previews`,
    `submit`.
    """

    def __init__(
        self, settings: Settings, clock: Clock, boot_id: str, *, simulated: str = "", past: bool = False
    ) -> None:
        """`simulated` says in words what is; with `past` a simulated past is fed before `begin`."""
        self.settings = settings
        self._clock = clock
        self._writer = Writer(settings.store.path, keep_full_days=settings.store.full_resolution_days)
        self._inbox = Inbox(FRAMES_WAITING)
        self._commands: queue.SimpleQueue[tuple[Command, Future[None]]] = queue.SimpleQueue()
        self._stopping = threading.Event()
        self._history = History(settings.store.path)
        self._worker = Worker()
        self._writer.open()
        boot = self._writer.begin_boot(boot_id)
        self._in_the_past = past
        self._complained_s = float("-inf")
        self._dispatcher = Dispatcher(settings, clock, self._writer, listening=not past)
        self._pipeline = Pipeline(
            settings,
            self._writer,
            boot,
            recorded=bool(simulated),
            simulated=simulated,
            teller=self._dispatcher,
        )
        self._attempt(self._look_back)
        self._sources = open_sources(settings, self._inbox, clock)
        self._thread = threading.Thread(target=self._watch, name="watch", daemon=True)
        self._latest = self._pipeline.snapshot(self.now_s)
        self._simulated = bool(simulated)
        self._trusted_s = float("-inf")

    def _look_back(self) -> None:
        with contextlib.suppress(StorageError):  # The writer tells of the card's troubles.
            self._pipeline.prefill(self._history, self._clock.elapsed_s())

    def _left_over(self) -> tuple[list[tuple[str, Notice]], Mapping[str, Any]]:
        """What the ways out had not delivered before the restart, and what is remembered of them."""
        try:
            return self._history.outbox(), self._history.recall()
        except StorageError:
            return [], {}

    def start(self) -> None:
        """Begin to watch. Returns at once."""
        for source in self._sources:
            source.start()
        self._dispatcher.start(*self._left_over())
        self._thread.start()

    def stop(self) -> None:
        """Stop listening, take what still waits, and leave the store whole."""
        for source in self._sources:
            source.stop()
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(10)
        self._inbox.close()
        self._attempt(lambda: self._pipeline.finish(None if self._in_the_past else self._clock.elapsed_s()))
        self._dispatcher.stop()
        self._writer.close()
        self._history.close()
        self._worker.close()

    def latest(self) -> Snapshot:
        return self._latest

    def history(self) -> History:
        """The store, opened for reading only."""
        return self._history

    def account(self, during: Interval) -> Account | None:
        """A span of the history explained with the loads that are known now; None where nothing was
        heard in it. Raises StorageError."""
        latest = self._latest
        return account(self._history, self.settings, latest.loads, during, latest.nights)

    def previews(self, change: RuleChange | None, during: Interval, rule: str = "") -> tuple[Preview, ...]:
        """What would have come of a rule, as it stands or with a change, for each subject: in the worker.

        Raises CommandError for what cannot be, StorageError, WorkerError.
        """
        crew, heads = self._latest.calls.changes, self._pipeline.water.ahead.use.heads
        path = self.settings.store.path
        return self._worker.run(previews_of, path, self.settings, crew, change, during, heads, rule)

    def apart(self, function: Callable[..., T], *args: Any) -> T:
        """What the function returns, given the store's path and `args`: in the worker. Raises WorkerError."""
        return self._worker.run(function, self.settings.store.path, *args)

    def submit(self, command: Command) -> None:
        """Hand over what the crew asked for. Raises CommandError if it is refused or not answered."""
        answer: Future[None] = Future()
        self._commands.put((command, answer))
        try:
            answer.result(ANSWER_S)
        except TooLate:
            raise CommandError("the watch is busy: it will be done as soon as it can") from None

    def past(self, batch: list[Frame | Message]) -> None:
        """Take in a stretch of a simulated past, waiting for room. Until `begin` no other time passes."""
        self._inbox.put("past", batch, wait=True)

    def begin(self) -> None:
        """The past is over: from here on time is the clock's."""
        self._in_the_past = False
        self._dispatcher.listen()

    @property
    def now_s(self) -> float:
        """The elapsed time that the watch has come to."""
        return self._pipeline.now_s if self._in_the_past else self._clock.elapsed_s()

    def _watch(self) -> None:
        notify("READY=1")
        published = float("-inf")
        while not self._stopping.is_set():
            self._listen(LISTEN_S)
            self._attempt(self._answer)
            if not self._in_the_past:
                self._attempt(self._let_time_pass)
            if time.monotonic() - published >= PUBLISH_EVERY_S:
                published = time.monotonic()
                self._attempt(self._publish)
                notify("WATCHDOG=1")
        self._listen(0.0)

    def _listen(self, timeout_s: float) -> None:
        for batch in self._inbox.take(timeout_s):
            waiting = iter(batch)
            while not self._attempt(partial(self._pipeline.intake, waiting)):
                pass  # What came after the stumble is taken all the same.

    def _attempt(self, step: Callable[[], object]) -> bool:
        """A mistake of ours must not end the watch: it is told, and the next reading counts.

        Whether it went well.
        """
        try:
            step()
        except Exception:
            self._pipeline.stumbled()
            if time.monotonic() - self._complained_s >= COMPLAIN_EVERY_S:
                self._complained_s = time.monotonic()
                log.exception("the watch stumbled and goes on")
            return False
        return True

    def _answer(self) -> None:
        while not self._commands.empty():
            command, answer = self._commands.get()
            now_s = self.now_s
            try:
                self._pipeline.command(command, now_s)
                answer.set_result(None)
            except CommandError as error:
                answer.set_exception(error)
            except Exception:
                answer.set_exception(CommandError("the watch could not do it: its log says more"))
                raise
            self._publish()

    def _let_time_pass(self) -> None:
        now_s = self.now_s
        self._pipeline.hear_of([s.health.snapshot() for s in self._sources], self._inbox.dropped)
        if now_s - self._trusted_s >= TRUST_EVERY_S and not self._simulated:
            self._trusted_s = now_s
            if network_time_synchronised():
                self._pipeline.network_time(now_s, self._clock.wall_s())
        self._pipeline.tick(now_s)

    def _publish(self) -> None:
        self._latest = self._pipeline.snapshot(self.now_s)
        self._dispatcher.look(self._latest)


def notify(state: str) -> None:
    """Tell the service manager, where there is one (the sd_notify(3) datagram)."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.connect("\0" + address[1:] if address.startswith("@") else address)
        line.send(state.encode())


def kernel_boot_id() -> str:
    """The kernel's name for this boot: elapsed time is only comparable within it."""
    return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
