"""What the crew says of a tank on a screen: its valve is shut, it was filled, it was dipped."""

from collections.abc import Mapping
from typing import Any

from monitor.errors import CommandError
from monitor.estimation.tank_figures import CONDITIONS
from monitor.estimation.tanks import TankLevel
from monitor.records import Command, Event

ORDERS = frozenset({"tank", "fill"})
"""The kinds of command."""
LONGEST_TEXT = 60


def obey(tanks: Mapping[str, TankLevel], command: Command, at_s: float) -> Event | None:
    """ "tank": `state`, one of `CONDITIONS`, or `litres` as dipped (usable ones). "fill": `source`,
    `treated` and perhaps `litres`; its event is handed back. Raises CommandError, saying why."""
    tank = tanks.get(command.subject)
    if tank is None:
        known = ", ".join(tanks) or "none"
        raise CommandError(
            "no tank is called {tank!r}; there are: {known}", tank=command.subject, known=known
        )
    litres = _litres(command.facts.get("litres"), tank.tank.capacity_L)
    if command.kind == "fill":
        return tank.say_filled(at_s, _said(command.facts, litres))
    state = command.facts.get("state")
    if state is None and litres is None:
        raise CommandError(
            "say the tank's state, one of: {known}, or its litres", known=", ".join(CONDITIONS)
        )
    if state is not None and state not in CONDITIONS:
        raise CommandError(
            "{state!r} is no state of a tank; expected one of: {known}",
            state=state,
            known=", ".join(CONDITIONS),
        )
    if state is not None:
        tank.say_condition(state)
        for each in tanks.values():
            each.valve_turned()
    if litres is not None:
        tank.dipped(litres)
    return None


def _said(facts: Mapping[str, Any], litres: float | None) -> dict[str, Any]:
    treated = facts.get("treated")
    if not isinstance(treated, bool | None):
        raise CommandError("treated is {got!r}; expected yes or no", got=treated)
    said = {"source": str(facts.get("source") or "").strip()[:LONGEST_TEXT], "treated": treated}
    return said | ({} if litres is None else {"litres": litres}) | {"confirmed": True}


def _litres(told: object, capacity_L: float) -> float | None:
    if told is None or told == "":
        return None
    try:
        litres = float(told)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise CommandError("litres is {got!r}; expected a number", got=told) from None
    if not 0 <= litres <= capacity_L:
        raise CommandError(
            "{given:litres} do not go into a tank of {holds:litres}", given=litres, holds=capacity_L
        )
    return litres
