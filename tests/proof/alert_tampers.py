"""How faults change what the instruments say, each by its own physics."""

from array import array
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from monitor.records import Column
from simulators.loads import PUMP_A, PUMP_A_PER_BAR
from tests.proof.alert_minutes import PUMP, Minute

Columns = dict[str, Column]
Tamper = Callable[[Columns, float, float, Minute], Mapping[str, Any] | None]
"""Changes a minute's columns: its columns, seconds since the fault began, the fault's size; what else of the
minute changes."""


def _says(
    columns: Columns,
    name: str,
    value: float | Callable[[float], float],
    every_s: float = 0.0,
    start_s: float = 0.0,
) -> None:
    """Have a channel say so; a function of the elapsed time where it changes. A silent one speaks."""
    column = columns.get(name)
    if column is None or not column.times_s:
        every_s = every_s or 15.0
        column = Column(array("d", np.arange(start_s, start_s + 60.0, every_s)), array("d"))
    values = [value(t) if callable(value) else value for t in column.times_s]
    columns[name] = Column(column.times_s, array("d", values))


def _moves(columns: Columns, name: str, by: Callable[[float, float], float]) -> None:
    """Have a channel say something else than it said."""
    column = columns.get(name)
    if column is not None:
        columns[name] = Column(
            column.times_s, array("d", [by(t, v) for t, v in zip(column.times_s, column.values, strict=True)])
        )


def _wiggle(t: float) -> float:
    """A little noise that repeats itself for a moment."""
    return float(np.sin(t * 12.9898) * 43758.5453 % 1.0 - 0.5)


def _about(value: float, noise: float, digits: int) -> Callable[[float], float]:
    return lambda t: round(value + noise * _wiggle(t), digits)


def _current(columns: Columns, amps: float, share: float = 0.01) -> None:
    for name in ("house current", "house current (opinion 2)"):
        _says(columns, name, lambda t: round(amps * (1 + share * _wiggle(t)), 1))


def runs_down(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """One cell comes to the lower cut after `size` minutes, by the knee's own bend."""
    left = 1 - age_s / 60 / size
    _current(columns, -40.0)
    for n in range(1, 5):
        cell = 3.18 - (0.53 * max(0.0, 1 - left) ** 4 if n == 2 else 0.12 * max(0.0, 1 - left) ** 4)
        _says(columns, f"house cell {n} voltage", _about(cell, 0.001, 3))
    pack = 3 * (3.18 - 0.12 * (1 - left) ** 4) + 3.18 - 0.53 * (1 - left) ** 4
    for name in ("house voltage", "house voltage (opinion 2)"):
        _says(columns, name, lambda t: round(pack + 0.005 * _wiggle(t), 2))


def opens(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "house contactor closed", 0.0)
    for name in ("house current", "house current (opinion 2)"):
        _says(columns, name, 0.0)
    _says(columns, "house voltage", 0.3)


def cold(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _current(columns, 30.0)
    for n in (1, 2):
        _says(columns, f"house cell {n} temperature", round(size + 0.3 * n, 1))


def hot(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """`size` kelvin an hour."""
    for n in (1, 2):
        _says(columns, f"house cell {n} temperature", lambda t: round(min(64.0, 40 + size * age_s / 3600), 1))


def above(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _current(columns, 60.0 * size)
    _says(columns, "house charge limit", 60.0)


def turned(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _moves(columns, "house current", lambda t, v: -v)


def converter_lost(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """`size` amperes hang on a bank that only gives."""
    _says(columns, "converter current", 0.0)
    _says(columns, "navigation current", lambda t: round(-size + 0.1 * _wiggle(t), 1))
    volts = 12.75 + 0.8 * float(np.exp(-age_s / 120)) - 0.08 * age_s / 3600 * size / 3
    _says(columns, "navigation voltage", lambda t: round(volts + 0.01 * _wiggle(t), 2))


def buffer_low(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """Its charger gives too little: the bank stands at `size` volts."""
    _says(columns, "converter current", 3.0)
    _says(columns, "navigation current", lambda t: round(-0.6 + 0.1 * _wiggle(t), 1))
    _says(columns, "navigation voltage", lambda t: round(size + 0.01 * _wiggle(t), 2))


def shore(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "shore ac voltage", 224.0, start_s=minute.start_s)
    _says(columns, "shore ac current", lambda t: round(size + 0.1 * _wiggle(t), 1), start_s=minute.start_s)
    _says(columns, "shore ac power", round(size * 224 * 0.98), start_s=minute.start_s)


def sags(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "shore ac voltage", lambda t: round(size + 0.5 * _wiggle(t), 1), start_s=minute.start_s)
    _says(columns, "shore ac current", 4.0, start_s=minute.start_s)
    _says(columns, "shore ac power", round(size * 4), start_s=minute.start_s)


def set(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """The generator carries `size` watts."""
    start_s, volts = minute.start_s, 236.0 - 6 * size / 3200
    _says(columns, "generator speed", 3000.0, start_s=start_s)
    _says(columns, "generator supply ac voltage", round(volts, 1), start_s=start_s)
    _says(columns, "generator supply ac current", round(size / volts / 0.98, 1), start_s=start_s)
    _says(columns, "generator supply ac frequency", round(52 - 2 * size / 3200, 2), start_s=start_s)
    _says(
        columns, "generator supply ac power", lambda t: round(size * (1 + 0.01 * _wiggle(t))), start_s=start_s
    )


def helps(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    shore(columns, age_s, 9.9, minute)
    _current(columns, -size)


def pump(amps: float, bars: float, falls: float) -> Tamper:
    def tamper(columns: Columns, age_s: float, size: float, minute: Minute) -> Mapping[str, Any]:
        """It runs from the fault's beginning on."""
        start_s = minute.start_s
        first = start_s + (5.0 if age_s == 0 else 0.0)
        times = np.arange(first, start_s + 60.0, 1.0)
        bar = bars * size
        amp = amps if amps else PUMP_A + PUMP_A_PER_BAR * bar
        columns[f"{PUMP} current"] = Column(
            array("d", times), array("d", [round(amp + 0.15 * _wiggle(t), 1) for t in times])
        )
        _says(
            columns,
            f"{PUMP} pressure",
            lambda t: max(0.0, round(bar + 0.01 * _wiggle(t), 3)),
            start_s=start_s,
        )
        litres = falls * 12.1 * age_s / 60
        for tank in ("forward", "midship"):
            _moves(columns, f"{tank} level", lambda t, v: max(0.0, round(v - 100 * litres / 425, 1)))
        edges = tuple((float(t), 1.0) for t in times[::15])
        return {"edges": edges if age_s else ((first, 1.0), *edges[1:])}

    return tamper


def falls(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """Water is lost before the pump: `size` litres an hour, out of the midship tank."""
    _moves(columns, "midship level", lambda t, v: max(0.0, round(v - 100 * size * age_s / 3600 / 260, 1)))


def tap(columns: Columns, age_s: float, size: float, minute: Minute) -> Mapping[str, Any]:
    """`size` litres a minute run; 0.337 L of an accumulator fill at 11 L a minute."""
    start_s, runs, rests = minute.start_s, 60 * 0.337 / (11 - size), 60 * 0.337 / size
    edges, current = [], []
    t = start_s - start_s % (runs + rests)
    while t < start_s + 60.0:
        for at_s, on in ((t, 1.0), (t + runs, 0.0)):
            if start_s <= at_s < start_s + 60.0:
                edges.append((at_s, on))
        current += [
            (s, 5.0 + 0.3 * (s - t)) for s in np.arange(t + 0.5, t + runs, 1.0) if start_s <= s < start_s + 60
        ]
        t += runs + rests
    columns[f"{PUMP} current"] = Column(
        array("d", [s for s, _ in current]), array("d", [a for _, a in current])
    )
    for tank in ("forward", "midship"):
        _moves(columns, f"{tank} level", lambda s, v: max(0.0, round(v - 100 * size * age_s / 60 / 425, 1)))
    return {"edges": tuple(edges)}


def fills(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """`size` litres a minute into the midship tank, from 70 % on."""

    def level(t: float) -> float:
        since_s = age_s + t - minute.start_s
        return round(min(100.0, 70.0 + 100 * size * since_s / 60 / 260 + 0.1 * _wiggle(t)), 1)

    _says(columns, "midship level", level, start_s=minute.start_s)


def freezes(columns: Columns, age_s: float, size: float, minute: Minute) -> Mapping[str, Any]:
    """Nobody aboard; the cabin falls by `size` kelvin an hour from 8 degrees on."""
    _says(
        columns, "cabin temperature", round(max(-5.0, 8.0 - size * age_s / 3600), 1), start_s=minute.start_s
    )
    return {"people": "away"}


def stays(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "house current", round(-size, 1))


def jumps(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _moves(columns, "house charge", lambda t, v: max(0.0, round(v - size)))


def nothing(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    """The instruments go on as they were."""


def at_limit(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "converter current", 25.0)
    _says(columns, "navigation current", lambda t: round(-size + 0.1 * _wiggle(t), 1))
    _says(columns, "navigation voltage", lambda t: round(12.55 + 0.01 * _wiggle(t), 2))


def sender(columns: Columns, age_s: float, size: float, minute: Minute) -> None:
    _says(columns, "midship level", float("nan"), start_s=minute.start_s)
