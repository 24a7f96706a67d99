"""From bytes on a bus to readings in channels: the settings' feeds, compiled once.

Every channel has a slot that collects its readings until the minute is closed. Where several
instruments report the same quantity of a subject, one of them holds the channel: the feed that
stands first in the settings, and of one feed's senders the one with the highest device priority.
The others are kept beside it as further opinions, and step in when the holder falls silent.
"""

from array import array
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from math import inf, nan
from typing import NamedTuple

from monitor.channels import QUANTITIES, Channel, Quantity
from monitor.channels import channel as channel_of
from monitor.errors import SettingsError, UndecodableError
from monitor.plausibility import impossible
from monitor.records import Column, Frame, Message, Reason
from monitor.settings import CanSource, Feed, MqttSource, RecordingSource, Settings
from monitor.wire import mqtt, nmea2000, rvc
from monitor.wire.dbc import DbcBook
from monitor.wire.devices import Devices
from monitor.wire.fast_packet import Assembler
from monitor.wire.identifier import split
from monitor.wire.layout import Layout

WATER_CODE = 1
"""The fluid type of fresh water in 127505."""
ADDRESS_CLAIM = 60928


class Slot:
    """Where one channel's readings wait for the minute to be closed. Mutable on purpose."""

    __slots__ = (
        "channel",
        "heard_at_s",
        "highest",
        "last",
        "lowest",
        "name",
        "times",
        "trouble",
        "values",
        "watch",
    )

    def __init__(self, channel: Channel) -> None:
        self.channel = channel
        self.name = channel.name
        self.lowest = channel.quantity.lowest
        self.highest = channel.quantity.highest
        self.times = array("d")
        self.values = array("d")
        self.last = nan
        self.heard_at_s = -inf
        self.watch: Callable[[float, float], None] | None = None
        self.trouble: Reason | None = None

    def put(self, at_s: float, value: float) -> None:
        self.times.append(at_s)
        self.values.append(value)
        self.heard_at_s = at_s
        self.last = value
        if self.watch is not None:
            self.watch(at_s, value)

    def drain(self) -> Column:
        """What was heard since the last time, and an empty slot."""
        column = Column(self.times, self.values)
        self.times = array("d")
        self.values = array("d")
        return column


class Contest:
    """Who holds a channel, of all that report the same quantity of the same subject."""

    __slots__ = ("holder", "main", "members", "patience_s")

    def __init__(self, main: Slot) -> None:
        self.main = main
        self.members: list[Contestant] = []
        self.holder: Contestant | None = None
        self.patience_s = main.channel.quantity.silent_after_s


class Contestant:
    """One instrument's reading of a quantity: where it goes depends on who holds the channel."""

    __slots__ = ("contest", "heard_at_s", "implausible", "offset", "own", "rank", "ratio", "scale")

    def __init__(self, contest: Contest, rank: tuple[float, ...], scale: float, offset: float) -> None:
        self.contest = contest
        self.rank = rank
        self.scale = scale
        self.offset = offset
        self.own: Slot | None = None
        self.heard_at_s = -inf
        self.implausible = 0
        self.ratio = False

    def take(self, at_s: float, value: float | None, slots: dict[str, Slot]) -> None:
        """Put a reading where it belongs. An impossible one becomes "not available"."""
        contest = self.contest
        main = contest.main
        if value is None:
            reading = nan
        else:
            reading = value * self.scale + self.offset
            if not main.lowest <= reading <= main.highest:
                main.trouble = impossible(main.channel.quantity, reading)
                self.implausible += 1
                reading = nan
            else:
                self.heard_at_s = at_s
        holder = contest.holder
        if holder is self:
            main.put(at_s, reading)
        elif holder is None or self.rank < holder.rank or at_s - holder.heard_at_s > contest.patience_s:
            contest.holder = self
            main.put(at_s, reading)
        else:
            if self.own is None:
                self.own = _opinion(contest, self, slots)
            self.own.put(at_s, reading)


def _opinion(contest: Contest, member: "Contestant", slots: dict[str, Slot]) -> Slot:
    """A slot of its own for an instrument that does not hold the channel."""
    main = contest.main.channel
    number = 1
    while (name := channel_of(main.subject, main.quantity.name, number).name) in slots:
        number += 1
    slots[name] = Slot(channel_of(main.subject, main.quantity.name, number))
    return slots[name]


class Bound(NamedTuple):
    """A feed of a subject, with the settings group and the key it stands under."""

    group: str
    subject: str
    feed: Feed
    rank: int
    key: str


@dataclass(slots=True)
class Counts:
    """What became of what a source sent."""

    samples: int = 0
    undecodable: int = 0
    unknown: int = 0
    old: int = 0
    """Retained messages that were not believed."""
    trouble: str = ""


@dataclass(slots=True)
class Route:
    """What to do with the frames of one identifier of one source."""

    layout: Layout
    address: int
    group: int
    bound: list[Bound]
    instance_at: int | None
    code_at: int | None
    priority_at: int | None
    time_at: tuple[int, int] | None
    plans: dict[tuple[float | None, float | None], tuple[tuple[int, Contestant], ...]] = field(
        default_factory=dict
    )


class Router:
    """Compiled from the settings. `on_time(at_s, utc_s, source)` is told every time of day heard."""

    def __init__(
        self, settings: Settings, on_time: Callable[[float, float, str], None] | None = None
    ) -> None:
        self.slots: dict[str, Slot] = {}
        self.counts: dict[str, Counts] = {}
        self._on_time = on_time
        self._contests: dict[tuple[str, str], Contest] = {}
        self._members: dict[tuple[str, str, int, int], Contestant] = {}
        self._routes: dict[tuple[str, int, bool], Route | DbcRoute | None] = {}
        self._assemblers: dict[str, Assembler] = {}
        self._devices: dict[str, Devices] = {}
        self._books: dict[str, DbcBook] = {}
        self._layouts: dict[str, dict[int, Layout]] = {}
        self._bound: dict[str, list[Bound]] = {}
        self._topics: dict[str, list[tuple[Bound, Contestant]]] = {}
        self._filters: dict[tuple[str, str], list[tuple[Bound, Contestant]]] = {}
        self._aliases: dict[str, str] = {}
        mistakes = [*self._open_sources(settings), *self._bind(settings)]
        if mistakes:
            raise SettingsError(mistakes)

    def _open_sources(self, settings: Settings) -> list[str]:
        mistakes = []
        for n, source in enumerate(settings.sources):
            self.counts[source.name] = Counts()
            self._aliases[source.name] = source.name
            if isinstance(source, MqttSource):
                continue
            layouts: dict[int, Layout] = {}
            if "nmea2000" in source.speaks:
                layouts |= nmea2000.LAYOUTS
            if "rvc" in source.speaks:
                layouts |= rvc.LAYOUTS
            self._layouts[source.name] = layouts
            self._assemblers[source.name] = Assembler()
            self._devices[source.name] = Devices()
            if isinstance(source, CanSource):
                self._aliases.setdefault(source.channel, source.name)
            if source.dbc is not None:
                try:
                    self._books[source.name] = DbcBook(source.dbc)
                except (OSError, ValueError, UndecodableError) as error:
                    mistakes.append(f"sources[{n}].dbc: {source.dbc}: {error}")
        return mistakes

    def _bind(self, settings: Settings) -> list[str]:
        mistakes: list[str] = []
        for key, subject in settings.subjects():
            group = key.split("[")[0]
            for n, feed in enumerate(subject.feeds):
                bound = Bound(group, subject.name, feed, n, f"{key}.feeds[{n}]")
                mistakes += self._bind_one(settings, bound)
        return mistakes

    def _bind_one(self, settings: Settings, bound: Bound) -> list[str]:
        feed = bound.feed
        source = next(s for s in settings.sources if s.name == feed.source)
        if isinstance(source, MqttSource) or feed.topic is not None:
            assert feed.topic is not None
            assert feed.quantity is not None
            entry = (bound, self._contestant(bound, feed.quantity, 0, 0, False))
            self._filters.setdefault((source.name, feed.topic), []).append(entry)
            self._topics.clear()
            return []
        self._bound.setdefault(source.name, []).append(bound)
        if feed.signal is not None:
            book = self._books.get(source.name)
            if book is None:
                return [f"{bound.key}.signal: {source.name!r} has no dbc file"]
            if feed.signal not in book.signals():
                known = ", ".join(sorted(book.signals()))
                return [f"{bound.key}.signal: {feed.signal!r} is not in the dbc file; there are: {known}"]
            return []
        layouts = self._layouts[source.name]
        if not any(takes(bound, layout) for layout in layouts.values()):
            known = ", ".join(sorted({layout.name for layout in layouts.values()}))
            return [f"{bound.key}: nothing {source.name!r} can hear fits it; its messages are: {known}"]
        return []

    def _contestant(
        self, bound: Bound, quantity: str, address: int, priority: int, out_positive: bool
    ) -> Contestant:
        key = (bound.key, quantity, address, priority)
        if key not in self._members:
            channel = channel_of(bound.subject, quantity)
            slot = self.slots.setdefault(channel.name, Slot(channel))
            contest = self._contests.setdefault((bound.subject, quantity), Contest(slot))
            sign = 1.0
            if quantity == "current" and bound.group == "banks":
                positive = bound.feed.positive or ("discharging" if out_positive else "charging")
                sign = 1.0 if positive == "charging" else -1.0
            rank = (bound.rank, -priority, len(contest.members))
            member = Contestant(contest, rank, sign * bound.feed.scale, bound.feed.offset)
            contest.members.append(member)
            self._members[key] = member
        return self._members[key]

    def source_name(self, name: str) -> str | None:
        """The source a recording's interface name stands for: its name, its channel, or the only one."""
        if name in self._aliases:
            return self._aliases[name]
        buses = list(self._layouts)
        return buses[0] if len(buses) == 1 else None

    def frame(self, frame: Frame) -> None:
        """Take one CAN frame. Nothing it may hold raises; what is wrong is counted."""
        key = (frame.source, frame.can_id, frame.extended)
        try:
            route = self._routes[key]
        except KeyError:
            route = self._routes[key] = self._find(frame)
        if route is None:
            name = self._aliases.get(frame.source, frame.source)
            self.counts.setdefault(name, Counts()).unknown += 1
            return
        counts = self.counts[self._aliases.get(frame.source, frame.source)]
        try:
            if isinstance(route, DbcRoute):
                self._take_signals(route, frame, counts)
            else:
                self._take_layout(route, frame, counts)
        except UndecodableError as error:
            counts.undecodable += 1
            counts.trouble = str(error)

    def _find(self, frame: Frame) -> "Route | DbcRoute | None":
        name = self.source_name(frame.source)
        if name is None or name not in self._layouts:
            return None
        self._aliases.setdefault(frame.source, name)
        book = self._books.get(name)
        if book is not None and book.knows(frame.can_id, frame.extended):
            return DbcRoute(book, self._signal_takers(name))
        if not frame.extended:
            return None
        _, group, address, _ = split(frame.can_id)
        layout = self._layouts[name].get(group)
        if layout is None:
            return None
        bound = [b for b in self._bound.get(name, []) if takes(b, layout) and self._from(b, name, address)]
        names = [f.name for f in layout.fields]
        at = {n: names.index(n) if n in names else None for n in ("instance", "code", "priority")}
        clock = (names.index("date"), names.index("time")) if {"date", "time"} <= set(names) else None
        return Route(layout, address, group, bound, at["instance"], at["code"], at["priority"], clock)

    def _signal_takers(self, source: str) -> dict[str, list[Contestant]]:
        takers: dict[str, list[Contestant]] = {}
        for bound in self._bound.get(source, []):
            if bound.feed.signal is not None and bound.feed.quantity is not None:
                member = self._contestant(bound, bound.feed.quantity, 0, 0, False)
                takers.setdefault(bound.feed.signal, []).append(member)
        return takers

    def _from(self, bound: Bound, source: str, address: int) -> bool:
        """Whether a feed wants this sender: any, one address, or one device by its NAME."""
        device = bound.feed.device
        if device is None:
            return True
        if len(device) == 2:
            return int(device, 16) == address
        return self._devices[source].name_of(address) == int(device, 16)

    def _take_signals(self, route: "DbcRoute", frame: Frame, counts: Counts) -> None:
        values = route.book.decode(frame.can_id, frame.extended, frame.data)
        for signal, value in (values or {}).items():
            for member in route.takers.get(signal, ()):
                member.take(frame.at_s, value, self.slots)
                counts.samples += 1

    def _take_layout(self, route: Route, frame: Frame, counts: Counts) -> None:
        layout = route.layout
        data: bytes | None = frame.data
        name = self._aliases[frame.source]
        if layout.number == ADDRESS_CLAIM:
            if self._devices[name].feed(route.address, frame.data):
                self._routes.clear()
            return
        if not route.bound and route.time_at is None:
            return
        if layout.fast:
            data = self._assemblers[name].feed(frame.at_s, route.address, route.group, frame.data)
            if data is None:
                return
        assert data is not None
        rows = layout.decode_all(data) if layout.repeats else (layout.decode(data),)
        at_s = frame.at_s
        for values in rows:
            instance = values[route.instance_at] if route.instance_at is not None else None
            code = values[route.code_at] if route.code_at is not None else None
            try:
                plan = route.plans[(instance, code)]
            except KeyError:
                plan = route.plans[(instance, code)] = self._plan(route, instance, code, values)
            for index, member in plan:
                member.take(at_s, values[index], self.slots)
            counts.samples += len(plan)
            if route.time_at is not None and self._on_time is not None:
                date, time = values[route.time_at[0]], values[route.time_at[1]]
                if date is not None and time is not None:
                    self._on_time(at_s, date * 86400.0 + time, name)

    def _plan(
        self,
        route: Route,
        instance: float | None,
        code: float | None,
        values: tuple[float | None, ...],
    ) -> tuple[tuple[int, Contestant], ...]:
        """Which field of this message goes to whom, for one instance and one code."""
        layout = route.layout
        priority = values[route.priority_at] if route.priority_at is not None else None
        plan = []
        for bound in route.bound:
            if not _fits(bound, layout, instance, code):
                continue
            for index, quantity in wanted(bound, layout):
                member = self._contestant(
                    bound, quantity, route.address, int(priority or 0), layout.current_out_positive
                )
                plan.append((index, member))
        return tuple(plan)

    def message(self, message: Message) -> None:
        """Take one MQTT message. Nothing it may hold raises; what is wrong is counted."""
        counts = self.counts.setdefault(message.source, Counts())
        try:
            takers = self._topics[message.topic]
        except KeyError:
            takers = self._topics[message.topic] = [
                entry
                for (_, topic), entries in self._filters.items()
                if mqtt.topic_matches(topic, message.topic)
                for entry in entries
            ]
        if not takers:
            counts.unknown += 1
        for bound, member in takers:
            feed = bound.feed
            if message.retained and not feed.retained:
                counts.old += 1
                continue
            try:
                value = mqtt.read(message.payload, feed.pointer, 1.0, 0.0)
                _refuse_ratio(bound, member, value)
                member.take(message.at_s, value, self.slots)
                counts.samples += 1
            except UndecodableError as error:
                counts.undecodable += 1
                counts.trouble = f"{message.topic}: {error}"

    def implausible(self) -> Mapping[str, int]:
        """How many impossible readings each source's instruments sent."""
        totals: dict[str, int] = {}
        for (key, *_), member in self._members.items():
            totals[key] = totals.get(key, 0) + member.implausible
        return totals


@dataclass(slots=True)
class DbcRoute:
    """A message of a DBC file and who takes its signals."""

    book: DbcBook
    takers: dict[str, list[Contestant]]


def takes(bound: Bound, layout: Layout) -> bool:
    """Whether a feed wants this kind of message at all."""
    feed = bound.feed
    if feed.signal is not None:
        return False
    if feed.indicator is not None:
        return layout.name == "switch bank"
    if feed.message is not None:
        return layout.name == feed.message
    return layout.subject == bound.group


def _fits(bound: Bound, layout: Layout, instance: float | None, code: float | None) -> bool:
    feed = bound.feed
    if feed.instance is not None and instance is not None and instance != feed.instance:
        return False
    if feed.code is not None:
        return code is None or code == feed.code
    if layout.name in ("fluid level", "tank status"):
        return code is None or code == WATER_CODE
    if layout.subject == "supplies":
        return code is None or code == 0
    return True


def wanted(bound: Bound, layout: Layout) -> Iterable[tuple[int, str]]:
    """The fields of a message that a feed takes, and the quantity each becomes."""
    feed = bound.feed
    if feed.indicator is not None:
        names = [f.name for f in layout.fields]
        yield names.index(f"indicator {feed.indicator}"), feed.quantity or "running"
        return
    for index, part in enumerate(layout.fields):
        if part.name in QUANTITIES and feed.quantity in (None, part.name):
            yield index, part.name


def _refuse_ratio(bound: Bound, member: Contestant, value: float | None) -> None:
    """A share sent as 0 to 1 where percent is expected would read as an empty tank: refuse it."""
    quantity: Quantity = member.contest.main.channel.quantity
    if value is None or quantity.unit != "%" or bound.feed.scale != 1.0 or member.ratio:
        return
    if value > 1.0:
        member.ratio = True  # it has shown that it speaks in percent
    elif value not in (0.0, 1.0):
        raise UndecodableError(
            f"{value:g} looks like a share of 1, not percent: set scale = 100 in {bound.key}"
        )


def sources_of(settings: Settings) -> list[CanSource | MqttSource | RecordingSource]:
    """The settings' sources, typed."""
    return list(settings.sources)
