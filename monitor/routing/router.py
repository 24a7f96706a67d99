"""Takes frames and messages to the slots of their channels, by plans made once for each identifier."""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import inf

from monitor.clock import DAY_S
from monitor.errors import SettingsError, UndecodableError
from monitor.records import Frame, Message
from monitor.routing.binding import Bound, fits, refuse_share, scale_of, takes, topic_mistakes, wanted
from monitor.routing.slots import Contest, Contestant, Slots
from monitor.settings import CanSource, MqttSource, Settings
from monitor.wire import mqtt, nmea2000, rvc
from monitor.wire.dbc import DbcBook
from monitor.wire.devices import Devices
from monitor.wire.fast_packet import Assembler, Stream
from monitor.wire.identifier import split
from monitor.wire.layout import Layout

ADDRESS_CLAIM = 60928
TROUBLE_TOLD_S = 3600.0
Plan = tuple[tuple[int, Contestant], ...]


@dataclass(slots=True)
class Counts:
    """What became of what a source sent."""

    heard: int = 0
    heard_at_s: float = -inf
    samples: int = 0
    undecodable: int = 0
    unknown: int = 0
    implausible: int = 0
    retained: int = 0
    """Retained messages that were not believed: nobody knows how old they are."""
    trouble: str = ""
    trouble_at_s: float = -inf

    def complain(self, at_s: float, text: str) -> None:
        """Something could not be read: counted, and told for a while."""
        self.undecodable += 1
        self.trouble, self.trouble_at_s = text, at_s

    def told(self, at_s: float) -> str:
        """The latest trouble, as long as it is fresh."""
        return self.trouble if at_s - self.trouble_at_s <= TROUBLE_TOLD_S else ""


@dataclass(slots=True)
class Bus:
    """What is known of one CAN source."""

    name: str
    layouts: dict[int, Layout]
    book: DbcBook | None = None
    bound: list[Bound] = field(default_factory=list)
    counts: Counts = field(default_factory=Counts)
    assembler: Assembler = field(default_factory=Assembler)
    devices: Devices = field(default_factory=Devices)
    takers: dict[str, list[Contestant]] = field(default_factory=dict)


@dataclass(slots=True)
class Route:
    """What to do with the frames of one identifier. `layout` None: the bus's own DBC file has it."""

    bus: Bus
    layout: Layout | None
    address: int = 0
    bound: list[Bound] = field(default_factory=list)
    plans: dict[tuple[float | None, float | None], Plan] = field(default_factory=dict)
    instance_at: int | None = None
    code_at: int | None = None
    time_at: tuple[int, int] | None = None
    stream: Stream | None = None


class Router:
    """Compiled from the settings; raises SettingsError for feeds that bind to nothing.

    `on_time(at_s, utc_s, source)` is told every time of day that is heard.
    """

    def __init__(
        self, settings: Settings, on_time: Callable[[float, float, str], None] | None = None
    ) -> None:
        self.slots = Slots()
        self.counts: dict[str, Counts] = {}
        self._on_time = on_time
        self._contests: dict[str, Contest] = {}
        self._members: dict[tuple[str, str, int, int], Contestant] = {}
        self._member_source: dict[tuple[str, str, int, int], str] = {}
        self._buses: dict[str, Bus] = {}
        self._heard_as: dict[str, Bus | None] = {}
        self._routes: dict[tuple[str, int, bool], Route | None] = {}
        self._filters: list[tuple[str, Bound, Contestant]] = []
        self._topics: dict[tuple[str, str], list[tuple[Bound, Contestant]]] = {}
        self._brokers: list[str] = []
        self._deaf: set[str] = set()
        """The sources that never bring a message."""
        self._bookless: set[str] = set()
        """The buses whose DBC file cannot be read: told once, not for each signal."""
        mistakes = self._open_books(settings)
        for key, subject in settings.subjects():
            for n, feed in enumerate(subject.feeds):
                bound = Bound(key.split("[")[0], subject.name, feed, n, f"{key}.feeds[{n}]")
                mistakes += self._bind(bound)
        if mistakes:
            raise SettingsError(mistakes)

    def _open_books(self, settings: Settings) -> list[str]:
        mistakes = []
        for n, source in enumerate(settings.sources):
            counts = self.counts[source.name] = Counts()
            if isinstance(source, MqttSource):
                self._brokers.append(source.name)
                continue
            layouts = nmea2000.LAYOUTS if "nmea2000" in source.speaks else {}
            if "rvc" in source.speaks:
                layouts = layouts | rvc.LAYOUTS
            bus = self._buses[source.name] = Bus(source.name, layouts, counts=counts)
            self._heard_as[source.name] = bus
            if isinstance(source, CanSource):
                self._heard_as.setdefault(source.channel, bus)
                self._deaf.add(source.name)
            if source.dbc is not None:
                try:
                    bus.book = DbcBook(source.dbc)
                except (OSError, ValueError, UndecodableError, SettingsError) as error:
                    mistakes.append(f"sources[{n}].dbc: {error}")
                    self._bookless.add(source.name)
        return mistakes

    def _bind(self, bound: Bound) -> list[str]:
        """Make one feed's connection; what is wrong with it."""
        feed = bound.feed
        if feed.topic is not None:
            self._filters.append((feed.source, bound, self._member(bound, feed.quantity or "")))
            return [f"{bound.key}.{why}" for why in topic_mistakes(feed, feed.source in self._deaf)]
        bus = self._buses[feed.source]
        bus.bound.append(bound)
        if feed.signal is not None:
            signals = bus.book.signals() if bus.book is not None else set()
            if feed.signal not in signals and bus.name not in self._bookless:
                known = ", ".join(sorted(signals)) or "none, as the source has no dbc file"
                return [f"{bound.key}.signal: {feed.signal!r} is unknown; there are: {known}"]
            bus.takers.setdefault(feed.signal, []).append(self._member(bound, feed.quantity or ""))
            return []
        if not any(takes(bound, layout) and any(wanted(bound, layout)) for layout in bus.layouts.values()):
            known = ", ".join(sorted({layout.name for layout in bus.layouts.values()})) or "none"
            return [f"{bound.key}: nothing on {feed.source!r} fits it; the messages it can hear: {known}"]
        for layout in bus.layouts.values():
            if takes(bound, layout):
                for _, quantity in wanted(bound, layout):
                    self.slots.of(bound.subject, quantity)
        return []

    def _member(self, bound: Bound, quantity: str, address: int = 0, priority: int = 0,
                out_positive: bool = False) -> Contestant:  # fmt: skip
        # A device that a feed names is the same instrument at whatever address.
        key = (bound.key, quantity, 0 if bound.feed.device else address, priority)
        if key not in self._members:
            main = self.slots.of(bound.subject, quantity)
            contest = self._contests.setdefault(main.name, Contest(main, self.slots))
            rank = (bound.rank, -priority, len(self._members))
            scale = scale_of(bound, quantity, out_positive)
            self._members[key] = Contestant(contest, rank, scale, bound.feed.offset)
            self._member_source[key] = bound.feed.source
        return self._members[key]

    # ---- frames

    def frame(self, frame: Frame) -> None:
        """Take one CAN frame. Nothing it may hold raises; what is wrong is counted."""
        at_s, source, can_id, data, extended = frame
        try:
            route = self._routes[source, can_id, extended]
        except KeyError:
            route = self._routes[source, can_id, extended] = self._find(source, can_id, extended)
        if route is None:
            self._unknown(source, at_s)
            return
        counts = route.bus.counts
        counts.heard += 1
        counts.heard_at_s = at_s
        try:
            if route.layout is None:
                self._take_signals(route.bus, frame)
            elif route.layout.number == ADDRESS_CLAIM:
                self._claimed(route, data)
            elif route.bound or route.time_at is not None:
                self._take_fields(route, route.layout, at_s, data)
        except UndecodableError as error:
            counts.complain(at_s, str(error))

    def _claimed(self, route: Route, data: bytes) -> None:
        """A device says which address is its own: feeds that name it follow it."""
        before = route.bus.devices.name_of(route.address)
        route.bus.devices.feed(route.address, data)
        if route.bus.devices.name_of(route.address) != before:
            self._routes.clear()

    def bus_called(self, name: str) -> Bus | None:
        """The source that an interface's name stands for: its name, its channel, or the only one."""
        if name not in self._heard_as:
            only = list(self._buses.values())
            self._heard_as[name] = only[0] if len(only) == 1 else None
        return self._heard_as[name]

    def _unknown(self, source: str, at_s: float) -> None:
        bus = self.bus_called(source)
        counts = bus.counts if bus is not None else self.counts.setdefault(source, Counts())
        counts.heard += 1
        counts.heard_at_s = at_s
        counts.unknown += 1

    def _find(self, source: str, can_id: int, extended: bool) -> Route | None:
        """What to do with an identifier: decided once, and again when a device claims an address."""
        bus = self.bus_called(source)
        if bus is None:
            return None
        if bus.book is not None and bus.book.knows(can_id, extended):
            return Route(bus, None)
        if not extended:
            return None
        _, group, address, _ = split(can_id)
        layout = bus.layouts.get(group)
        if layout is None:
            return None
        place = layout.place
        bound = [b for b in bus.bound if takes(b, layout) and _is_from(b, bus, address)]
        clock = (place["date"], place["time"]) if "date" in place and "time" in place else None
        stream = bus.assembler.stream(address, group) if layout.fast else None
        return Route(bus, layout, address, bound, {}, place.get("instance"), place.get("code"), clock, stream)

    def _take_signals(self, bus: Bus, frame: Frame) -> None:
        assert bus.book is not None
        values = bus.book.decode(frame.can_id, frame.extended, frame.data)
        for signal, value in (values or {}).items():
            for member in bus.takers.get(signal, ()):
                member.take(frame.at_s, value)
                bus.counts.samples += 1

    def _take_fields(self, route: Route, layout: Layout, at_s: float, data: bytes) -> None:
        if route.stream is not None:
            lost = route.stream.dropped
            whole = route.stream.feed(at_s, data)
            for _ in range(route.stream.dropped - lost):
                route.bus.counts.complain(at_s, f"{layout.name}: frames of a fast packet are missing")
            if whole is None:
                return
            data = whole
        for values in layout.decode_all(data) if layout.repeats else (layout.decode(data),):
            instance = None if route.instance_at is None else values[route.instance_at]
            code = None if route.code_at is None else values[route.code_at]
            try:
                plan = route.plans[instance, code]
            except KeyError:
                plan = self._plan(route, layout, values)
                if "priority" not in layout.place:
                    route.plans[instance, code] = plan
            for index, member in plan:
                member.take(at_s, values[index])
            route.bus.counts.samples += len(plan)
            if route.time_at is not None and self._on_time is not None:
                date, time = values[route.time_at[0]], values[route.time_at[1]]
                if date is not None and time is not None:
                    self._on_time(at_s, date * DAY_S + time, route.bus.name)

    def _plan(self, route: Route, layout: Layout, values: tuple[float | None, ...]) -> Plan:
        """Which field goes to whom, for the instance, code and priority that this message has."""
        place = layout.place
        instance, code, priority = (
            values[place[name]] if name in place else None for name in ("instance", "code", "priority")
        )
        plan = []
        for bound in route.bound:
            if fits(bound, layout, instance, code):
                for index, quantity in wanted(bound, layout):
                    member = self._member(
                        bound, quantity, route.address, int(priority or 0), layout.current_out_positive
                    )
                    plan.append((index, member))
        return tuple(plan)

    # ---- messages

    def message(self, message: Message) -> None:
        """Take one MQTT message. Nothing it may hold raises; what is wrong is counted."""
        source = message.source if message.source in self.counts else self._only_broker(message.source)
        counts = self.counts.setdefault(source, Counts())
        counts.heard += 1
        counts.heard_at_s = message.at_s
        try:
            takers = self._topics[source, message.topic]
        except KeyError:
            takers = self._topics[source, message.topic] = [
                (bound, member)
                for broker, bound, member in self._filters
                if broker == source and mqtt.topic_matches(bound.feed.topic or "", message.topic)
            ]
        if not takers:
            counts.unknown += 1
        for bound, member in takers:
            if message.retained and not bound.feed.retained:
                counts.retained += 1
                continue
            try:
                value = mqtt.read(message.payload, bound.feed.pointer, 1.0, 0.0)
                refuse_share(bound, member, value)
            except UndecodableError as error:
                counts.complain(message.at_s, f"{message.topic}: {error}")
            else:
                member.take(message.at_s, value)
                counts.samples += 1

    def _only_broker(self, name: str) -> str:
        return self._brokers[0] if len(self._brokers) == 1 else name

    # ---- for the pipeline

    def count_implausible(self) -> None:
        """Bring every source's count of impossible readings up to date."""
        totals: dict[str, int] = {}
        for key, member in self._members.items():
            source = self._member_source[key]
            totals[source] = totals.get(source, 0) + member.implausible
        for source, total in totals.items():
            self.counts[source].implausible = total

    def forget_times(self) -> None:
        """Elapsed time began anew: nobody has been heard in it."""
        for slot in self.slots.values():
            slot.heard_at_s = -inf
        for member in self._members.values():
            member.heard_at_s = -inf
        for counts in self.counts.values():
            counts.heard_at_s = -inf


def _is_from(bound: Bound, bus: Bus, address: int) -> bool:
    """Whether a feed wants this sender: any, one address, or one device by its NAME."""
    device = bound.feed.device
    if device is None:
        return True
    if len(device) == 2:
        return int(device, 16) == address
    return bus.devices.name_of(address) == int(device, 16)
