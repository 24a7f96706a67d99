"""A span's house current made a trace, and named: from the watch's memory, or from what is stored."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple, Protocol

import numpy as np

from monitor.clock import HOUR_S, Interval
from monitor.estimation.known_runs import power_of_runs
from monitor.estimation.loads.naming import Named, name_loads
from monitor.estimation.loads.trace import Floats, Trace, together, trace_of
from monitor.records import LoadKind
from monitor.settings import Charger, Settings

REACH_S = 2 * HOUR_S
"""So far beyond the span it is read, that runs are whole."""
CONVERTS = 0.9
"""Of what a DC-DC charger takes so much arrives (common practice: 0.87 to 0.94)."""
HELD_S = 120.0
METERED, RECKONED = 1.0, 0.9
"""How sure a power is that a meter tells, and one that is reckoned from when something ran."""
Runs = Mapping[str, Sequence[tuple[float, float]]]


class KnownLoad(NamedTuple):
    """A load that need not be learned: its power by step of the trace [W], and how sure that is."""

    name: str
    watts: Floats
    sure: float


class Samples(Protocol):
    """Readings at full rate."""

    def samples(self, channel: str, during: Interval) -> tuple[Floats, Floats]:
        """UTC seconds and values, in order."""


def house_trace(source: Samples, settings: Settings, during: Interval) -> Trace:
    """What was used from the house banks, some hours beyond the span on both sides."""
    reach = Interval(during.start_s - REACH_S, during.end_s + REACH_S)
    banks = [bank for bank in settings.banks if bank.role == "house"]
    traces = []
    for bank in banks:
        amps = source.samples(f"{bank.name} current", reach)
        volts = source.samples(f"{bank.name} voltage", reach)
        made = None
        if bank is banks[0]:
            into = [c for c in settings.chargers if c.into in {b.name for b in banks}]
            made = _made(source, into, amps[0], volts, reach, bank.nominal_V)
        traces.append(trace_of(*amps, *volts, made, nominal_V=bank.nominal_V))
    return together(traces)


def known_loads(
    source: Samples, settings: Settings, trace: Trace, during: Interval, runs: Runs
) -> list[KnownLoad]:
    """What is known without learning: what has a meter, then what is known to be on: circuits whose switch
    is heard, and pumps.

    Args:
        runs: By pump, when it is known to have run, in UTC.
    """
    at_s = trace.at_s()
    house = {bank.name: bank for bank in settings.banks if bank.role == "house"}
    known = [
        KnownLoad(load.name, taken, METERED)
        for load in settings.loads
        if (taken := _power(source, load.name, at_s, during, 12.8)) is not None
    ]
    metered = {load.name for load in known}
    for charger in settings.chargers:
        if charger.kind == "converter" and charger.into not in house:
            volts = next((b.nominal_V for b in settings.banks if b.name == charger.into), 12.8)
            given = _power(source, charger.name, at_s, during, volts)
            if given is not None:
                known.append(KnownLoad(charger.name, given / CONVERTS, RECKONED))
    switched = {
        load.name: _on(source, load.name, during)
        for load in settings.loads
        if load.name not in metered and load.bank in (None, *house)
    }
    for name, ran in (*switched.items(), *runs.items()):
        power = power_of_runs(without(trace, known), ran)
        if power is not None:
            known.append(KnownLoad(name, power, RECKONED))
    return known


def without(trace: Trace, known: Sequence[KnownLoad]) -> Trace:
    """What is left of a trace when what is known is taken out."""
    rest = trace.watts.copy()
    for load in known:
        rest -= np.nan_to_num(load.watts)
    return trace._replace(watts=rest)


def shared(trace: Trace, kinds: Sequence[LoadKind], during: Interval, known: Sequence[KnownLoad]) -> Named:
    """Share a trace out: what is known first, then what was learned."""
    named = name_loads(trace, kinds, during, known=[(load.name, load.watts) for load in known])
    return named._replace(confidence=named.confidence | {load.name: load.sure for load in known})


def explain(
    source: Samples, settings: Settings, kinds: Sequence[LoadKind], during: Interval, runs: Runs
) -> Named | None:
    """Read a span and share it out. None where nothing was heard of it."""
    trace = house_trace(source, settings, during)
    if not trace.watts.size:
        return None
    return shared(trace, kinds, during, known_loads(source, settings, trace, during, runs))


def _made(
    source: Samples,
    chargers: Sequence[Charger],
    at_s: Floats,
    volts: tuple[Floats, Floats],
    reach: Interval,
    nominal_V: float,
) -> tuple[Floats, Floats] | None:
    """What the house's chargers made together at these times; None where none is metered."""
    total, metered = np.zeros(len(at_s)), False
    for charger in chargers:
        power = _heard(source, f"{charger.name} power", at_s, reach)
        if power is None:
            amps = _heard(source, f"{charger.name} current", at_s, reach)
            if amps is None:
                continue
            known = np.isfinite(volts[1])
            power = amps * (np.interp(at_s, volts[0][known], volts[1][known]) if known.any() else nominal_V)
        metered = True
        total += np.maximum(np.nan_to_num(power), 0.0)
    return (at_s, total) if metered else None


def _power(source: Samples, name: str, at_s: Floats, during: Interval, nominal_V: float) -> Floats | None:
    """What flowed through a meter at these times; None where there is none. [W]"""
    reach = Interval(during.start_s - REACH_S, during.end_s + REACH_S)
    power = _heard(source, f"{name} power", at_s, reach)
    if power is None:
        amps = _heard(source, f"{name} current", at_s, reach)
        if amps is None:
            return None
        volts = _heard(source, f"{name} voltage", at_s, reach)
        power = amps * (nominal_V if volts is None else np.where(np.isfinite(volts), volts, nominal_V))
    found: Floats = np.maximum(np.nan_to_num(power), 0.0)
    return found


def _on(source: Samples, name: str, during: Interval) -> list[tuple[float, float]]:
    """When a circuit's switch was heard to be on; a silence ends it."""
    reach = Interval(during.start_s - REACH_S, during.end_s + REACH_S)
    times, values = source.samples(f"{name} running", reach)
    on = np.append(values > 0.5, False)
    held = np.append(np.diff(times) <= HELD_S, False)
    found: list[tuple[float, float]] = []
    for n in np.flatnonzero(on[:-1]).tolist():
        until_s = float(times[n + 1]) if held[n] else float(times[n])
        if found and found[-1][1] == float(times[n]):
            found[-1] = (found[-1][0], until_s)
        else:
            found.append((float(times[n]), until_s))
    return [(start_s, end_s) for start_s, end_s in found if end_s > start_s]


def _heard(source: Samples, channel: str, at_s: Floats, reach: Interval) -> Floats | None:
    """A channel's newest value at these times, NaN where it is old; None where it was never heard."""
    times, values = source.samples(channel, reach)
    if not times.size:
        return None
    newest = np.searchsorted(times, at_s, side="right") - 1
    found = np.where(
        (newest >= 0) & (at_s - times[np.maximum(newest, 0)] <= HELD_S), values[np.maximum(newest, 0)], np.nan
    )
    return np.asarray(found, np.float64)
