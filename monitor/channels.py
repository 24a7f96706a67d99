"""Every quantity an instrument can report, one row each, and the channels made of them.

A row says what the number means, which readings are impossible, on what step it is stored and
after how long its silence is told. A channel is a quantity of a subject: "house current".
The bounds are common practice for a cruising boat, wide enough for any healthy instrument.
"""

from dataclasses import dataclass
from typing import NamedTuple


class Quantity(NamedTuple):
    """`step` is the storage step; `state` marks codes and on/off, which are never averaged."""

    name: str
    unit: str
    lowest: float
    highest: float
    step: float
    silent_after_s: float
    state: bool = False


QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity("voltage", "V", 0.0, 80.0, 0.01, 30),
        Quantity("current", "A", -2000.0, 2000.0, 0.1, 30),
        Quantity("power", "W", -50_000.0, 50_000.0, 1.0, 30),
        Quantity("temperature", "°C", -45.0, 130.0, 0.1, 120),
        Quantity("set temperature", "°C", -45.0, 130.0, 0.1, 600),
        Quantity("charge", "%", 0.0, 100.0, 0.5, 120),
        Quantity("health", "%", 0.0, 120.0, 1.0, 600),
        Quantity("time left", "min", 0.0, 65_532.0, 1.0, 600),
        Quantity("remaining", "Ah", 0.0, 10_000.0, 1.0, 600),
        Quantity("ripple", "V", 0.0, 20.0, 0.001, 600),
        Quantity("charge limit", "A", 0.0, 2000.0, 0.1, 60),
        Quantity("discharge limit", "A", 0.0, 2000.0, 0.1, 60),
        Quantity("cell high voltage", "V", 0.0, 5.0, 0.001, 60),
        Quantity("cell low voltage", "V", 0.0, 5.0, 0.001, 60),
        *(Quantity(f"cell {n} voltage", "V", 0.0, 5.0, 0.001, 60) for n in range(1, 33)),
        Quantity("cell high temperature", "°C", -45.0, 130.0, 0.1, 120),
        Quantity("cell low temperature", "°C", -45.0, 130.0, 0.1, 120),
        *(Quantity(f"cell {n} temperature", "°C", -45.0, 130.0, 0.1, 120) for n in range(1, 9)),
        Quantity("pre-alarm", "", 0, 1, 1, 60, True),
        Quantity("contactor closed", "", 0, 1, 1, 60, True),
        Quantity("charger state", "", 0, 15, 1, 120, True),
        Quantity("inverter state", "", 0, 15, 1, 120, True),
        Quantity("enabled", "", 0, 1, 1, 120, True),
        Quantity("running", "", 0, 1, 1, 120, True),
        Quantity("on", "", 0, 1, 1, 120, True),
        Quantity("level", "%", -2.0, 105.0, 0.1, 120),
        Quantity("volume", "L", 0.0, 20_000.0, 0.1, 120),
        Quantity("capacity", "L", 0.0, 20_000.0, 0.1, 600),
        Quantity("pressure", "bar", -1.0, 20.0, 0.001, 60),
        Quantity("flow", "L/h", -6000.0, 6000.0, 0.1, 60),
        Quantity("ac voltage", "V", 0.0, 320.0, 0.1, 60),
        Quantity("ac current", "A", 0.0, 400.0, 0.1, 60),
        Quantity("ac power", "W", -50_000.0, 50_000.0, 1.0, 60),
        Quantity("ac frequency", "Hz", 0.0, 100.0, 0.01, 60),
        Quantity("power factor", "", -1.0, 1.0, 0.01, 60),
        Quantity("breaker", "A", 0.0, 400.0, 0.1, 600),
        Quantity("speed", "rpm", 0.0, 16_383.0, 1.0, 30),
        Quantity("alternator voltage", "V", 0.0, 80.0, 0.01, 60),
        Quantity("coolant temperature", "°C", -45.0, 200.0, 0.1, 60),
        Quantity("oil pressure", "bar", 0.0, 30.0, 0.01, 60),
        Quantity("fuel rate", "L/h", 0.0, 500.0, 0.1, 60),
        Quantity("hours", "h", 0.0, 1_000_000.0, 0.1, 600),
        Quantity("heel", "°", -90.0, 90.0, 0.1, 30),
        Quantity("pitch", "°", -90.0, 90.0, 0.1, 30),
        Quantity("latitude", "°", -90.0, 90.0, 0.0001, 120),
        Quantity("longitude", "°", -180.0, 180.0, 0.0001, 120),
        Quantity("salinity", "ppm", 0.0, 65_532.0, 1.0, 120),
        Quantity("watermaker state", "", 0, 61, 1, 120, True),
        # What was worked out, kept beside what was measured: mean of a minute or state at its end.
        Quantity("energy left", "Wh", 0.0, 1e7, 1.0, 0),
        Quantity("energy left low", "Wh", 0.0, 1e7, 1.0, 0),
        Quantity("energy left high", "Wh", 0.0, 1e7, 1.0, 0),
        Quantity("net power", "W", -1e6, 1e6, 0.01, 0),
        Quantity("made power", "W", 0.0, 1e6, 0.01, 0),
        Quantity("sun power", "W", 0.0, 1e6, 0.01, 0),
        Quantity("bank full", "", 0, 1, 1, 0),
        Quantity("water left", "L", 0.0, 1e6, 0.1, 0),
        Quantity("water left low", "L", 0.0, 1e6, 0.1, 0),
        Quantity("water left high", "L", 0.0, 1e6, 0.1, 0),
        Quantity("water used", "L", 0.0, 1e6, 0.001, 0),
        # What the rules' limits are held against, so that another limit can be tried on the past.
        Quantity("counted charge", "%", 0.0, 100.0, 0.1, 0),
        Quantity("counted charge low", "%", 0.0, 100.0, 0.1, 0),
        Quantity("days left low", "days", 0.0, 1000.0, 0.01, 0),
        Quantity("leak", "L/h", 0.0, 6000.0, 0.01, 0),
        Quantity("water age", "days", 0.0, 10_000.0, 0.1, 0),
        # The health of a source is measured like anything else, so silence is visible.
        Quantity("up", "", 0, 1, 1, 0, True),
        Quantity("heard", "/min", 0, 1e9, 1, 0),
        Quantity("undecodable", "/min", 0, 1e9, 1, 0),
        Quantity("unknown", "/min", 0, 1e9, 1, 0),
        Quantity("dropped", "/min", 0, 1e9, 1, 0),
        Quantity("implausible", "/min", 0, 1e9, 1, 0),
    )
}


@dataclass(frozen=True, slots=True)
class Channel:
    """One quantity of one subject from one feed.

    `opinion` is 0 for the reading that counts and 1, 2, ... for further instruments that report
    the same thing: they are kept beside it and never added to it.
    """

    subject: str
    quantity: Quantity
    opinion: int = 0

    @property
    def name(self) -> str:
        tail = f" (opinion {self.opinion + 1})" if self.opinion else ""
        return f"{self.subject} {self.quantity.name}{tail}"


def channel(subject: str, quantity: str, opinion: int = 0) -> Channel:
    """The channel of that name. Raises KeyError for a quantity that has no row above."""
    return Channel(subject, QUANTITIES[quantity], opinion)
