"""What the house banks hold together."""

from collections.abc import Mapping
from typing import NamedTuple

from monitor.records import Estimate
from monitor.settings import Settings


class HouseLeft(NamedTuple):
    """All house banks as one. [Wh] What is left is counted above 0 %; `low` and `high` are its 90 % band."""

    low_Wh: float
    likely_Wh: float
    high_Wh: float
    capacity_Wh: float
    reserve_Wh: float

    def pct(self, Wh: float) -> float:
        """An amount as a share of the capacity, between 0 and 100 %."""
        return 100 * min(1.0, max(0.0, Wh / self.capacity_Wh))

    @property
    def reserve_pct(self) -> float:
        return 100 * self.reserve_Wh / self.capacity_Wh


def house_left(settings: Settings, estimates: Mapping[tuple[str, str], Estimate]) -> HouseLeft | None:
    """The sum, errors of different banks taken as independent; None while the charge of any is unknown."""
    banks = [b for b in settings.banks if b.role == "house"]
    found = [estimates.get(("left_Wh", bank.name)) for bank in banks]
    likely_Wh = below_Wh2 = above_Wh2 = 0.0
    for left in found:
        if left is None or left.value is None or left.low is None or left.high is None:
            return None
        likely_Wh += left.value
        below_Wh2 += (left.value - left.low) ** 2
        above_Wh2 += (left.high - left.value) ** 2
    if not banks:
        return None
    capacity_Wh, reserve_Wh = sum(b.nominal_Wh for b in banks), sum(b.reserve_Wh for b in banks)
    low_Wh, high_Wh = max(0.0, likely_Wh - below_Wh2**0.5), likely_Wh + above_Wh2**0.5
    return HouseLeft(low_Wh, likely_Wh, high_Wh, capacity_Wh, reserve_Wh)
