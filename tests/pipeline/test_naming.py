"""The watch's own naming of loads: what it reads, what it is told, what it keeps."""

from pathlib import Path

import numpy as np
import pytest

from monitor.clock import Interval
from monitor.errors import CommandError
from monitor.estimation.loads.trace import Floats
from monitor.pipeline.explain import CONVERTS, explain, house_trace, known_loads
from monitor.pipeline.memory import Memory
from monitor.pipeline.naming import LONGEST_NAME, Naming
from monitor.records import Command
from monitor.settings import Settings
from monitor.settings_file import parse_settings
from tests.estimation.loads.nights import Night, lives
from tests.pipeline.stored_nights import TEXT

TWO_BANKS = TEXT + '[[banks]]\nname = "second"\ncapacity_Ah = 200\n'
WITH_METERS = (
    TEXT
    + """
[[banks]]
name = "navigation"
role = "buffer"
chemistry = "lead"
capacity_Ah = 100
[[chargers]]
name = "shore charger"
kind = "shore"
into = "house"
[[chargers]]
name = "converter"
kind = "converter"
into = "navigation"
[[loads]]
name = "pilot"
"""
)
START_S = 1_780_000_000.0
HOUR = Interval(START_S, START_S + 3600.0)


class Told:
    """Readings made by hand: a constant each, every second."""

    def __init__(self, **channels: float) -> None:
        self._channels = {name.replace("_", " "): value for name, value in channels.items()}

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        if channel not in self._channels:
            return np.empty(0), np.empty(0)
        at_s = np.arange(during.start_s, during.end_s)
        return at_s, np.full(len(at_s), self._channels[channel])


class OfANight:
    """What was heard of a simulated night."""

    def __init__(self, night: Night) -> None:
        self._heard = night.heard

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        values = {"house current": self._heard.amps, "house voltage": self._heard.volts}.get(channel)
        if values is None:
            return np.empty(0), np.empty(0)
        inside = (self._heard.utc_s >= during.start_s) & (self._heard.utc_s < during.end_s)
        return self._heard.utc_s[inside], values[inside]


def of(text: str) -> Settings:
    return parse_settings(text, Path())


def test_two_banks_are_one_house() -> None:
    """By hand: 5 A at 13 V and 3 A at 13 V give 104 W together."""
    heard = Told(house_current=-5.0, house_voltage=13.0, second_current=-3.0, second_voltage=13.0)

    trace = house_trace(heard, of(TWO_BANKS), HOUR)

    assert trace.part(*HOUR).watts == pytest.approx(104.0)


def test_what_is_used_while_charging_is_what_was_made_less_what_went_in() -> None:
    """By hand: 20 A at 13.5 V made, 12 A of them into the bank: 8 A x 13.5 V are used."""
    heard = Told(house_current=12.0, house_voltage=13.5, shore_charger_current=20.0)

    trace = house_trace(heard, of(WITH_METERS), HOUR)

    assert trace.part(*HOUR).watts == pytest.approx(108.0, rel=1e-6)


def test_meters_and_the_converter_come_first() -> None:
    """By hand: 20 W and 2 A at 12.8 V through a converter that gives nine tenths of what it takes."""
    settings = of(WITH_METERS)
    heard = Told(house_current=-10.0, house_voltage=13.0, pilot_power=20.0, converter_current=2.0)
    trace = house_trace(heard, settings, HOUR)

    known = {load.name: load for load in known_loads(heard, settings, trace, HOUR, {})}
    named = explain(heard, settings, (), HOUR, {})

    assert float(known["pilot"].watts.mean()) == pytest.approx(20.0)
    assert float(known["converter"].watts.mean()) == pytest.approx(2.0 * 12.8 / CONVERTS)
    assert named is not None
    assert named.confidence["pilot"] > named.confidence["converter"]
    together = sum(named.watts.values()) + named.standing_W + named.unexplained_W
    assert together == pytest.approx(130.0)


class Lit(Told):
    """A lamp of 24 W on a circuit whose switch is heard, over 50 W of something else."""

    ON = ((600.0, 1500.0), (2000.0, 2300.0), (2600.0, 3500.0))

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        at_s = np.arange(during.start_s, during.end_s)
        lit = np.zeros(len(at_s))
        for start_s, end_s in self.ON:
            lit[(at_s >= START_S + start_s) & (at_s < START_S + end_s)] = 1.0
        values = {"house current": -(50.0 + 24.0 * lit) / 13.0, "saloon lamps running": lit}.get(channel)
        return super().samples(channel, during) if values is None else (at_s, values)


def test_a_circuit_whose_switch_is_heard_is_taken_as_the_truth() -> None:
    """By hand: 24 W for 900 + 300 + 900 s are 14 Wh."""
    settings = of(TEXT + '[[loads]]\nname = "saloon lamps"\n')
    named = explain(Lit(house_voltage=13.0), settings, (), HOUR, {})

    assert named is not None
    assert float(named.watts["saloon lamps"].sum()) / 3600 == pytest.approx(14.0, rel=0.02)


@pytest.fixture(scope="module")
def learned() -> Naming:
    boat, naming = lives(21), Naming(of(TEXT), Memory({}))
    for number in range(2):
        night = boat.night(number)
        assert naming.name(OfANight(night), night.during, {}, learn=True) is not None
    return naming


def test_loads_are_learned_and_survive_a_restart(learned: Naming) -> None:
    assert sum(kind.how == "cycles" for kind in learned.kinds) >= 2
    again = Naming(of(TEXT), Memory({"loads": learned.state()}))

    assert again.kinds == learned.kinds


def test_a_name_is_given_changed_and_withdrawn(learned: Naming) -> None:
    load = learned.kinds[0].id
    for name, stands in (("fridge", "fridge"), (" cool box ", "cool box"), ("", "")):
        learned.wish(Command("load", load, {"name": name}))
        assert next(kind for kind in learned.kinds if kind.id == load).name == stands
        assert learned.changed


def test_one_name_for_two_loads_is_the_crews_to_give(learned: Naming) -> None:
    for kind in learned.kinds[:2]:
        learned.wish(Command("load", kind.id, {"name": "lamps"}))

    assert [kind.name for kind in learned.kinds].count("lamps") == 2
    for kind in learned.kinds:
        learned.wish(Command("load", kind.id, {"name": ""}))


def test_a_wish_that_cannot_be_done_says_why(learned: Naming) -> None:
    with pytest.raises(CommandError, match="no load is known as 'load 999'"):
        learned.wish(Command("load", "load 999", {"name": "fridge"}))
    with pytest.raises(CommandError, match="a line of the ledger itself"):
        learned.wish(Command("load", learned.kinds[0].id, {"name": "Standing load"}))
    with pytest.raises(CommandError, match=f"longer than {LONGEST_NAME} characters"):
        learned.wish(Command("load", learned.kinds[0].id, {"name": "x" * 41}))


def test_a_night_hardly_heard_teaches_nothing() -> None:
    naming, night = Naming(of(TEXT), Memory({})), lives(21).night(0)
    during = Interval(night.during.start_s - 100 * 3600, night.during.end_s)

    assert naming.name(OfANight(night), during, {}, learn=True) is None
    assert naming.kinds == ()
