"""Whether a tank's reading follows its pump: which tank is in use, and whether a sender is stuck."""

from typing import Any

from monitor.estimation.sender import Sender
from monitor.estimation.sender_faults import SenderFaults
from monitor.estimation.sounding import Sounding

STUCK_SHARE = 0.05
"""So much of the capacity pumped, and the reading must have followed."""
FALLS_SHARE = 0.3
"""A tank that falls by this share of what is pumped is in use."""
JUMP_PCT = 2.0
"""A change of the reading past this is a fill, another tank's turn, or a sender come free,"""
NOISES, STEPS = 4.5, 1.8
"""and past so many standard deviations of its noise, and so many of its own steps."""
AHEAD_MINUTES = 60
"""A run tells its litres when it is over: a fall seen before that is credited to it for so long."""
BLIND_PCT = 2.0
"""This near to either end a float may rest on its stop: twice as much must be pumped."""


class Following:
    """Of one tank. `flat`: the reading has stood still for more pump litres than a good sender could."""

    def __init__(self, capacity_L: float, sender: Sender, faults: SenderFaults) -> None:
        self._capacity_L, self._sender, self._faults = capacity_L, sender, faults
        self._mark_pct: float | None = None
        """The reading from which falls are judged."""
        self._fallen_L = 0.0
        self._ahead_L, self._ahead_minutes = 0.0, 0
        """Fallen before the mark, and more than had been told as pumped by then."""
        self.pumped_L = self.own_L = 0.0
        """Pumped since the mark: in all, and this tank's likely share."""
        self.flat = False
        self.stuck = False
        self.share: float | None = None
        """How much of what its pump moves is likely its own; None where that is not known."""

    def pumped(self, litres: float, own_L: float) -> None:
        self.pumped_L += litres
        self.own_L += own_L

    @property
    def unfallen_L(self) -> float:
        """Pumped since the reading was last seen to fall, and not seen as a fall of it."""
        return max(0.0, self.pumped_L - self._fallen_L)

    def minute(self, reading_pct: float, sounding: Sounding) -> None:
        """A believed median: judged each time enough has been pumped."""
        if self._mark_pct is None:
            self._mark_pct = reading_pct
        self._ahead_minutes -= 1
        if self._ahead_minutes == 0:
            self._settle_up()
        self._fallen_L = sounding.litres(self._mark_pct) - sounding.litres(reading_pct) + self._ahead_L
        share = max(STUCK_SHARE, 2 * self._sender.widest_step_pct / 100)
        blind = not BLIND_PCT <= reading_pct <= 100 - BLIND_PCT
        enough_L = share * self._capacity_L * (2 if blind else 1)
        falls = self.pumped_L >= enough_L and self._fallen_L >= FALLS_SHARE * self.pumped_L
        if falls or abs(reading_pct - self._mark_pct) >= self.jump_pct:
            self._faults.went(reading_pct - self._mark_pct, self.own_L)
            self._ahead_L, self._ahead_minutes = max(0.0, self._fallen_L - self.pumped_L), AHEAD_MINUTES
            self._mark_pct, self._fallen_L = reading_pct, self._ahead_L
            self.pumped_L = self.own_L = 0.0
            self.flat = self.stuck = False
        elif self.pumped_L >= enough_L:
            self.flat = True

    def _settle_up(self) -> None:
        """What was pumped for the early fall is accounted for; the rest of that fall was something else."""
        self.own_L = max(0.0, self.own_L - self._ahead_L)
        self.pumped_L = max(0.0, self.pumped_L - self._ahead_L)
        self._ahead_L = 0.0

    @property
    def jump_pct(self) -> float:
        """A change of the reading that is neither noise nor a step."""
        return max(JUMP_PCT, NOISES * self._sender.noise_pct, STEPS * self._sender.step_pct)

    @property
    def shows_L(self) -> float:
        """So much out of this tank, and its reading must have jumped."""
        return (self.jump_pct + self._sender.widest_step_pct) / 100 * self._capacity_L

    def anew(self) -> None:
        """The crew has turned a valve: who is in use is to be seen again."""
        self.share, self.flat = None, False
        self.pumped_L = self.own_L = 0.0

    def state(self) -> list[Any]:
        return [self._mark_pct, self.pumped_L, self.own_L, self.flat, self.stuck]

    def restore(self, state: list[Any], share: float | None) -> None:
        self._mark_pct, self.pumped_L, self.own_L, self.flat, self.stuck = state
        self.share = share
