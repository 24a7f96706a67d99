"""What a survey finds: things that speak, each with what it last said and the feed that would bind it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import blake2s

from monitor.channels import QUANTITIES

VALUES = "values"
"""The group of what speaks in bare values, of MQTT or of a DBC file: nobody knows what they measure."""
SWITCHES = "switches"
CURRENTS = "currents"
TEMPERATURES = "temperatures"
PRESSURES = "pressures"


@dataclass(frozen=True, slots=True)
class Said:
    """`quantity` is one of `channels.QUANTITIES`, empty where nobody knows. `value` None: not available."""

    quantity: str
    value: float | None
    at_s: float


@dataclass(frozen=True, slots=True)
class Thing:
    """`group` is one of the settings' groups of subjects or of those above. `code` says what kind of
    temperature, pressure or fluid it is; `sender` is a CAN address of two hexadecimal digits."""

    id: str
    source: str
    group: str
    message: str
    language: str
    """"nmea2000", "rvc", "dbc" or "mqtt"."""
    feed: Mapping[str, object]
    said: tuple[Said, ...]
    heard: int
    heard_at_s: float
    every_s: float | None = None
    code: str = ""
    sender: str = ""
    twin: bool = False
    """Another sender speaks by the same name: its feed names the sender."""
    about: Mapping[str, object] = field(default_factory=dict)
    """What it says of itself that settings ask for: rated capacity, chemistry, nominal voltage."""

    def value(self, quantity: str) -> float | None:
        return next((said.value for said in self.said if said.quantity == quantity), None)


@dataclass(frozen=True, slots=True)
class Unknown:
    """What a source said that could not be read: counted, not hidden."""

    frames: int = 0
    kinds: int = 0
    """Different identifiers or topics among them."""
    left_out: int = 0
    """Values past the most that are kept."""


def id_of(*parts: object) -> str:
    """A short name for an address of the guide, the same after a restart."""
    return blake2s("\0".join(map(str, parts)).encode("utf-8", "replace"), digest_size=6).hexdigest()


_HINTS = {
    "voltage": "voltage", "volts": "voltage", "volt": "voltage", "current": "current", "amps": "current",
    "amperes": "current", "power": "power", "watts": "power", "watt": "power", "temperature": "temperature",
    "temp": "temperature", "level": "level", "charge": "charge", "pressure": "pressure", "flow": "flow",
    "volume": "volume", "litres": "volume", "liters": "volume", "speed": "speed", "rpm": "speed",
    "frequency": "ac frequency", "running": "running", "on": "on", "state": "on", "switch": "on",
    "element": "on", "latitude": "latitude", "longitude": "longitude", "heel": "heel", "pitch": "pitch",
}  # fmt: skip


def guess(name: str) -> str:
    """The quantity that a value is called by, from its own words; empty where they say nothing.

    A quantity's whole name wins, then the last word that means one. Common practice, never believed unasked.
    """
    words = "".join(c if c.isalnum() else " " for c in name.replace("~1", "/")).lower().split()
    spaced = f" {' '.join(words)} "
    whole = [q for q in QUANTITIES if " " in q and f" {q} " in spaced]
    if whole:
        return max(whole, key=len)
    return next((_HINTS[word] for word in reversed(words) if word in _HINTS), "")
