"""The alert rules, one row each, and what a rule can find.

Grades follow IMO A.1021(26): alarm, warning, caution. A grade is a time to respond: an alarm wants
somebody within ten minutes or something is harmed, a warning within twelve hours, a caution when
there is time. Warnings and alarms stay open until somebody has seen them; cautions clear themselves.

The words of a rule stand in `monitor.words.alerts` as "RULE: name", "RULE: do" and "RULE: otherwise".
A rule without something to do has no row here: it would be a line in the log.

Delays are common practice for such instruments. On delays outlast a sag, a slosh or a lost message;
off delays, and the gap between "holds" and "clears", keep an alert from coming and going.
"""

from dataclasses import dataclass

from monitor.records import Severity

MINUTE_S = 60.0
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Rule:
    """One kind of alert."""

    id: str
    severity: Severity
    on_delay_s: float
    """How long the situation must hold without a break before it is an alert."""
    off_delay_s: float
    """How long it must be clear without a break before it is over."""
    respond_s: float
    """Within what time somebody should act."""
    raised: Severity | None = None
    """The grade the same alert rises to when the situation is worse."""
    urgent_delay_s: float | None = None
    """The on delay where the situation is worse."""
    follows: bool = False
    """Its figures are kept up to date while it clears: they stand on the page beside the alert."""
    passes: bool = False
    """Of no use once it is over: it need not have been seen."""
    wakes: bool = False
    """Of a warning: it sounds while all sleep, too."""


_ALARM, _WARNING, _CAUTION = Severity.ALARM, Severity.WARNING, Severity.CAUTION

RULES: dict[str, Rule] = {
    rule.id: rule
    for rule in (
        Rule("low voltage", _ALARM, 60, 300, 10 * MINUTE_S, urgent_delay_s=10),
        Rule("low charge", _WARNING, 300, 30 * MINUTE_S, 4 * HOUR_S),
        Rule("charge not vouched for", _CAUTION, 300, 30 * MINUTE_S, 24 * HOUR_S),
        Rule("charge unknown", _CAUTION, 60, 0, 7 * 24 * HOUR_S),
        Rule("cut coming", _WARNING, 0, 300, 20 * MINUTE_S, raised=_ALARM),
        Rule("cut off", _ALARM, 0, 60, 5 * MINUTE_S),
        Rule("cold charging", _WARNING, 30, 300, 20 * MINUTE_S, raised=_ALARM),
        Rule("hot cells", _WARNING, 60, 300, 30 * MINUTE_S, raised=_ALARM),
        Rule("cells apart", _CAUTION, HOUR_S, 6 * HOUR_S, 7 * 24 * HOUR_S),
        Rule("charge above limit", _WARNING, 60, 300, 30 * MINUTE_S),
        Rule("instruments disagree", _CAUTION, HOUR_S, HOUR_S, 7 * 24 * HOUR_S),
        Rule("sensor stuck", _CAUTION, 0, 60, 24 * HOUR_S),
        Rule("current reversed", _WARNING, 0, 300, 12 * HOUR_S),
        Rule("sensor off zero", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("charge jumped", _CAUTION, 0, HOUR_S, 24 * HOUR_S),
        Rule("bank changed", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("converter lost", _WARNING, 120, 300, 30 * MINUTE_S),
        Rule("converter at limit", _CAUTION, 300, 900, 2 * HOUR_S),
        Rule("buffer low", _WARNING, 300, 30 * MINUTE_S, 2 * HOUR_S, raised=_ALARM),
        Rule("buffer weak", _CAUTION, 0, 24 * HOUR_S, 7 * 24 * HOUR_S),
        Rule("shore overloaded", _WARNING, 30, 300, 10 * MINUTE_S),
        Rule("bank helps shore", _CAUTION, 300, HOUR_S, HOUR_S),
        Rule("supply sags", _CAUTION, 120, 6 * HOUR_S, HOUR_S, raised=_WARNING),
        Rule("generator overloaded", _WARNING, 60, 300, 20 * MINUTE_S),
        Rule("generator idles", _CAUTION, 15 * MINUTE_S, 15 * MINUTE_S, 2 * HOUR_S),
        Rule("charge today", _CAUTION, 30 * MINUTE_S, HOUR_S, 6 * HOUR_S, follows=True),
        Rule("few energy days", _WARNING, 30 * MINUTE_S, HOUR_S, 12 * HOUR_S, follows=True),
        Rule("low water", _WARNING, 10 * MINUTE_S, 30 * MINUTE_S, 12 * HOUR_S),
        Rule("few water days", _CAUTION, 30 * MINUTE_S, HOUR_S, 24 * HOUR_S, raised=_WARNING, follows=True),
        # The limit of a run and the leak judge's sums are delays of their own.
        Rule("pump running on", _WARNING, 0, 0, 10 * MINUTE_S, raised=_ALARM),
        Rule("leak suspected", _WARNING, 0, 0, 12 * HOUR_S),
        # What the plumbing is found to have is held by its own watch: no further delay.
        Rule("burst", _ALARM, 0, 60, 5 * MINUTE_S),
        Rule("pump dry", _ALARM, 0, 60, 10 * MINUTE_S),
        Rule("pump switch stuck", _ALARM, 0, 60, 10 * MINUTE_S),
        Rule("leak above the pump", _WARNING, 0, HOUR_S, 12 * HOUR_S),
        Rule("check valve leaks back", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("accumulator flat", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("relief valve weeps", _CAUTION, 0, HOUR_S, 24 * HOUR_S),
        Rule("tap left open", _WARNING, 0, 300, HOUR_S),
        Rule("strainer clogging", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("pump silent", _CAUTION, 0, 60, 24 * HOUR_S),
        Rule("tank nearly full", _WARNING, 0, 60, 5 * MINUTE_S, passes=True),
        Rule("tank sender wrong", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("water does not add up", _CAUTION, 0, HOUR_S, 7 * 24 * HOUR_S),
        Rule("water old", _CAUTION, HOUR_S, HOUR_S, 7 * 24 * HOUR_S),
        Rule("service due", _CAUTION, HOUR_S, HOUR_S, 7 * 24 * HOUR_S),
        Rule("plumbing may freeze", _WARNING, 300, HOUR_S, 6 * HOUR_S, raised=_ALARM),
        Rule("source silent", _CAUTION, 0, 10, 24 * HOUR_S, raised=_WARNING),
        Rule("instrument silent", _CAUTION, 60, 10, 24 * HOUR_S, raised=_WARNING),
        Rule("clock not confirmed", _CAUTION, 120, 0, 24 * HOUR_S),
        Rule("store trouble", _WARNING, 0, 60, 12 * HOUR_S),
        Rule("way out dead", _CAUTION, 0, 60, 24 * HOUR_S),
    )
}
