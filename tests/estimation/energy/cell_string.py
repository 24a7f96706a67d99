"""A string of cells for the tests of the cells: published voltage curves behind a resistance.

A123: a laboratory LFP cell of 2.07 Ah at C/27, mean of charge and discharge, 25 °C, from the data of
G. Plett's ESC toolbox (MIT): 5 to 98 %. Its test ends at 2.0 V; the upper end is the makers' charging
limit of 3.65 V. PRADA: an LFP model cell with the parameters of Prada et al. (2013) as PyBaMM has them
(Afshar, arXiv:1709.03970), 2.0 to 3.6 V.
"""

from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from monitor.estimation.cells import CellWatch
from monitor.estimation.watcher import Heard
from monitor.records import Column, Estimate, Finding, Mode, Reading
from monitor.settings import Bank, Boat, Charger, Engine, Settings

A123 = (
    (0, 2.0), (5, 3.025), (10, 3.178), (20, 3.245), (30, 3.280), (40, 3.301), (50, 3.308), (60, 3.317),
    (70, 3.330), (80, 3.345), (90, 3.352), (95, 3.369), (98, 3.440), (100, 3.65),
)  # fmt: skip
PRADA = (
    (0, 2.0), (10, 2.978), (20, 3.169), (30, 3.206), (50, 3.266), (70, 3.274), (80, 3.310), (90, 3.314),
    (99, 3.415), (100, 3.6),
)  # fmt: skip
CAPACITY_AH = 280.0
MODE = Mode("at anchor", "awake")


def settings(**bank: Any) -> Settings:
    return Settings(
        boat=Boat(name="Test"),
        banks=[Bank(name="house", capacity_Ah=CAPACITY_AH, **bank)],
        chargers=[
            Charger(name="alternator", kind="alternator", into="house"),
            Charger(name="panels", kind="sun", into="house"),
        ],
        engines=[Engine(name="engine")],
    )


@dataclass
class CellString:
    """Cells in series. `charges_pct` are their own; `parts` their capacities over the bank's."""

    charges_pct: list[float]
    curve: Sequence[tuple[float, float]] = A123
    parts: Sequence[float] = (1.0, 1.0, 1.0, 1.0)
    ohm: float = 0.0006
    current_A: float = 0.0

    def volts(self, current_A: float | None = None) -> list[float]:
        flows_A = self.current_A if current_A is None else current_A
        return [self._open_V(pct) + flows_A * self.ohm for pct in self.charges_pct]

    def _open_V(self, pct: float) -> float:
        """Beyond full the last slope goes on."""
        x, y = zip(*self.curve, strict=True)
        beyond = max(0.0, pct - x[-1]) * (y[-1] - y[-2]) / (x[-1] - x[-2])
        return float(np.interp(pct, x, y) + beyond)

    def step(self, current_A: float, seconds: float = 5.0, hold_V: float = np.inf) -> None:
        """One step with so much current, or less where a charger holds its voltage."""
        over_V = sum(self.volts(current_A)) - hold_V
        self.current_A = current_A - max(0.0, over_V) / (len(self.charges_pct) * self.ohm)
        for n, part in enumerate(self.parts):
            self.charges_pct[n] += 100 * self.current_A * seconds / 3600 / (CAPACITY_AH * part)


@dataclass
class Listener:
    """Hands minutes to a watch; channels that said nothing new are silent."""

    watch: CellWatch = field(default_factory=lambda: CellWatch(settings()))
    rng: np.random.Generator = field(default_factory=lambda: np.random.default_rng(1))
    at_s: float = 0.0
    readings: dict[str, Reading] = field(default_factory=dict)

    def hear(self, values: Mapping[str, Sequence[float] | float]) -> None:
        """One minute. NaN is "not available"."""
        columns = {}
        self.readings = {name: r._replace(silent=True) for name, r in self.readings.items()}
        for name, said in values.items():
            told = list(said) if isinstance(said, Sequence) else [said] * 4
            times = self.at_s + 60.0 * (np.arange(len(told)) + 0.5) / len(told)
            columns[name] = Column(array("d", times), array("d", told))
            last = told[-1]
            self.readings[name] = Reading(float(times[-1]), last if last == last else None, False)
        self.watch.take(Heard(self.at_s, None, 1, columns, dict(self.readings), MODE, {}))
        self.at_s += 60.0

    def live(
        self,
        cells: CellString,
        current_A: float | Sequence[float],
        hold_V: float = np.inf,
        *,
        alternator: bool = False,
        **more: float,
    ) -> None:
        """A minute of the string in steps of 5 s, its cells read to a millivolt and as much noise."""
        wanted_A = [current_A] * 12 if isinstance(current_A, int | float) else current_A
        rows, flowed = [], []
        for amps in wanted_A:
            cells.step(amps, 5.0, hold_V)
            rows.append(cells.volts())
            flowed.append(cells.current_A)
        noisy = np.round(np.array(rows) + self.rng.normal(0, 0.001, (len(rows), len(rows[0]))), 3)
        said: dict[str, Sequence[float] | float] = {
            f"house cell {n + 1} voltage": noisy[:, n].tolist() for n in range(noisy.shape[1])
        }
        said["house current"] = np.round(flowed, 1).tolist()
        said["house voltage"] = np.round(np.sum(rows, axis=1), 2).tolist()
        if alternator:
            said["alternator current"] = said["house current"]
        self.hear(said | {f"house {name.replace('_', ' ')}": value for name, value in more.items()})

    def finding(self, rule: str) -> Finding:
        (found,) = [f for f in self.watch.findings() if f.rule == rule]
        return found

    def estimate(self, name: str) -> Estimate:
        (found,) = [e for e in self.watch.estimates() if e.name == name]
        return found
