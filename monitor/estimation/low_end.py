"""What rested voltages do to the count of a lithium bank, and what they teach of its capacity."""

from typing import Any, NamedTuple

import numpy as np

from monitor.estimation.bands import BAND_90
from monitor.estimation.capacity import Capacity
from monitor.estimation.counting import ChargeCount
from monitor.estimation.knees import Rested, bounds, rested_charge, valid


class Spoken(NamedTuple):
    """A rested voltage that corrected the count after the last full: as which reason, how long ago, and
    what charge was left then. [s, %]"""

    reason: str
    ago_s: float
    pct: float


class LowEnd:
    """Sits on one count. Under the plateau a rested voltage corrects it. On the plateau it only says what
    cannot be: a share of the capacity, which may be more or less than believed. Between a full charge and
    the knee lies a known share of it."""

    def __init__(self, count: ChargeCount, label_Ah: float, label_sd: float) -> None:
        self._count = count
        self.capacity = Capacity(label_Ah, label_sd)
        self.spoken: Spoken | None = None
        self._knee: tuple[Rested, float] | None = None
        """Seen while the charge was unknown: what it said, and q in the count then. [Ah]"""

    def pass_by(self, seconds: float) -> None:
        """So much time has gone."""
        self.capacity.wait(seconds / 86400)
        if self.spoken is not None:
            self.spoken = self.spoken._replace(ago_s=self.spoken.ago_s + seconds)

    def rested(self, cell_V: float, celsius: float | None, anchored: bool) -> None:
        """A cell has rested at this voltage. `anchored`: the count began at a full charge."""
        knee, edges = rested_charge(cell_V, celsius), bounds(cell_V, celsius)
        if knee is not None and anchored:
            self._from_full(knee, celsius)
        elif knee is not None:
            self._count.put((1 - knee.pct / 100) * self._count.capacity_Ah, 0.0)
            self._knee = (knee, self._count.below_Ah)
        elif edges is not None and anchored:
            capacity_Ah, doubt_Ah = self._count.capacity_Ah, BAND_90 * self._count.capacity_sd_Ah
            least, most = edges
            least_Ah = max(0.0, capacity_Ah - doubt_Ah) * (1 - most / 100)
            if self._count.between(least_Ah, (capacity_Ah + doubt_Ah) * (1 - least / 100)):
                share = 1 - self._count.below_Ah / capacity_Ah
                self.spoken = Spoken("charge bounded by voltage", 0.0, 100 * share)

    def _from_full(self, knee: Rested, celsius: float | None) -> None:
        share, sd = knee.pct / 100, knee.sd_pct / 100
        fits = self._pair(knee, self._count.below_Ah, self._count.below_sd_Ah, celsius)
        self._count.rested(share, sd, fits)
        self.spoken = Spoken("charge seen at the low end", 0.0, knee.pct)
        if fits:
            self._count.holds(*self.capacity.learned(), sd)

    def full(self, below_Ah: float, sd_Ah: float, celsius: float | None, anchored: bool) -> None:
        """A full charge: the first one after a knee has filled a known share of the capacity."""
        if self._knee is not None and not anchored:
            knee, at_Ah = self._knee
            charged_Ah = at_Ah - self._count.below_Ah
            charged_sd_Ah = float(np.hypot(self._count.below_sd_Ah, sd_Ah))
            if self._pair(knee, charged_Ah + below_Ah, charged_sd_Ah, celsius):
                self._count.holds(*self.capacity.learned())
        self._knee = self.spoken = None

    def _pair(self, knee: Rested, moved_Ah: float, moved_sd_Ah: float, celsius: float | None) -> bool:
        """The capacity of a bank is that of a warm one: what it keeps to itself in the cold is no fading."""
        if celsius is not None and not valid(celsius):
            return False
        depth, depth_sd, table = 1 - knee.pct / 100, knee.sd_pct / 100, knee.table_sd_pct / 100
        return self.capacity.pair(depth, moved_Ah, depth_sd, moved_sd_Ah, table)

    def state(self) -> dict[str, Any]:
        return {"capacity": self.capacity.state(), "spoken": self.spoken, "knee": self._knee}

    def restore(self, state: dict[str, Any]) -> None:
        self.capacity.restore(state["capacity"])
        self.spoken = Spoken(*state["spoken"]) if state["spoken"] else None
        self._knee = (Rested(*state["knee"][0]), float(state["knee"][1])) if state["knee"] else None
