"""What a charger's meter said in a minute."""

from monitor.estimation.supply import now
from monitor.estimation.watcher import Heard
from monitor.settings import Charger


def charger_W(minute: Heard, charger: Charger, nominal_V: float) -> float | None:
    """By its power, else its current; None where it has no meter, or that is silent.

    The voltage is its own, else the bank's, else `nominal_V`. What flows back counts as nothing.
    """
    watts = now(minute, f"{charger.name} power")
    if watts is None:
        amps = now(minute, f"{charger.name} current")
        volts = now(minute, f"{charger.name} voltage") or now(minute, f"{charger.into} voltage")
        watts = None if amps is None else amps * (volts or nominal_V)
    return None if watts is None else max(0.0, watts)
