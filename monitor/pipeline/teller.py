"""What the pipeline asks of the ways out to the crew, so that replay and tests need none."""

from collections.abc import Sequence
from typing import Protocol

from monitor.records import Notice, Way


class Teller(Protocol):
    """Hands notices to every way out (`monitor.delivery`). No call waits."""

    def post(self, notices: Sequence[Notice]) -> None:
        """Give them to the card, where each is kept until its way has confirmed it."""

    def hand(self, notices: Sequence[Notice]) -> None:
        """Deliver them, in order: they have been posted."""

    def ways(self) -> tuple[Way, ...]:
        """How each way stands."""


class Nobody:
    """No way out: replay, and a boat that has set none."""

    def post(self, notices: Sequence[Notice]) -> None:
        """Nobody is there."""

    def hand(self, notices: Sequence[Notice]) -> None:
        """Nobody is there."""

    def ways(self) -> tuple[Way, ...]:
        return ()
