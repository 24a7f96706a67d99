"""Alerts: judged, kept on the card before they are told, and acknowledged."""

from collections.abc import Mapping
from dataclasses import replace

from monitor.alerts.book import AlertBook
from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.clock import Boot
from monitor.pipeline.memory import Memory
from monitor.pipeline.recorder import Recorder
from monitor.records import AlertChange, OpenAlert

PATIENCE_S = 1.0
"""An alert that is not on the card by then is told all the same, as not recorded."""


class Judgement:
    """The book of alerts and the store it stands in."""

    def __init__(self, writer: Recorder, memory: Memory) -> None:
        self._writer = writer
        self._book = AlertBook()
        memory.restore("alerts", self._book.restore)

    def judge(self, boot: int, facts: Facts) -> None:
        self._persist(self._book.step(boot, facts.at_s, findings(facts)))

    def acknowledge(self, alert: str, boot: int, at_s: float) -> None:
        """Raises CommandError where there is nothing to acknowledge."""
        self._persist([self._book.acknowledge(alert, boot, at_s)])

    def _persist(self, changes: list[AlertChange]) -> None:
        """The book is remembered first: a kill in between loses no alert that is on the card."""
        if not changes:
            return
        self._writer.remember("alerts", self._book.state())
        patience_s = PATIENCE_S
        for change in changes:
            recorded = self._writer.alert(change, patience_s)
            self._book.record(change.alert, recorded)
            if not recorded:
                patience_s = 0.0

    def open(self, here: Boot, others: Mapping[int, Boot], started_s: float) -> tuple[OpenAlert, ...]:
        """Those that still want somebody, with the time they began at as this boot would count it.

        One that began in a boot that has no place in time is shown from the start of the watch.
        """
        found = []
        for alert in self._book.open():
            boot, since_s = self._book.began(alert.alert)
            if boot != here.number:
                utc_s = others[boot].utc_s(since_s) if boot in others else None
                counted_s = here.elapsed_s(utc_s) if utc_s is not None else None
                since_s = started_s if counted_s is None else counted_s
            found.append(replace(alert, since_s=since_s))
        return tuple(found)
