"""A year of instruments that fall silent and heal by themselves, buses that restart, a computer that does."""

from collections.abc import Sequence

import numpy as np

from monitor.channels import QUANTITIES
from monitor.records import Reading, SourceHealth
from tests.proof.alert_boat import DAY_S
from tests.proof.alert_water import Watered

FINE_S = 15.0
HEALS_S = 600.0
STEADY = ("house voltage", "house current", "navigation voltage", "navigation current", "tank level",
          "pump running", "pump current", "heater temperature", "converter current", "attitude heel",
          "cabin temperature")  # fmt: skip
CARRIES = {"backbone": STEADY[2:7] + STEADY[8:], "battery bus": STEADY[:2], "broker": STEADY[7:8]}
WELL = {name: Reading(0.0, 1.0, False) for name in STEADY} | {
    "navigation voltage": Reading(0.0, 13.5, False),
}
SILENT_AFTER = {name: QUANTITIES[name.split(" ", 1)[1]].silent_after_s for name in STEADY}


class Unheard(Watered):
    """The same boat's instruments."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self._dark: list[tuple[float, float, str]] = []
        self._boots_s = float("inf")
        self.boot, self.boot_s = 1, -3600.0
        self._said_V = 13.2
        self._noise = self.rng.normal(0, 1, 4096).tolist()
        self.dead: dict[str, float] = {}
        """By source or channel: since when a fault has silenced it."""
        self.hose_s = float("inf")
        """From then on the pump runs, and nobody wants it."""

    def _plan_silence(self, start_s: float) -> None:
        """Dropouts of instruments, buses that restart, a computer that does."""
        rng = self.rng
        self._dark = []
        for name in STEADY:
            if rng.random() < 0.1:
                at_s = start_s + rng.uniform(0, DAY_S - HEALS_S)
                self._dark.append((at_s, at_s + min(540.0, rng.lognormal(np.log(25), 1.2)), name))
        for source in CARRIES:
            if rng.random() < 1 / 12:
                at_s = start_s + rng.uniform(0, DAY_S - HEALS_S)
                self._dark.append((at_s, at_s + min(300.0, rng.lognormal(np.log(30), 0.8)), source))
        self._dark.sort()
        self._boots_s = start_s + rng.uniform(0.05, 0.95) * DAY_S if rng.random() < 0.1 else float("inf")

    def _silent_since(self, at_s: float, name: str) -> float | None:
        dead_s = self.dead.get(name)
        if dead_s is not None and at_s >= dead_s:
            return dead_s
        for begin, end, what in self._dark:
            if what == name and begin <= at_s < end:
                return begin
        return None

    def _moments(self, start_s: float, sags: Sequence[tuple[float, float, float]]) -> list[float]:
        """Times to look at, beside the usual ones: in silences, long runs and sags."""
        found = []
        for begin, end, _ in self._dark:
            if end - begin > 20:
                found += [begin + k * FINE_S for k in range(1, int((end - begin) / FINE_S) + 1)]
        for begin, end in self.runs:
            if end - begin > 120:
                found += [begin + 100 + k * FINE_S for k in range(int((end - begin - 100) / FINE_S) + 1)]
        for begin, end, _ in sags:
            found += [begin + k * FINE_S for k in range(int((end - begin) / FINE_S) + 1)]
        if start_s <= self.fault_s < start_s + DAY_S:
            found.append(self.fault_s)
        if start_s <= self.hose_s < start_s + DAY_S:
            found += [self.hose_s + k * FINE_S for k in range(80)]
        return sorted(found)

    def _heard(
        self, at_s: float, here_s: float, volts: float
    ) -> tuple[tuple[SourceHealth, ...], dict[str, Reading]]:
        quiet: dict[str, float] = {}
        sources = []
        for source, kind in (("backbone", "can"), ("battery bus", "can"), ("broker", "mqtt")):
            since_s = self._silent_since(at_s, source) if self._dark or self.dead else None
            sources.append(
                SourceHealth(source, kind, since_s is None, (since_s or at_s) - self.boot_s)
                if since_s is not None
                else SourceHealth(source, kind, True, here_s)
            )
            if since_s is not None:
                quiet.update(dict.fromkeys(CARRIES[source], since_s))
        values = dict(WELL)
        for name in STEADY:
            own_s = self._silent_since(at_s, name) if self._dark or self.dead else None
            since_s = min((s for s in (quiet.get(name), own_s) if s is not None), default=None)
            if since_s is not None:
                said = self._said_V if name == "house voltage" else WELL[name].value
                values[name] = Reading(since_s - self.boot_s, said, at_s - since_s > SILENT_AFTER[name])
        if "house voltage" not in quiet and values["house voltage"] is WELL["house voltage"]:
            self._said_V = volts + 0.02 * self._noise[int(at_s / FINE_S) % 4096]
            values["house voltage"] = Reading(here_s, self._said_V, False)
        return tuple(sources), values
