"""The report of a replay: what was heard, what is left, what was told. Its keys are documented in the
README and stable: keys may be added, none is renamed. Unknown is null, never 0."""

from collections.abc import Iterable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.clock import Boot
from monitor.pipeline.watch import Pipeline
from monitor.records import AlertChange, Estimate, NightLedger, Severity, Share
from monitor.settings import Settings
from monitor.sources.captures import Skipped
from monitor.storage.history import History
from monitor.words.say import say
from monitor.words.units import Dress

OPEN_STATES = ("active", "acknowledged", "shelved")
GRADES = [Severity.CAUTION, Severity.WARNING, Severity.ALARM]


def iso(utc_s: float | None) -> str | None:
    """ISO 8601 in UTC, to the second; None where the time is not known."""
    if utc_s is None:
        return None
    return datetime.fromtimestamp(round(utc_s), UTC).isoformat().replace("+00:00", "Z")


def report_of(pipeline: Pipeline, settings: Settings, store: Path, skipped: Skipped) -> dict[str, Any]:
    """Everything a replay came to, ready to be written as JSON."""
    with closing(History(store)) as history:
        boots = {boot.number: boot for boot in history.boots()}
        alerts = alerts_of(history.alert_changes(), Dress(settings.boat.zone))
    latest = pipeline.snapshot(pipeline.now_s)
    found = latest.estimates
    pipeline.router.count_implausible()
    counts = pipeline.router.counts.values()
    return {
        "boat": settings.boat.name,
        "covers": {"from": iso(pipeline.first_utc_s), "to": iso(latest.utc_s)},
        "counts": {
            "frames": pipeline.frames,
            "messages": pipeline.messages,
            "samples": sum(c.samples for c in counts),
            "undecodable": sum(c.undecodable for c in counts)
            + skipped.lines
            + skipped.error_frames
            + skipped.remote_frames,
            "unknown": sum(c.unknown for c in counts),
            "implausible": sum(c.implausible for c in counts),
            "retained": sum(c.retained for c in counts),
        },
        "banks": {b.name: _bank(found, b.name, pipeline, boots) for b in settings.banks},
        "tanks": {t.name: {"left_L": _value(found, "tank_L", t.name, 1)} for t in settings.tanks},
        "water": {
            "left_L": _value(found, "left_L", "water", 1),
            "water_days": _days(found.get(("water_days", "water"))),
        },
        "pumps": {p.name: _pump(found, p.name, pipeline) for p in settings.pumps},
        "alerts": alerts,
        "nights": [_night(n) for n in latest.nights if latest.utc_s is None or n.end_s <= latest.utc_s],
    }


def estimate_line(utc_s: float, estimate: Estimate) -> dict[str, Any]:
    """One line of the estimates file."""
    return {
        "time": iso(utc_s),
        "name": estimate.name,
        "subject": estimate.subject,
        "value": _round(estimate.value, 4),
        "low": _round(estimate.low, 4),
        "high": _round(estimate.high, 4),
    }


def _bank(
    found: Mapping[tuple[str, str], Estimate], name: str, pipeline: Pipeline, boots: Mapping[int, Boot]
) -> dict[str, Any]:
    charge = found.get(("charge_pct", name))
    full_s = pipeline.energy.last_full_s()[name]
    boot = boots.get(pipeline.boot)
    return {
        "charge_pct": _round(charge.value if charge else None, 2),
        "charge_low_pct": _round(charge.low if charge else None, 2),
        "charge_high_pct": _round(charge.high if charge else None, 2),
        "left_Wh": _value(found, "left_Wh", name, 0),
        "energy_days": _days(found.get(("energy_days", name))),
        "autonomy_days": _days(found.get(("autonomy_days", name))),
        "last_full": iso(boot.utc_s(full_s)) if boot is not None and full_s is not None else None,
    }


def _pump(found: Mapping[tuple[str, str], Estimate], name: str, pipeline: Pipeline) -> dict[str, Any]:
    leak = found.get(("leak_L_per_h", name))
    verdict = pipeline.water.verdicts().get(name)
    suspected = leak is not None and leak.value is not None
    return {
        "runs": pipeline.water.run_count(name),
        "leak_L_per_day": {
            "value": _round(24 * (leak.value or 0.0), 2),
            "low": _round(24 * (leak.low or 0.0), 2),
            "high": _round(24 * (leak.high or 0.0), 2),
        }
        if leak is not None and suspected
        else None,
        "verdict": verdict[0] if verdict is not None else None,
    }


def alerts_of(changes: Iterable[tuple[AlertChange, float | None]], dress: Dress) -> list[dict[str, Any]]:
    """One entry an alert that somebody could hear, from its first transition to its last."""
    lives: dict[str, list[tuple[AlertChange, float | None]]] = {}
    for change, utc_s in changes:
        lives.setdefault(change.alert, []).append((change, utc_s))
    return [_alert(life, dress) for life in lives.values() if _heard(life)]


def _heard(changes: list[tuple[AlertChange, float | None]]) -> list[tuple[AlertChange, float | None]]:
    """Those in which nothing kept it out of hearing; none of an alert that its cause explained all along."""
    return [(c, utc_s) for c, utc_s in changes if c.state not in ("suppressed", "ended")]


def _alert(changes: list[tuple[AlertChange, float | None]], dress: Dress) -> dict[str, Any]:
    (first, began_s), (last, _) = _heard(changes)[0], changes[-1]
    ended_s = next((utc_s for c, utc_s in changes if c.state in ("returned", "ended")), None)
    return {
        "rule": first.rule,
        "subject": first.subject,
        "severity": max((c.severity for c, _ in changes), key=GRADES.index).value,
        "began": iso(began_s),
        "ended": iso(ended_s),
        "open": last.state in OPEN_STATES,
        "because": say(first.reason, dress),
        "reason": {"id": first.reason.id, **first.reason.facts},
    }


def _night(ledger: NightLedger) -> dict[str, Any]:
    return {
        "from": iso(ledger.start_s),
        "to": iso(ledger.end_s),
        "used_Wh": _round(ledger.used_Wh, 1),
        "made_Wh": _round(ledger.made_Wh, 1),
        "net_Wh": _round(ledger.net_Wh, 1),
        "by": [_share(share) for share in ledger.by if share.what],
        "unexplained_Wh": _round(ledger.unexplained_Wh, 1),
        "unnamed": [_share(share) for share in ledger.by if not share.what],
        "made_by": {share.what: _round(share.Wh, 1) for share in ledger.made_by},
        "gaps": [[iso(a), iso(b)] for a, b in ledger.gaps],
        "place": ledger.place or None,
        "usual_Wh": _round(ledger.usual.used_Wh if ledger.usual else None, 1),
        "changed": [{"id": reason.id, **reason.facts} for reason in ledger.changed],
        "health": [{"id": reason.id, **reason.facts} for reason in ledger.health],
        "air_C": ledger.air_C,
        "water_L": ledger.water_L,
        "lowest_V": dict(ledger.lowest_V),
        "pump_starts": ledger.pump_starts,
        "dusk_pct": _round(ledger.dusk_pct, 1),
        "dawn_pct": _round(ledger.dawn_pct, 1),
        "missing_s": ledger.missing_s,
        "made_estimated": ledger.made_estimated,
    }


def _share(share: Share) -> dict[str, Any]:
    return {
        "what": share.what or None,
        "load": share.load or None,
        "Wh": _round(share.Wh, 1),
        "confidence": share.confidence,
        "runs": None if share.runs is None else [[iso(a), iso(b)] for a, b in share.runs],
    }


def _days(estimate: Estimate | None) -> dict[str, Any] | None:
    if estimate is None or estimate.value is None:
        return None
    return {
        "likely": _round(estimate.value, 3),
        "cautious": _round(estimate.low, 3),
        "beyond": estimate.beyond,
    }


def _value(found: Mapping[tuple[str, str], Estimate], name: str, subject: str, digits: int) -> float | None:
    estimate = found.get((name, subject))
    return _round(estimate.value, digits) if estimate is not None else None


def _round(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
