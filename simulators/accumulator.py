"""The bottle of air behind the pump: what it holds, gives, and loses with its air."""

from dataclasses import dataclass

ATMOSPHERE_BAR = 1.01325


@dataclass(frozen=True, slots=True)
class Accumulator:
    """A bladder in a gas volume, isothermal (Boyle): pressures in bar gauge, volumes in litres."""

    volume_L: float = 1.0
    precharge_bar: float = 1.2
    air: float = 1.0
    """What is left of its gas, as a part of what it was filled with."""

    @property
    def absolute_precharge_bar(self) -> float:
        return (self.precharge_bar + ATMOSPHERE_BAR) * self.air

    def water_L(self, bar: float) -> float:
        """Water held at that pressure."""
        gas = self.absolute_precharge_bar / (bar + ATMOSPHERE_BAR)
        return self.volume_L * (1 - min(1.0, gas))

    def bar(self, water_L: float) -> float:
        """Pressure with that much water in it; with none the pipe stands open: 0."""
        if water_L <= 0:
            return 0.0
        absolute_bar = self.absolute_precharge_bar * self.volume_L / (self.volume_L - water_L)
        return max(0.0, absolute_bar - ATMOSPHERE_BAR)

    def drawdown_L(self, cut_in_bar: float, cut_out_bar: float) -> float:
        """What it gives between pump stop and pump start."""
        return self.water_L(cut_out_bar) - self.water_L(cut_in_bar)
