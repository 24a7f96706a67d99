"""Water's density: how much room it takes warm and cold."""


def density_kg_per_L(temperature_C: float) -> float:
    """Density of air-free fresh water at one atmosphere.

    Valid from 0 to 100 °C, within 0.0001 kg/L; colder and hotter readings count as those.
    Source: G. S. Kell, J. Chem. Eng. Data 20 (1975) 97, equation 16.
    """
    t = min(max(temperature_C, 0.0), 100.0)
    above = 999.83952 + t * (
        16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return above / (1.0 + 16.879850e-3 * t) / 1000.0


def shrinkage_L(volume_L: float, from_C: float, to_C: float) -> float:
    """Water that enters a full vessel while it goes from one temperature to another.

    dV = V (rho(to) - rho(from)) / rho(to): negative while it is heated. [L]
    """
    if from_C == to_C:
        return 0.0
    return volume_L * (1.0 - density_kg_per_L(from_C) / density_kg_per_L(to_C))


def expansion_per_K(temperature_C: float) -> float:
    """How much water widens for one kelvin there, as a share of its volume. [1/K]"""
    return shrinkage_L(1.0, temperature_C + 0.5, temperature_C - 0.5)
