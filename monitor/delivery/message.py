"""The message way: letters to one address, by whatever service apprise knows."""

import json
import sys
from typing import Any

from monitor.delivery import postman
from monitor.delivery.desk import Desk
from monitor.delivery.letters import letter
from monitor.delivery.program import run
from monitor.delivery.way import IDLE_S, Outbox, WayThread
from monitor.errors import DeliveryError
from monitor.records import CALLS, Notice, Severity
from monitor.settings import MessageWay

PATIENCE_S = 45.0
"""A letter that is not taken within this is tried again."""


class MessageWayThread(WayThread):
    """`address` None: its file cannot be read, because of `why`."""

    several = True
    settings: MessageWay

    def __init__(
        self,
        settings: MessageWay,
        desk: Desk,
        outbox: Outbox,
        address: str | None,
        why: str = "",
        **options: Any,
    ) -> None:
        super().__init__(settings, desk, outbox, **options)
        self._address, self._why = address, why
        self._trouble = why if address is None else ""
        self._dropped_told = 0

    def _is_mine(self, notice: Notice) -> bool:
        """A letter for what calls somebody, and for how an alarm came to its end: all else is on the page."""
        calls = notice.what in CALLS and notice.state == "active"
        ends = notice.severity is Severity.ALARM and notice.what in ("acknowledged", "went", "ended")
        return super()._is_mine(notice) and (notice.kind != "alert" or calls or ends)

    def _carry(self) -> None:
        while not self._stopping.is_set():
            parcel = self._next()
            if not parcel:
                self._news.wait(IDLE_S)
                continue
            self._tray.trying(parcel)
            dropped = self._tray.dropped
            written = letter(parcel, self._desk.boat, self._desk.dress, dropped=dropped - self._dropped_told)
            if self._send(written.subject, written.body):
                self._dropped_told = dropped
                self._confirmed(parcel)

    def _send(self, subject: str, body: str) -> bool:
        """Whether the service has taken it; False where the watch stops meanwhile."""
        if self._address is None:
            raise DeliveryError(self._why)
        given = json.dumps({"address": self._address, "subject": subject, "body": body}).encode()
        argv = [sys.executable, "-P", "-m", postman.__name__]
        try:
            code = run(argv, timeout_s=PATIENCE_S, given=given, wanted=lambda: not self._stopping.is_set())
        except DeliveryError as error:
            raise DeliveryError(f"the service does not answer within {PATIENCE_S:g} s") from error
        if code == postman.NOT_UNDERSTOOD:
            raise DeliveryError("apprise does not understand the address")
        if code:
            raise DeliveryError("the service does not take it")
        return code == 0


def addresses(text: bytes) -> list[str]:
    """One a line; empty lines and those that begin with # are none."""
    lines = (line.strip() for line in text.decode("utf-8", "replace").splitlines())
    return [line for line in lines if line and not line.startswith("#")]
