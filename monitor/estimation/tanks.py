"""What is left in a tank, from a sender that slosh, heel and age make doubtful.

A median over a minute, then a trimmed mean over 15 minutes. While the boat heels, or the level
swings, the last good figure is held and told so; where the sender is silent or stuck, the figure
goes down by what the pump has moved and its band widens by all of it. Where there is no sender, or
one that goes the wrong way, the tank is reckoned from what the crew last knew of it.
"""

from math import hypot, sqrt
from statistics import fmean, median
from typing import Any

from monitor.estimation.bands import BAND_90
from monitor.estimation.filled import Fills
from monitor.estimation.following import Following
from monitor.estimation.level_minutes import Level, heard, pieces
from monitor.estimation.reckoning import Reckoning
from monitor.estimation.sender import Sender, swing_pct
from monitor.estimation.sender_faults import SenderFaults
from monitor.estimation.settled import SettledPieces
from monitor.estimation.sounding import Sounding, table_of
from monitor.estimation.tank_figures import DOUBTFUL, IN_USE, ISOLATED, Comparison
from monitor.estimation.teaching import Piece, Teaching
from monitor.records import Column, Estimate, Event, Reason
from monitor.settings import Tank

PIECE_S = 60.0
HEEL_DEG = 5.0
SWING_PCT = 1.0
FLICKER = 0.55
"""Between two neighbouring steps a reading flickers by half a step (sd), and that is no slosh."""
SILENT_S = 300.0
TABLE_SHARE, LINE_SHARE = 0.01, 0.03
"""Error of a sounding table and of a straight line in its stead, of the capacity (sd)."""


class TankLevel:
    """One tank's usable litres: those above the unusable bottom."""

    def __init__(self, tank: Tank) -> None:
        self.tank = tank
        given = table_of(tank)
        self._guessed = not tank.sounding and tank.shape == "straight"
        self._sounding = Sounding(given)
        self._level = Level()
        self._good_s: float | None = None
        self._held: str | None = None
        self._sender = Sender()
        self._faults = SenderFaults(given, tank.capacity_L)
        self.follows = Following(tank.capacity_L, self._sender, self._faults)
        self._since_L = self._since_share_L = 0.0
        """Pumped since the level was last good: in all, and this tank's likely share."""
        self.unexplained_L = 0.0
        """Pumped although no tank of the pump has moved."""
        self._fills = Fills(tank)
        self._settled = SettledPieces(tank.capacity_L, given[-1][0] - given[0][0])
        self._teaching = Teaching(given, self._guessed)
        self._compared = Comparison(tank, self._teaching, guessed=self._guessed)
        self._reckoning = Reckoning(tank)
        self.condition = DOUBTFUL if tank.doubtful else IN_USE
        """What the crew says of it, one of `CONDITIONS`."""
        self._shut_pct: float | None = None
        """The highest level since the valve was shut."""

    # ---- what is heard

    def take(self, level: Column, heel: Column | None = None) -> list[Event]:
        """A stretch of the sender's readings [%] and of the heel [°]; the fills that ended."""
        told = []
        for start_s, readings in pieces(level, PIECE_S):
            heeled = [v for t, v in heard(heel) if start_s <= t < start_s + PIECE_S]
            tilt = abs(fmean(heeled)) if heeled else 0.0
            event = self._minute(start_s + PIECE_S, readings, tilt)
            if event is not None:
                told.append(event)
        return told

    def pumped(self, litres: float, among: int = 1) -> None:
        """A pump moved so much, out of one of `among` tanks of which this is one."""
        share = 1 / among if self.share is None or among == 1 else self.share
        own_L = litres * share
        self._since_L += litres
        self._since_share_L += own_L
        self.follows.pumped(litres, own_L)
        self._fills.pumped(own_L)
        self._reckoning.pumped(own_L, litres if self.share is None else own_L)
        if share == 1.0:
            self._settled.pumped(litres)
        elif share > 0.0:
            self._settled.void()

    def _minute(self, end_s: float, readings: list[float], tilt_deg: float) -> Event | None:
        middle = median(readings)
        swing = swing_pct(readings)
        self._sender.learn_step(readings)
        self._faults.minute(middle)
        self._held = None
        if tilt_deg > HEEL_DEG:
            self._held = "tank held for heel"
        elif swing > max(SWING_PCT, FLICKER * self._sender.step_pct):
            self._held = "tank held for slosh"
        if self._held is not None:
            self._settled.wait()
            return None
        self._sender.learn_noise(min(swing, SWING_PCT))
        self._good_s, self._since_L, self._since_share_L = end_s, 0.0, 0.0
        self.follows.minute(middle, self._sounding)
        event = self._filling(end_s, middle)
        self._settle(end_s, self._level.add(middle, self._sender.moved_pct, anew=self._fills.filling))
        return event

    def _filling(self, end_s: float, middle: float) -> Event | None:
        if self._level.pct is None:
            return None
        litres = self._sounding.litres
        event = self._fills.minute(end_s, litres(middle), litres(self._level.pct), middle, self._level.pct)
        self._learn(self._fills.learned())
        if event is not None:
            # What was learned counts from a fill on: in between, a jump of the litres would be a leak's.
            self._sounding = Sounding(self._teaching.table())
        return event

    def _settle(self, end_s: float, level_pct: float) -> None:
        """What a settled reading adds to the table, and whether a shut tank holds."""
        if self.condition == ISOLATED:
            self._shut_pct = max(level_pct, self._shut_pct or level_pct)
        if self._fills.filling or self._faults.reversed:
            self._settled.void()
        elif not self.follows.flat:
            self._learn(self._settled.minute(end_s, level_pct))

    def _learn(self, piece: Piece | None) -> None:
        if piece is not None:
            self._teaching.learn(piece)
            self._compared.anew()

    # ---- what the crew says

    def say_condition(self, condition: str) -> None:
        """One of `CONDITIONS`."""
        self.condition = condition
        self._shut_pct = self._level.pct if condition == ISOLATED else None

    def valve_turned(self) -> None:
        """Of this tank or another of its pump: who is drawn from is to be seen again."""
        self.follows.anew()
        self._settled.void()

    def dipped(self, litres: float) -> None:
        """So much can be used, as the crew found it: counts where there is no sender to go by."""
        self._reckoning.stands_at(litres)

    def say_filled(self, at_s: float, said: dict[str, Any]) -> Event:
        """The crew has filled it: `said` has source, treated and perhaps litres. The event it comes to:
        that of a fill found within the last half day, now confirmed, or one of its own."""
        litres = said.get("litres")
        if self.blind:
            self._reckoning.filled(litres)
        event, found = self._fills.say(at_s, said)
        self._learn(self._fills.learned())
        if not found and litres is not None and self._fills.fell_instead(litres):
            self._faults.fell_while_filled()
        return event

    def retabled(self) -> None:
        """Another table is given than the one it had: what was taught bends that one from now on."""
        self._teaching.used = False
        self._sounding = Sounding(self._teaching.table())
        self._compared.anew()

    # ---- what it comes to

    @property
    def taught(self) -> tuple[int, bool]:
        """From how many pieces it has learned, and whether the table they make is gone by."""
        return len(self._teaching.pieces), self._teaching.used

    @property
    def share(self) -> float | None:
        """How much of what its pump moves is likely its own; None where that is not known."""
        return self.follows.share

    @property
    def stuck(self) -> bool:
        return self.follows.stuck

    @property
    def blind(self) -> bool:
        """There is no sender to go by."""
        return self._level.pct is None or self._faults.reversed

    @property
    def good(self) -> bool:
        """Whether the newest minute of the sender was believed, and nothing pumped since."""
        return not self.blind and self._held is None and self._since_L == 0.0

    @property
    def shut_lost_L(self) -> float:
        """By how much it has fallen although its valve is said to be shut; within its noise: 0."""
        if self._shut_pct is None or self._level.pct is None:
            return 0.0
        fell = self._shut_pct - self._level.pct > self.follows.jump_pct
        litres = self._sounding.litres
        return litres(self._shut_pct) - litres(self._level.pct) if fell else 0.0

    def further(self, at_s: float) -> list[Estimate]:
        """What the tank has taught of its table and of the pump, and whether it is drawn from."""
        table = self._sounding.table
        return self._compared.estimates(at_s, table, self.condition, self.share, self.shut_lost_L)

    def estimates(self, at_s: float) -> list[Estimate]:
        """tank_L: the litres that can be used, with a 90 % band. None where never heard."""
        return [self._left(at_s)]

    def _left(self, at_s: float) -> Estimate:
        if self._level.pct is None or self._faults.reversed:
            told = {"silent_s": None, "pumped_L": self._since_L}
            unknown = Reason("tank never heard") if self._held is None else Reason(self._held, told)
            return self._reckoning.estimate(at_s, unknown, reversed=self._faults.reversed)
        value_L = self._usable_L(self._level.pct)
        half_L = self._half_band_L(self._level.pct)
        reason, all_L, share_L = self._why(at_s)
        low_L, high_L = value_L - half_L - all_L, value_L + half_L
        value_L = max(0.0, value_L - share_L)
        most_L = self.tank.capacity_L - self.tank.unusable_L
        return Estimate("tank_L", self.tank.name, at_s, value_L, max(0.0, low_L), min(most_L, high_L), reason)

    def _why(self, at_s: float) -> tuple[Reason, float, float]:
        """What the figure rests on, and what may and what likely has gone since."""
        silent_s = None if self._good_s is None else at_s - self._good_s
        facts = {"silent_s": silent_s, "pumped_L": self._since_L}
        if self.stuck:
            flat = self.follows
            return Reason("tank sender stuck", {"pumped_L": flat.pumped_L}), flat.pumped_L, flat.own_L
        if self._held is not None:
            return Reason(self._held, facts), self._since_L, self._since_share_L
        if silent_s is None or silent_s > SILENT_S:
            return Reason("tank sender silent", facts), self._since_L, self._since_share_L
        facts = {"level_pct": self._level.pct, "outside_pct": self._faults.outside_pct}
        return Reason("tank level", facts), self.unexplained_L, 0.0

    def _usable_L(self, reading_pct: float) -> float:
        return max(0.0, self._sounding.litres(reading_pct) - self.tank.unusable_L)

    def _half_band_L(self, reading_pct: float) -> float:
        """Half of the 90 % band: the sender's noise and step through the table, and the table."""
        litres, sd_pct = self._sounding.litres, self._sender.sd_pct
        at_sender_L = litres(reading_pct + sd_pct) - litres(reading_pct - sd_pct)
        table_L = (LINE_SHARE if self._guessed else TABLE_SHARE) * self.tank.capacity_L
        table_L = hypot(table_L, self._teaching.sd_L(reading_pct) or 0.0)
        return BAND_90 * sqrt((at_sender_L / 2) ** 2 + table_L**2)

    # ---- restarts

    def state(self) -> dict[str, Any]:
        """What must outlive a restart, as JSON values."""
        return {
            "level_pct": self._level.pct,
            "sender": self._sender.state(),
            "since_L": [self._since_L, self._since_share_L],
            "flat": self.follows.state(),
            "share": self.share,
            "said": [self.condition, self._shut_pct, self.tank.doubtful],
            "faults": self._faults.state(),
            "reckoning": self._reckoning.state(),
            "teaching": self._teaching.state(),
            "table": self._sounding.table,
        }

    def restore(self, state: dict[str, Any]) -> None:
        """The inverse of `state`: until the sender is heard again the level counts as silent."""
        self._level.pct = state["level_pct"]
        self._sender.restore(state["sender"])
        self._since_L, self._since_share_L = state["since_L"]
        self.follows.restore(state["flat"], state["share"])
        if "said" in state:
            condition, shut_pct, doubtful = state["said"]
            if doubtful == self.tank.doubtful:  # Settings that were changed since go before.
                self.condition, self._shut_pct = condition, shut_pct
            self._faults.restore(state["faults"])
            self._reckoning.restore(state["reckoning"])
            self._teaching.restore(state["teaching"])
            self._sounding = Sounding([(float(r), float(v)) for r, v in state["table"]])
            self._compared.anew()
