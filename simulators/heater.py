"""The water heater: how warm it is, and how its water swells and shrinks."""

from dataclasses import dataclass


def density_kg_per_m3(celsius: float) -> float:
    """Density of air-free fresh water at one atmosphere. [kg/m3]

    Kell's rational polynomial (J. Chem. Eng. Data 20, 1975), 0 to 150 °C.
    """
    t = celsius
    top = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return top / (1 + 16.879850e-3 * t)


HEAT_J_PER_L_K = 4186.0
ELEMENT_W = 750.0


@dataclass(slots=True)
class Heater:
    """40 litres, well mixed. The element follows a thermostat on AC; the engine heats until 75 °C."""

    volume_L: float = 40.0
    engine_W: float = 1600.0
    loss_W_per_K: float = 1.1
    celsius: float = 38.0
    element_on: bool = False
    swollen_L: float = 0.0
    """Water pushed out by warming less water sucked in by cooling, since the beginning."""

    def warm(
        self, seconds: float, mains: bool, engine: bool, around: float, cold: float, hot_L: float
    ) -> float:
        """Go on so long while `hot_L` is drawn; returns the litres pushed out (negative: sucked in)."""
        if mains and self.celsius < 56.0:
            self.element_on = True
        elif not mains or self.celsius >= 61.0:
            self.element_on = False
        before = self.celsius
        watts = ELEMENT_W * self.element_on - self.loss_W_per_K * (before - around)
        if engine:
            watts += self.engine_W * min(1.0, max(0.0, (75.0 - before) / 8))
        joules = watts * seconds - HEAT_J_PER_L_K * hot_L * (before - cold)
        self.celsius = before + joules / (HEAT_J_PER_L_K * self.volume_L)
        pushed = self.volume_L * (density_kg_per_m3(before) / density_kg_per_m3(self.celsius) - 1)
        self.swollen_L += pushed
        return pushed
