"""What was heard so far: frames and messages in, things that speak out. No settings bind it yet."""

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from monitor.channels import QUANTITIES
from monitor.errors import UndecodableError
from monitor.records import Frame, Message
from monitor.settings import SUBJECT_GROUPS
from monitor.survey.leaves import Leaf, leaves
from monitor.survey.things import (
    CURRENTS,
    PRESSURES,
    SWITCHES,
    TEMPERATURES,
    VALUES,
    Said,
    Thing,
    Unknown,
    guess,
    id_of,
)
from monitor.wire import nmea2000, rvc
from monitor.wire.dbc import DbcBook
from monitor.wire.devices import Devices
from monitor.wire.fast_packet import Assembler
from monitor.wire.identifier import split
from monitor.wire.layout import Layout

MOST_VALUES = 4000
"""Of one source: a broker with more topics than that wants a narrower user."""
MOST_UNKNOWN = 5000
GROUPS = {"switch bank": SWITCHES, "dc point": CURRENTS, "temperature": TEMPERATURES, "pressure": PRESSURES}
"""Messages that any of several things may speak in."""
UNTOLD = ("switch command", "address claim", "system time", "time and date")
ABOUT = ("rated capacity", "chemistry", "nominal voltage")
ADDRESS_CLAIM = 60928
Key = tuple[object, ...]


@dataclass(slots=True)
class _Kept:
    thing: Thing
    first_s: float
    said: dict[str, Said] = field(default_factory=dict)
    about: dict[str, object] = field(default_factory=dict)
    by_message: dict[str, int] = field(default_factory=dict)
    heard_at_s: float = 0.0


@dataclass(slots=True)
class _Source:
    book: DbcBook | None = None
    assembler: Assembler = field(default_factory=Assembler)
    devices: Devices = field(default_factory=Devices)
    kept: dict[Key, _Kept] = field(default_factory=dict)
    unknown: set[object] = field(default_factory=set)
    frames_unknown: int = 0
    left_out: int = 0


class Hearing:
    """Of every source what speaks there. Fed by one thread, read by any."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._sources: dict[str, _Source] = {}

    def begin(self, source: str, book: DbcBook | None = None) -> None:
        """Forget what was heard of it, and read it with that DBC file."""
        with self._lock:
            self._sources[source] = _Source(book)

    def forget(self, source: str) -> None:
        with self._lock:
            self._sources.pop(source, None)

    def feed(self, items: Iterable[Frame | Message]) -> None:
        """Nothing that an item may hold raises; what cannot be read is counted."""
        with self._lock:
            for item in items:
                source = self._sources.get(item.source)
                if source is None:
                    continue
                try:
                    if isinstance(item, Message):
                        self._message(source, item)
                    else:
                        self._frame(source, item)
                except UndecodableError:
                    source.frames_unknown += 1

    def things(self) -> tuple[Thing, ...]:
        """Everything that spoke, by source, in the order of its first word."""
        with self._lock:
            return tuple(thing for source in self._sources.values() for thing in _told(source))

    def unknown(self) -> Mapping[str, Unknown]:
        with self._lock:
            return {
                name: Unknown(s.frames_unknown, len(s.unknown), s.left_out)
                for name, s in self._sources.items()
            }

    # ---- CAN

    def _frame(self, source: _Source, frame: Frame) -> None:
        if source.book is not None and source.book.knows(frame.can_id, frame.extended):
            for signal, value in (source.book.decode(frame.can_id, frame.extended, frame.data) or {}).items():
                self._signal(source, frame, signal, value)
            return
        _, group, address, _ = split(frame.can_id)
        layout = (nmea2000.LAYOUTS.get(group) or rvc.LAYOUTS.get(group)) if frame.extended else None
        if layout is None:
            self._not_read(source, (frame.can_id, frame.extended))
            return
        if group == ADDRESS_CLAIM:
            source.devices.feed(address, frame.data)
            return
        data: bytes | None = frame.data
        if layout.fast:
            data = source.assembler.feed(frame.at_s, address, group, frame.data)
        if data is None or layout.name in UNTOLD:
            return
        for values in layout.decode_all(data):
            self._fields(source, frame, layout, address, values)

    def _fields(
        self, source: _Source, frame: Frame, layout: Layout, address: int, values: tuple[float | None, ...]
    ) -> None:
        place = layout.place
        instance = values[place["instance"]] if "instance" in place else None
        code = values[place["code"]] if "code" in place and not layout.repeats else None
        if layout.name == "dc detail" and code not in (None, layout.default_code):
            return
        words = layout.fields[place["code"]].codes if "code" in place else {}
        if layout.name == "switch bank":
            for part in layout.fields:
                value = values[place[part.name]]
                if part.name.startswith("indicator") and value is not None:
                    indicator = {"instance": int(instance or 0), "indicator": int(part.name.split()[1])}
                    self._keep(source, frame, layout, address, indicator, {"running": value}, "")
            return
        said = {f.name: values[n] for n, f in enumerate(layout.fields) if f.name in QUANTITIES}
        about = {name: _word(layout, name, values[place[name]]) for name in ABOUT if name in place}
        if not said and not about:
            return
        feed: dict[str, object] = {} if instance is None else {"instance": int(instance)}
        if layout.name in GROUPS or layout.subject not in SUBJECT_GROUPS or layout.subject == "instruments":
            feed = {"message": layout.name, **feed}
        elif instance is None:
            feed = {"message": layout.name}
        coded = layout.subject in ("tanks", "instruments") and code is not None
        if coded and code != layout.default_code:
            feed["code"] = int(code or 0)
        told = words.get(int(code), "") if coded and code is not None else ""
        self._keep(source, frame, layout, address, feed, said, told, about)

    def _keep(
        self,
        source: _Source,
        frame: Frame,
        layout: Layout,
        address: int,
        feed: Mapping[str, object],
        said: Mapping[str, float | None],
        code: str,
        about: Mapping[str, object] | None = None,
    ) -> None:
        group = GROUPS.get(layout.name) or (
            layout.subject if layout.subject in SUBJECT_GROUPS else "instruments"
        )
        key: Key = (group, *sorted(feed.items()), address)
        kept = source.kept.get(key)
        if kept is None:
            if len(source.kept) >= MOST_VALUES:
                source.left_out += 1
                return
            language = "rvc" if layout.number in rvc.LAYOUTS else "nmea2000"
            thing = Thing(
                id_of(frame.source, *key), frame.source, group, layout.name, language, feed, (), 0,
                frame.at_s, code=code, sender=f"{address:02X}",
            )  # fmt: skip
            kept = source.kept[key] = _Kept(thing, frame.at_s)
        kept.about.update({name: word for name, word in (about or {}).items() if word is not None})
        _hear(kept, frame.at_s, layout.name, said)

    def _signal(self, source: _Source, frame: Frame, signal: str, value: float) -> None:
        key: Key = (VALUES, signal)
        kept = source.kept.get(key)
        if kept is None:
            thing = Thing(
                id_of(frame.source, *key), frame.source, VALUES, signal, "dbc", {"signal": signal}, (), 0,
                frame.at_s,
            )  # fmt: skip
            kept = source.kept[key] = _Kept(thing, frame.at_s)
        _hear(kept, frame.at_s, signal, {guess(signal): value})

    # ---- MQTT

    def _message(self, source: _Source, message: Message) -> None:
        found = leaves(message.payload)
        if not found:
            self._not_read(source, message.topic)
        for leaf in found:
            self._leaf(source, message, leaf)

    def _leaf(self, source: _Source, message: Message, leaf: Leaf) -> None:
        key: Key = (VALUES, message.topic, leaf.pointer)
        kept = source.kept.get(key)
        if kept is None:
            if len(source.kept) >= MOST_VALUES:
                source.left_out += 1
                return
            feed: dict[str, object] = {"topic": message.topic}
            if leaf.pointer:
                feed["pointer"] = leaf.pointer
            thing = Thing(
                id_of(message.source, *key), message.source, VALUES, message.topic, "mqtt", feed, (), 0,
                message.at_s,
            )  # fmt: skip
            kept = source.kept[key] = _Kept(thing, message.at_s)
        if message.retained:
            kept.said.setdefault("", Said(guess(f"{message.topic}{leaf.pointer}"), leaf.value, message.at_s))
            return
        _hear(kept, message.at_s, "", {"": leaf.value})
        kept.said[""] = Said(guess(f"{message.topic}{leaf.pointer}"), leaf.value, message.at_s)

    def _not_read(self, source: _Source, kind: object) -> None:
        source.frames_unknown += 1
        if len(source.unknown) < MOST_UNKNOWN:
            source.unknown.add(kind)


def _word(layout: Layout, name: str, value: float | None) -> object:
    """A field's word where it has words, its number where it has none."""
    codes = layout.fields[layout.place[name]].codes
    return value if value is None or not codes else codes.get(int(value))


def _hear(kept: _Kept, at_s: float, message: str, said: Mapping[str, float | None]) -> None:
    kept.by_message[message] = kept.by_message.get(message, 0) + 1
    kept.heard_at_s = at_s
    for quantity, value in said.items():
        kept.said[quantity] = Said(quantity, value, at_s)


def _told(source: _Source) -> Iterable[Thing]:
    senders: dict[Key, set[object]] = {}
    for key, kept in source.kept.items():
        if kept.thing.sender:
            senders.setdefault(key[:-1], set()).add(key[-1])
    for key, kept in source.kept.items():
        heard = max(kept.by_message.values(), default=0)
        twin = len(senders.get(key[:-1], ())) > 1 and bool(kept.thing.sender)
        feed = dict(kept.thing.feed)
        if twin:
            name = source.devices.name_of(int(kept.thing.sender, 16))
            feed["device"] = kept.thing.sender if name is None else f"{name:016X}"
        yield replace(
            kept.thing,
            feed=feed,
            twin=twin,
            said=tuple(kept.said.values()),
            about=dict(kept.about),
            heard=heard,
            heard_at_s=kept.heard_at_s or kept.first_s,
            every_s=(kept.heard_at_s - kept.first_s) / (heard - 1) if heard > 1 else None,
        )
