"""What *Marram*'s instruments say, how often and from which address: one row a message.

Rates are those of the published definitions where they give one; the engine's are slower than a
real one's (10 Hz), and the batteries' a little faster (1 s for 1.5 s).
"""

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from monitor.wire.codes import STATES
from simulators.generator import LIMIT_A
from simulators.shore import POWER_FACTOR
from simulators.stretch import Stretch

(
    HOUSE, NAVIGATION, TANKS, SWITCHES, PRESSURE, COMPASS, ENGINE, CHARGERS, SHORE, GNSS, AIR, GENERATOR,
    INVERTER, WATERMAKER,
) = range(0x20, 0x2E)  # fmt: skip


class Say(NamedTuple):
    """A message told every `period_s` while `when` holds; `readings` are names of READINGS."""

    number: int | str
    """The group number, or the name of a message of the BMS."""
    address: int
    period_s: float
    same: Mapping[str, float]
    readings: Mapping[str, str]
    priority: int = 6
    when: str = ""
    """ "engine", "shore", "generator" or "fitted" of the stretch's conditions; always where it is empty."""
    more: bool = False
    """Added later: its lateness and noise come from streams of their own, and move no other row's."""


_BULK, _ABSORPTION, _FLOAT = (
    float(STATES["charger state"].index(s)) for s in ("bulk", "absorption", "float")
)
SAYS = (
    Say(127508, HOUSE, 1, {"instance": 0}, {
        "voltage": "house V", "current": "house A", "temperature": "bank warmth",
    }),
    Say(127506, HOUSE, 5, {"instance": 0, "code": 0}, {"charge": "counted"}),
    Say(127508, NAVIGATION, 1, {"instance": 1}, {"voltage": "buffer V", "current": "buffer A"}),
    Say(127505, TANKS, 2.5, {"instance": 0, "code": 1, "capacity": 165}, {"level": "forward"}),
    Say(127505, TANKS, 2.5, {"instance": 1, "code": 1, "capacity": 260}, {"level": "midship"}),
    Say(130314, PRESSURE, 1, {"instance": 0, "code": 1}, {"pressure": "water bar"}, 5),
    Say(127257, COMPASS, 1, {}, {"heel": "heel", "pitch": "pitch"}, 3),
    Say(127751, CHARGERS, 1.5, {"instance": 2}, {"voltage": "house V", "current": "alternator A"}),
    Say(127751, CHARGERS, 1.5, {"instance": 3}, {"voltage": "house V", "current": "charger A"}),
    Say(127751, CHARGERS, 1.5, {"instance": 4}, {"voltage": "buffer V", "current": "converter A"}),
    Say(127503, SHORE, 1.5, {
        "instance": 0, "lines": 1, "code": 0, "acceptability": 3, "ac frequency": 50.0, "breaker": 10.0,
    }, {
        "ac voltage": "shore V", "ac current": "shore A", "ac power": "supply W",
        "power factor": "shore factor",
    }, when="shore"),
    Say(127488, ENGINE, 1, {"instance": 0}, {"speed": "rpm"}, 2, "engine"),
    Say(127489, ENGINE, 2, {"instance": 0, "discrete status 1": 0, "discrete status 2": 0}, {
        "oil pressure": "oil bar", "coolant temperature": "coolant", "alternator voltage": "house V",
        "fuel rate": "fuel", "hours": "engine hours",
    }, 2, "engine"),
    Say(129025, GNSS, 5, {}, {"latitude": "latitude", "longitude": "longitude"}, 2),
    Say(126992, GNSS, 10, {"clock source": 0}, {"date": "date", "time": "time"}, 3),
    Say(130316, AIR, 10, {"instance": 0, "code": 2}, {"temperature": "cabin"}, 5),
    Say(130312, AIR, 10, {"instance": 0, "code": 0}, {"temperature": "sea"}, 5),
    Say("Pack", 0, 1, {}, {"Voltage": "BMS V", "Current": "BMS A", "Charge": "BMS charge"}),
    Say("Limits", 0, 1, {}, {
        "ChargeLimit": "charge limit", "DischargeLimit": "discharge limit", "PreAlarm": "pre-alarm",
        "ContactorClosed": "contactor",
    }),
    Say("Cells", 0, 1, {}, {f"Cell{n}": f"cell {n} V" for n in range(1, 5)}),
    Say("Temperatures", 0, 5, {}, {f"Cell{n}": f"cell {n} warmth" for n in (1, 2)}),
    Say(127488, GENERATOR, 1, {"instance": 1}, {"speed": "generator rpm"}, 2, "generator"),
    Say(127489, GENERATOR, 2, {"instance": 1, "discrete status 1": 0, "discrete status 2": 0}, {
        "oil pressure": "generator oil bar", "coolant temperature": "generator coolant",
        "fuel rate": "generator fuel", "hours": "generator hours", "engine load": "generator load",
    }, 2, "generator"),
    Say(127503, GENERATOR, 1.5, {
        "instance": 1, "lines": 1, "code": 0, "acceptability": 3, "breaker": LIMIT_A,
        "power factor": POWER_FACTOR,
    }, {
        "ac voltage": "generator V", "ac current": "generator A", "ac frequency": "generator Hz",
        "ac power": "supply W",
    }, when="generator"),
    Say(127509, INVERTER, 1.5, {"instance": 0, "ac instance": 0, "dc instance": 0}, {
        "inverter state": "inverter state",
    }, more=True),
    Say(127504, INVERTER, 1.5, {
        "instance": 0, "lines": 1, "code": 0, "waveform": 0, "power factor": POWER_FACTOR,
    }, {
        "ac voltage": "output V", "ac current": "output A", "ac frequency": "output Hz",
        "ac power": "output W",
    }, more=True),
    Say(127751, SWITCHES, 1.5, {"instance": 5}, {"current": "pump A"}, more=True),
    Say(130567, WATERMAKER, 5, {}, {
        "watermaker state": "watermaker state", "flow": "made L/h", "hours": "watermaker hours",
    }, when="fitted", more=True),
)  # fmt: skip

Text = Callable[[tuple[float, ...]], bytes]


class SayText(NamedTuple):
    """The same for MQTT: the payload is a text with the readings in it."""

    topic: str
    period_s: float
    readings: tuple[str, ...]
    text: Text


TEXTS = (
    SayText("marram/panels", 5, ("panels W", "panels A"), lambda v: b'{"power":%.1f,"current":%.2f}' % v),
    SayText(
        "marram/heater", 10, ("heater", "element"),
        lambda v: b'{"water":{"temperature":%.1f},"element":"%s"}' % (v[0], b"on" if v[1] else b"off"),
    ),
)  # fmt: skip
SWITCH_PERIOD_S = 15.0
CHARGER_PERIOD_S = 1.5


class Device(NamedTuple):
    """Who claims which address, with its function and class of ISO 11783-5 and a serial number."""

    address: int
    function: int
    device_class: int


DEVICES = (
    Device(HOUSE, 170, 35), Device(NAVIGATION, 170, 35), Device(TANKS, 150, 75),
    Device(SWITCHES, 140, 30), Device(PRESSURE, 140, 75), Device(COMPASS, 140, 60),
    Device(ENGINE, 160, 50), Device(CHARGERS, 150, 35), Device(SHORE, 153, 35),
    Device(GNSS, 145, 60), Device(AIR, 130, 75), Device(GENERATOR, 151, 35), Device(INVERTER, 162, 35),
    Device(WATERMAKER, 155, 75),
)  # fmt: skip


def claims(fitted: bool) -> Iterator[tuple[int, dict[str, float]]]:
    """Address and NAME fields of every device, for the address claims at the start. A watermaker speaks
    only where one is `fitted`."""
    for n, device in enumerate(DEVICES if fitted else DEVICES[:-1]):
        yield device.address, {
            "unique number": 4200 + n, "manufacturer": 2046, "device instance": 0,
            "device function": device.function, "device class": device.device_class,
            "system instance": 0, "industry": 4, "arbitrary address": 1,
        }  # fmt: skip


def charger_state(stretch: Stretch) -> float:
    """Bulk, absorption or float, as the charger says it at the end of the stretch."""
    if stretch.electrics.floating:
        return _FLOAT
    return _ABSORPTION if stretch.electrics.bank_V[-1] > 14.15 else _BULK
