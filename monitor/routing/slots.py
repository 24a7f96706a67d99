"""Where readings wait for the minute to be closed, and who of several instruments holds a channel.

Where several report the same quantity of a subject, one holds the channel: the feed that stands
first in the settings, and of one feed's senders the one with the highest device priority. The
others are kept beside it as further opinions, and step in when the holder falls silent: so nothing
is ever counted twice.
"""

from array import array
from collections.abc import Callable
from math import inf, nan

from monitor.channels import Channel, channel
from monitor.plausibility import impossible
from monitor.records import Column, Reading, Reason


class Slot:
    """Where one channel's readings wait. Mutable on purpose: this is the hot path."""

    __slots__ = (
        "channel", "heard_at_s", "highest", "last", "lowest", "name", "times", "trouble", "values", "watch",
    )  # fmt: skip

    def __init__(self, measured: Channel) -> None:
        self.channel = measured
        self.name = measured.name
        self.lowest = measured.quantity.lowest
        self.highest = measured.quantity.highest
        self.times = array("d")
        self.values = array("d")
        self.last = nan
        self.heard_at_s = -inf
        """When it last said something: "not available" is no reading, however often it comes."""
        self.watch: Callable[[float, float], None] | None = None
        """Told every reading at once: for what cannot wait for the minute."""
        self.trouble: Reason | None = None
        """Why the latest impossible reading was refused."""

    def put(self, at_s: float, value: float) -> None:
        self.times.append(at_s)
        self.values.append(value)
        self.last = value
        if value == value:
            self.heard_at_s = at_s
        if self.watch is not None:
            self.watch(at_s, value)

    def drain(self) -> Column:
        """What was heard since the last time; the slot is empty then."""
        column = Column(self.times, self.values)
        self.times = array("d")
        self.values = array("d")
        return column


class Slots(dict[str, Slot]):
    """Every channel's slot by the channel's name."""

    def of(self, subject: str, quantity: str, opinion: int = 0) -> Slot:
        measured = channel(subject, quantity, opinion)
        if measured.name not in self:
            self[measured.name] = Slot(measured)
        return self[measured.name]

    def readings(self, at_s: float) -> dict[str, Reading]:
        """The newest of every channel that has ever said something."""
        found = {}
        for slot in self.values():
            if slot.heard_at_s > -inf:
                value = None if slot.last != slot.last else slot.last
                silent = at_s - slot.heard_at_s > slot.channel.quantity.silent_after_s
                found[slot.name] = Reading(slot.heard_at_s, value, silent)
        return found

    def further_opinion(self, main: Slot) -> Slot:
        """A new slot for one more instrument that reports what `main` reports."""
        measured, number = main.channel, 1
        while channel(measured.subject, measured.quantity.name, number).name in self:
            number += 1
        return self.of(measured.subject, measured.quantity.name, number)


class Contest:
    """Who holds a channel, of all that report it."""

    __slots__ = ("holder", "main", "patience_s", "slots")

    def __init__(self, main: Slot, slots: Slots) -> None:
        self.main = main
        self.slots = slots
        self.holder: Contestant | None = None
        self.patience_s = main.channel.quantity.silent_after_s


class Contestant:
    """One instrument's reports of one quantity. The lower `rank` has the better claim."""

    __slots__ = ("contest", "heard_at_s", "implausible", "offset", "own", "percent", "rank", "scale")

    def __init__(self, contest: Contest, rank: tuple[float, ...], scale: float, offset: float) -> None:
        self.contest = contest
        self.rank = rank
        self.scale = scale
        self.offset = offset
        self.own: Slot | None = None
        self.heard_at_s = -inf
        self.implausible = 0
        self.percent = False
        """It has shown that it speaks in percent, not in shares of 1."""

    def take(self, at_s: float, value: float | None) -> None:
        """Put a reading where it belongs. An impossible one becomes "not available"."""
        contest = self.contest
        main = contest.main
        if value is None:
            reading = nan
        else:
            reading = value * self.scale + self.offset
            if main.lowest <= reading <= main.highest:
                self.heard_at_s = at_s
            else:
                main.trouble = impossible(main.channel.quantity, reading)
                self.implausible += 1
                reading = nan
        holder = contest.holder
        if holder is self:
            main.put(at_s, reading)
        elif holder is None or self.rank < holder.rank or at_s - holder.heard_at_s > contest.patience_s:
            contest.holder = self
            main.put(at_s, reading)
        else:
            if self.own is None:
                self.own = contest.slots.further_opinion(main)
            self.own.put(at_s, reading)
