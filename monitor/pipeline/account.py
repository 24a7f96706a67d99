"""Any span of the stored history explained with the loads that are known now, and drawn.

It is what the screens ask for: last night, a night of last year, the time away, a week.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from monitor.clock import DAY_S, MINUTE_S, Interval
from monitor.estimation.ledger import STANDING, SURE_NAME, night
from monitor.estimation.load_health import health
from monitor.estimation.loads.naming import Named
from monitor.estimation.loads.trace import Floats
from monitor.estimation.unusual import compared
from monitor.pipeline.explain import explain
from monitor.records import Account, EventKind, LoadKind, NightLedger
from monitor.settings import Settings
from monitor.storage.history import History

NAMED_UP_TO_S = 2 * DAY_S
"""A longer span is told by its sources and its sums: nobody draws its loads second by second."""
DRAWN_STEPS = 720


def account(
    history: History,
    settings: Settings,
    kinds: Sequence[LoadKind],
    during: Interval,
    nights: Sequence[NightLedger],
) -> Account | None:
    """A span explained; None where nothing of the house banks was stored of it. Raises StorageError.

    Args:
        kinds: The loads as they are known now: what was named today is named in the past too.
        nights: Those that are known, to compare with and to take from what only the watch knew then.
    """
    banks = [bank for bank in settings.banks if bank.role == "house"]
    utc_s, net_W = _minutes(history, "house net power", during)
    made_W = _minutes(history, "house made power", during)[1]
    if not banks or not np.isfinite(net_W).any():
        return None
    ran = pump_runs(history, settings, during)
    short = during.seconds <= NAMED_UP_TO_S
    named = explain(history, settings, kinds, during, ran) if short else None
    same = next((n for n in nights if n.start_s == during.start_s and n.end_s == during.end_s), None)
    made_by = {
        c.name: power
        for c in settings.chargers
        if c.into in {b.name for b in banks} and (power := _charger_W(history, c.name, during)) is not None
    }
    metered = any(c.into in {b.name for b in banks} for c in settings.chargers)
    starts = sum(during.start_s <= start_s < during.end_s for runs in ran.values() for start_s, _ in runs)
    ledger = night(
        during,
        utc_s,
        net_W,
        made_W if metered else None,
        named=named,
        kinds=kinds,
        made_by_W=made_by,
        water_L=same.water_L if same else _litres(history, during),
        pump_starts=starts if settings.pumps else None,
        lowest_V=_lowest(history, settings, during),
        dusk_pct=same.dusk_pct if same else None,
        dawn_pct=same.dawn_pct if same else None,
        place=same.place if same else "",
    )
    if same is not None:
        ledger = compared(replace(ledger, made_estimated=same.made_estimated, air_C=same.air_C), nights)
        ledger = replace(ledger, health=health(ledger, nights, kinds))
    return Account(ledger, *_drawn(during, named, kinds, utc_s, net_W, made_W))


def pump_runs(history: History, settings: Settings, during: Interval) -> dict[str, list[tuple[float, float]]]:
    """When each pump is known to have run, in UTC."""
    runs: dict[str, list[tuple[float, float]]] = {}
    names = {pump.name for pump in settings.pumps}
    for event, start_s, end_s in history.events(EventKind.PUMP_RUN, during):
        if event.subject in names and start_s is not None and end_s is not None:
            runs.setdefault(event.subject, []).append((start_s, end_s))
    return runs


def _minutes(history: History, channel: str, during: Interval) -> tuple[Floats, Floats]:
    """A figure kept once a minute, on an even grid of minutes; NaN where there is none."""
    count = int(np.ceil(during.seconds / MINUTE_S))
    begins: Floats = during.start_s + MINUTE_S * np.arange(count, dtype=np.float64)
    times, values = history.samples(channel, during)
    found = np.full(count, np.nan)
    if times.size:
        found[np.minimum(((times - during.start_s) // MINUTE_S).astype(int), count - 1)] = values
    return begins, found


def _charger_W(history: History, name: str, during: Interval) -> Floats | None:
    """Mean power of a charger by minute; None where it has no meter."""
    power = history.series(f"{name} power", during, points=int(during.seconds // MINUTE_S) + 1)
    if len(power.utc_s):
        return _spread(power.utc_s, power.mean, during)
    amps = history.series(f"{name} current", during, points=int(during.seconds // MINUTE_S) + 1)
    if not len(amps.utc_s):
        return None
    volts = history.series(f"{name} voltage", during, points=int(during.seconds // MINUTE_S) + 1)
    known = np.isfinite(volts.mean) if len(volts.utc_s) else np.zeros(0, bool)
    held = np.interp(amps.utc_s, volts.utc_s[known], volts.mean[known]) if known.any() else 12.8
    return _spread(amps.utc_s, amps.mean * held, during)


def _spread(at_s: Floats, watts: Floats, during: Interval) -> Floats:
    """On the even grid of minutes, each taking the nearest that stood before it, for a quarter of an hour."""
    begins = during.start_s + MINUTE_S * np.arange(int(np.ceil(during.seconds / MINUTE_S)))
    newest = np.searchsorted(at_s, begins + MINUTE_S, side="right") - 1
    old = (newest < 0) | (begins - at_s[np.maximum(newest, 0)] > 15 * MINUTE_S)
    return np.where(old, np.nan, np.maximum(0.0, watts[np.maximum(newest, 0)]))


def _litres(history: History, during: Interval) -> float | None:
    """What the pumps moved."""
    runs = [e for e, start_s, _ in history.events(EventKind.PUMP_RUN, during) if start_s is not None]
    return round(sum(float(e.facts.get("litres", 0.0)) for e in runs), 2) if runs else None


def _lowest(history: History, settings: Settings, during: Interval) -> dict[str, float]:
    found = {}
    for bank in settings.banks:
        low = history.series(f"{bank.name} voltage", during, points=400).low
        known = low[np.isfinite(low)] if len(low) else low
        if len(known):
            found[bank.name] = float(known.min())
    return found


def _drawn(
    during: Interval,
    named: Named | None,
    kinds: Sequence[LoadKind],
    utc_s: Floats,
    net_W: Floats,
    made_W: Floats,
) -> tuple[float, dict[str, tuple[float, ...]]]:
    """Power by load in even steps."""
    step_s = max(float(MINUTE_S), np.ceil(during.seconds / DRAWN_STEPS / MINUTE_S) * MINUTE_S)
    count = int(np.ceil(during.seconds / step_s))

    def thinned(at_s: Floats, watts: Floats) -> tuple[float, ...]:
        part = np.minimum(((at_s - during.start_s) // step_s).astype(int), count - 1)
        known = np.isfinite(watts) & (part >= 0)
        sums = np.bincount(part[known], watts[known], minlength=count)
        heard = np.bincount(part[known], minlength=count)
        return tuple(np.where(heard > 0, sums / np.maximum(heard, 1), np.nan).tolist())

    made = np.maximum(np.nan_to_num(made_W), np.maximum(np.nan_to_num(net_W), 0.0))
    drawn = {"made": thinned(utc_s, np.where(np.isfinite(net_W), made, np.nan))}
    if named is None:
        return step_s, {"unexplained": thinned(utc_s, made - net_W)} | drawn
    at_s, heard = named.trace.at_s(), np.isfinite(named.used_W)
    sure = {kind.id for kind in kinds if kind.name and kind.confidence >= SURE_NAME}
    learned = {kind.id for kind in kinds}
    rest = named.unexplained_W
    lines = {STANDING: named.standing_W}
    for load, watts in named.watts.items():
        if load in learned and load not in sure and not watts.any():
            continue
        lines[load] = watts
    lines["unexplained"] = rest
    return step_s, {
        what: thinned(at_s, np.where(heard, watts, np.nan)) for what, watts in lines.items()
    } | drawn
