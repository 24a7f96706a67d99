"""The loads aboard, learned each morning from the night that is over, and named when the crew says so."""

from collections.abc import Mapping
from typing import Any

from monitor.clock import Interval
from monitor.errors import CommandError
from monitor.estimation.ledger import STANDING
from monitor.estimation.loads.book import LoadBook
from monitor.estimation.loads.naming import Named
from monitor.estimation.unusual import UNEXPLAINED
from monitor.pipeline.explain import Runs, Samples, house_trace, known_loads, shared, without
from monitor.pipeline.memory import Memory
from monitor.records import Command, LoadKind
from monitor.settings import Settings

LONGEST_NAME = 40
OWN_NAMES = (STANDING, UNEXPLAINED, "made")
LEAST_HEARD = 0.3
"""A night of which less was heard, as a share, teaches nothing."""


class Naming:
    """Owns the book of loads."""

    wishes = ("load",)

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._settings = settings
        self.book = LoadBook()
        self.changed = False
        """Whether what is known has changed since it was last remembered."""
        memory.restore("loads", self.book.restore)

    @property
    def kinds(self) -> tuple[LoadKind, ...]:
        return self.book.kinds

    def name(self, source: Samples, during: Interval, runs: Runs, *, learn: bool) -> Named | None:
        """A night shared out; None where too little of it was heard. `learn`, once it is over."""
        trace = house_trace(source, self._settings, during)
        part = trace.part(*during)
        if (part.watts == part.watts).sum() * trace.step_s < LEAST_HEARD * during.seconds:
            return None
        known = known_loads(source, self._settings, trace, during, runs)
        if learn:
            self.book.learn(without(trace, known), during)
            self.changed = True
        return shared(trace, self.book.kinds, during, known)

    def wish(self, command: Command) -> None:
        """The crew names a load, or withdraws its name. Raises CommandError."""
        name = str(command.facts.get("name", "")).strip()
        if len(name) > LONGEST_NAME:
            raise CommandError("the name is longer than {most:count} characters", most=LONGEST_NAME)
        if name.lower() in OWN_NAMES:
            raise CommandError("{name!r} is a line of the ledger itself: another name is wanted", name=name)
        if not self.book.label(command.subject, name):
            raise CommandError("no load is known as {load!r}", load=command.subject)
        self.changed = True

    def state(self) -> Mapping[str, Any]:
        """What must outlive a restart."""
        self.changed = False
        return self.book.state()
