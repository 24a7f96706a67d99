"""What a tank tells besides its litres: whether it is drawn from, its table's drift, its pump's litres."""

from monitor.estimation.adding_up import Sum, add_up, apart, culprit, together
from monitor.estimation.sounding import Table
from monitor.estimation.teaching import Teaching
from monitor.records import Estimate, Reason
from monitor.settings import Tank

IN_USE, ISOLATED, DOUBTFUL = "in use", "isolated", "doubtful"
CONDITIONS = (IN_USE, ISOLATED, DOUBTFUL)
"""What the crew can say of a tank: its valve is open, or shut; or its water is not to be counted on."""
RATIO_BAND = 0.1
"""Half of the 90 % band of the ratio: a pump's flow is known to a tenth."""


class Comparison:
    """Of one tank with what its pump and its crew say."""

    def __init__(self, tank: Tank, teaching: Teaching, *, guessed: bool) -> None:
        self._tank, self._teaching, self._guessed = tank, teaching, guessed
        self._sum: Sum | None = None
        self.anew()

    def anew(self) -> None:
        """A piece was learned."""
        taught = self._teaching
        self._drifts = taught.drift()
        self._sum = add_up(taught.pieces, taught.table(), guessed=self._guessed and not taught.used)

    def estimates(
        self, at_s: float, table: Table, said: str, share: float | None, lost_L: float
    ) -> list[Estimate]:
        """`table`: the one gone by; `said`: one of `CONDITIONS`; `lost_L`: fallen although it is shut."""
        return [self._drift(at_s, table), self._ratio(at_s), self._share(at_s, said, share, lost_L)]

    def _drift(self, at_s: float, table: Table) -> Estimate:
        """tank_table_off_L: by how much the tank holds more than its table says, where that is most."""
        drift, pieces = self._drifts, len(self._teaching.pieces)
        if drift is None:
            reason = Reason("table: too little learned", {"pieces": pieces})
            return self._estimate("tank_table_off_L", at_s, reason)
        at_pct, off_L, half_L = drift
        told = {
            "pieces": pieces, "at_pct": at_pct, "off_L": off_L,
            "way": "more" if off_L >= 0 else "less", "by_L": abs(off_L), "table": table,
        }  # fmt: skip
        reason = Reason("table: taught and used" if self._teaching.used else "table: given one holds", told)
        return self._estimate("tank_table_off_L", at_s, reason, off_L, half_L)

    def _ratio(self, at_s: float) -> Estimate:
        """tank_pump_ratio: litres pumped for each litre the tank fell by its table; 1 where they agree."""
        found = self._sum
        if found is None:
            return self._estimate("tank_pump_ratio", at_s, Reason("sums: not enough compared"))
        told = {
            "pieces": found.pieces, "pumped_L": found.pumped_L, "fallen_L": found.fallen_L,
            "apart_pct": 100 * abs(found.ratio - 1), "culprit": culprit(found),
            "apart": apart(found.ratio), "together": together(found.ratio),
        }  # fmt: skip
        reason = Reason("sums: agree" if not apart(found.ratio) else "sums: apart", told)
        return self._estimate("tank_pump_ratio", at_s, reason, found.ratio, RATIO_BAND * found.ratio)

    def _share(self, at_s: float, said: str, share: float | None, lost_L: float) -> Estimate:
        """tank_share: how much of what its pump draws is this tank's, 0 to 1."""
        told = {"tank": self._tank.name, "lost_L": lost_L}
        if said == ISOLATED:
            reason = Reason("tank: shut off" if lost_L == 0 else "tank: shut off, yet it falls", told)
            return self._estimate("tank_share", at_s, reason, 0.0, 0.0)
        if share is None:
            return self._estimate("tank_share", at_s, Reason("tank: share not known", told))
        reason = Reason("tank: in use" if share else "tank: not drawn from", told)
        if said == DOUBTFUL:
            reason = Reason("tank: doubtful", told)
        return self._estimate("tank_share", at_s, reason, share, 0.0)

    def _estimate(
        self, name: str, at_s: float, reason: Reason, value: float | None = None, half: float = 0.0
    ) -> Estimate:
        if value is None:
            return Estimate(name, self._tank.name, at_s, None, None, None, reason)
        return Estimate(name, self._tank.name, at_s, value, value - half, value + half, reason)
