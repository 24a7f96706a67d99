"""What the MQTT way publishes: README's section "Ways out" has the stable list of topics and keys."""

import json
import re
import unicodedata
from collections.abc import Iterable
from typing import Any

from monitor.delivery.desk import Standing, iso
from monitor.delivery.letters import otherwise, todo, told
from monitor.records import Notice, Sound
from monitor.words.units import Dress

STOPPED = b'{"watch":"stopped"}'


def slug(name: str) -> str:
    """A name as one level of a topic: lower case, a to z, digits, and single hyphens between them."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-") or "boat"


class Topics:
    """Those of one boat."""

    def __init__(self, boat: str) -> None:
        self._root = f"ebbwatch/{slug(boat)}"
        self.watch, self.sound = f"{self._root}/watch", f"{self._root}/sound"

    def of(self, notice: Notice) -> str:
        if notice.kind == "alert":
            return f"{self._root}/alert/{slug(notice.rule)}"
        return f"{self._root}/say/{slug(notice.kind)}"


def payload_of(notice: Notice, standing: Iterable[Standing], dress: Dress, repeat: bool) -> bytes:
    """`standing`: the open alerts. `repeat`: it may have been sent before."""
    head = {"id": notice.id}
    tail = {"told": told(notice, dress), "at": iso(notice.utc_s), "repeat": repeat}
    if notice.kind != "alert":
        return _json(head | {"kind": notice.kind} | tail)
    own = [s for s in standing if s.rule == notice.rule]
    return _json(
        head
        | {
            "alert": notice.alert,
            "rule": notice.rule,
            "subject": notice.subject,
            "grade": notice.severity,
            "state": notice.state,
            "what": notice.what,
        }
        | tail
        | {
            "todo": todo(notice, dress),
            "otherwise": otherwise(notice, dress),
            "recorded": notice.recorded,
            "open": [{"subject": s.subject, "grade": s.grade, "state": s.state} for s in own],
        }
    )


def running(utc_s: float | None) -> bytes:
    return _json({"watch": "running", "at": iso(utc_s)})


def sounding(sound: Sound) -> bytes:
    return _json({"sound": sound.pattern or "silent", "alert": sound.alert, "serial": sound.serial})


def _json(value: dict[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
