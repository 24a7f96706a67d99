"""Where to listen, as the guide asks it: what is there, what answers, and why something does not."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.survey.guide import Guide
from monitor.survey.places import places
from monitor.words.tongues import N_
from web.presentation.figures import Reader
from web.presentation.setup import Step, step

QUIET_S = 60.0
RATES = ("250000", "500000", "125000", "1000000", "100000", "50000", "20000", "10000", "800000")
KINDS = {
    "socketcan": N_("A CAN interface of this computer"),
    "slcan": N_("A serial CAN adapter"),
    "udp_multicast": N_("CAN frames over the network (UDP multicast)"),
    "mqtt": N_("An MQTT broker"),
    "recording": N_("A recording"),
}
FIELDS = {
    "channel": (N_("Interface"), ""), "group": (N_("Multicast group"), "239.74.163.2"),
    "bit_rate": (N_("Bits a second"), "250000"), "port": (N_("Port"), "43113"),
    "dbc": (N_("File that describes the messages (DBC), where the maker gave one"), ""),
    "host": (N_("Host"), "127.0.0.1"), "broker_port": (N_("Port"), "1883"), "username": (N_("User"), ""),
    "password": (N_("Password"), ""), "path": (N_("The file: .log of CAN frames or .jsonl of MQTT"), ""),
}  # fmt: skip
OF_KIND = {
    "socketcan": ("channel", "dbc"),
    "slcan": ("channel", "bit_rate", "dbc"),
    "udp_multicast": ("group", "port", "dbc"),
    "mqtt": ("host", "broker_port", "username", "password"),
    "recording": ("path", "dbc"),
}
OPTIONAL = ("dbc", "username", "password")


@dataclass(frozen=True, slots=True)
class SourceRow:
    name: str
    where: str
    state: str
    up: bool
    why: str


@dataclass(frozen=True, slots=True)
class Found:
    kind: str
    channel: str
    told: str
    down: str


@dataclass(frozen=True, slots=True)
class Listen:
    step: Step
    sources: tuple[SourceRow, ...]
    found: tuple[Found, ...]
    others: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class InputRow:
    name: str
    label: str
    value: str
    among: tuple[str, ...]
    fixed: bool
    needed: bool


@dataclass(frozen=True, slots=True)
class Adding:
    step: Step
    kind: str
    first: str
    note: str
    inputs: tuple[InputRow, ...]
    instead: str


def listen(reader: Reader, guide: Guide, said: tuple[str, ...] = ()) -> Listen:
    used = {row.get("channel") for row in guide.rows("sources")}
    found = tuple(
        Found(
            place.kind,
            place.channel,
            reader.word(KINDS[place.kind]),
            "" if place.up else reader.say("setup: down", channel=place.channel),
        )
        for place in places()
        if place.channel not in used
    )
    others = tuple((kind, reader.word(KINDS[kind])) for kind in ("mqtt", "udp_multicast", "recording"))
    return Listen(step(reader, guide, "listen", said), source_rows(reader, guide), found, others)


def source_rows(reader: Reader, guide: Guide) -> tuple[SourceRow, ...]:
    """How each source of the draft is at this moment, and what to look at where it says nothing."""
    health = guide.ear.health()
    down = {place.channel for place in places() if not place.up}
    rows = []
    for row in guide.rows("sources"):
        name, h = row["name"], health.get(row["name"])
        why, up = "", h is not None and h.up
        ago_s = guide.ear.listening_s(name) if h is None or h.heard_at_s is None else 0.0
        if row.get("channel") in down:
            why, state = reader.say("setup: down", channel=row["channel"]), N_("down")
        elif h is None or not h.up:
            state = N_("no answer")
            why = reader.say("setup: waiting", source=name)
            if h is not None and h.trouble:
                why = reader.say("setup: trouble", source=name, trouble=h.trouble)
            elif row["kind"] == "recording" and h is not None and h.heard:
                state, why = N_("played"), reader.say("setup: quiet recording", source=name)
        elif h.heard_at_s is not None:
            state = N_("heard")
        else:
            state = N_("answers; nothing heard yet")
            if ago_s >= QUIET_S:
                kind = "setup: quiet broker" if row["kind"] == "mqtt" else "setup: quiet bus"
                why = reader.say(kind, source=name, ago=ago_s)
        rows.append(SourceRow(name, where(row), reader.word(state), up, why))
    return tuple(rows)


def where(row: Mapping[str, Any]) -> str:
    if row["kind"] == "mqtt":
        return f"{row['host']}:{row['port']}"
    if row["kind"] == "recording":
        return ", ".join(row["paths"])
    port = f":{row['port']}" if "port" in row else ""
    return f"{row['channel']}{port}"


def adding(
    reader: Reader,
    guide: Guide,
    kind: str,
    typed: Mapping[str, str],
    said: tuple[str, ...] = (),
    instead: str = "",
) -> Adding:
    """The page on which one source is described; `instead` names the source that is changed."""
    inputs = tuple(
        InputRow(
            name, reader.word(FIELDS[name][0]), typed.get(name, FIELDS[name][1]),
            RATES if name == "bit_rate" else (), name == "channel", name not in OPTIONAL,
        )
        for name in OF_KIND[kind]
    )  # fmt: skip
    note = ""
    if kind == "mqtt":
        note = reader.word(
            N_("It is tried at once. A password is kept in a file of its own, for this computer alone.")
        )
    elif kind == "slcan":
        note = reader.word(N_("NMEA 2000 and RV-C run at 250000. A battery's own bus may run at 500000."))
    first = reader.word(KINDS[kind])
    return Adding(step(reader, guide, "listen", said, "/setup/listen"), kind, first, note, inputs, instead)


def typed_of(row: Mapping[str, Any]) -> tuple[str, dict[str, str]]:
    """A source of the draft as the page shows it: its kind and what would have been typed."""
    if row["kind"] == "mqtt":
        typed = {"host": row["host"], "broker_port": row["port"], "username": row.get("username", "")}
        return "mqtt", {key: str(value) for key, value in typed.items()}
    if row["kind"] == "recording":
        return "recording", {"path": row["paths"][0], "dbc": row.get("dbc", "")}
    typed = {
        "channel": row["channel"], "group": row["channel"], "port": row.get("port", ""),
        "bit_rate": row.get("bit_rate", 250000), "dbc": row.get("dbc", ""),
    }  # fmt: skip
    return row["interface"], {key: str(value) for key, value in typed.items()}


def described(kind: str, typed: Mapping[str, str]) -> dict[str, Any]:
    """The source's row of the settings, without its name."""
    said = {key: value.strip() for key, value in typed.items() if value.strip()}
    row: dict[str, Any]
    if kind == "mqtt":
        row = {"kind": "mqtt", "host": said.get("host", ""), "port": _whole(said.get("broker_port", "1883"))}
        if "username" in said:
            row["username"] = said["username"]
        return row
    dbc = {"speaks": ["dbc"], "dbc": said["dbc"]} if "dbc" in said else {"speaks": ["nmea2000"]}
    if kind == "recording":
        return {"kind": "recording", "paths": [said.get("path", "")], **dbc}
    row = {"kind": "can", "interface": kind, "channel": said.get("channel", "")}
    if kind == "udp_multicast":
        row |= {"channel": said.get("group", ""), "port": _whole(said.get("port", "43113"))}
    if kind == "slcan":
        row["bit_rate"] = _whole(said.get("bit_rate", "250000"))
    return {**row, **dbc}


def name_for(guide: Guide, kind: str, typed: Mapping[str, str]) -> str:
    """A name that nothing has yet."""
    plain = {"socketcan": typed.get("channel", "bus"), "mqtt": "broker", "recording": "recording"}
    wanted = plain.get(kind, "bus")
    name, n = wanted, 2
    while name in guide.names():
        name, n = f"{wanted} {n}", n + 1
    return name


def _whole(text: str) -> object:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else text
