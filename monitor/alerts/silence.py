"""Silence: a source that says nothing, and instruments that say nothing while their source speaks.

One situation is one alert: when a source is silent, the silence of its instruments is explained by
it. They are named in its reason and judged again when it speaks.
"""

from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import NamedTuple

from monitor.alerts.facts import Facts
from monitor.channels import QUANTITIES, channel
from monitor.records import Finding, Reading, Reason, Severity
from monitor.settings import Charger, Engine, Inverter, Settings, Subject, Supply, Watermaker

SILENT_AFTER_S = 60.0
NEVER_HEARD_AFTER_S = 300.0
"""An instrument that was never heard is silent this long after the watch began."""
BLIND_S = 600.0
"""A house bank that nothing tells of for so long is a warning: until then a bus restarts and comes back. What
an alarm wants seen within ten minutes may come unheard after that."""


class _Aboard(NamedTuple):
    """What settings say of who speaks."""

    settings: Settings
    steady: tuple[Subject, ...]
    house: frozenset[str]
    fed: dict[str, list[str]]
    """By source: the subjects it tells of."""


_aboard: _Aboard | None = None


def sources(facts: Facts) -> Iterator[Finding]:
    """One finding for every source. A recording that has come to its end is not silent."""
    aboard = _who(facts.settings)
    for health in facts.sources:
        patience_s = facts.limit("source silent", health.name)
        if health.kind == "recording":
            continue
        heard_at_s = facts.started_s if health.heard_at_s is None else health.heard_at_s
        silent = facts.at_s - heard_at_s >= patience_s
        fed = aboard.fed.get(health.name, [])
        blind = facts.at_s - heard_at_s >= BLIND_S and not aboard.house.isdisjoint(fed)
        told = {
            "source": health.name,
            "silent_s": facts.at_s - heard_at_s,
            "trouble": health.trouble,
            "instruments": ", ".join(fed),
        }
        yield Finding(
            "source silent",
            health.name,
            silent,
            not silent,
            Reason(
                "alert: source silent" if health.heard_at_s is not None else "alert: source never heard", told
            ),
            Severity.WARNING if blind else None,
        )


def instruments(facts: Facts) -> Iterator[Finding]:
    """One finding for every subject that should always speak.

    Unknown while a source explains it: then it is the source's silence and not the instrument's.
    """
    heard = {health.name: health.heard_at_s for health in facts.sources}
    channels, aboard = _channels(facts), _who(facts.settings)
    for subject in aboard.steady:
        spoken = channels.get(subject.name, {"": Reading(facts.started_s, None, _overdue(facts))})
        silent = {name: reading.at_s for name, reading in spoken.items() if reading.silent}
        alone = {
            name: at_s for name, at_s in silent.items() if not _explained(facts, subject, name, at_s, heard)
        }
        quiet = True if alone else None if silent else False
        told = {
            "subject": subject.name,
            "quantities": ", ".join(alone),
            "silent_s": facts.at_s - min(alone.values(), default=facts.at_s),
        }
        since_s = (at_s for name, at_s in alone.items() if name in ("", "voltage", "current"))
        blind = subject.name in aboard.house and facts.at_s - min(since_s, default=facts.at_s) >= BLIND_S
        yield Finding(
            "instrument silent",
            subject.name,
            quiet,
            None if quiet is None else not quiet,
            Reason("alert: instrument never heard" if "" in alone else "alert: instrument silent", told),
            Severity.WARNING if blind else None,
        )


def _explained(
    facts: Facts, subject: Subject, name: str, at_s: float, heard: Mapping[str, float | None]
) -> bool:
    """Whether a source that may carry this channel has been as quiet as the channel itself."""
    known = facts.source_of.get(f"{subject.name} {name}")
    may_carry = (
        [known] if known else [f.source for f in subject.feeds if f.quantity in (None, name) or not name]
    )
    patience_s = QUANTITIES[name].silent_after_s if name else SILENT_AFTER_S
    last_words = [heard.get(source) for source in may_carry]
    return any(last_s is None or last_s - at_s < patience_s for last_s in last_words)


def _channels(facts: Facts) -> dict[str, dict[str, Reading]]:
    """The readings by subject and quantity. Further opinions may come and go: the first one counts."""
    names = _channel_names(tuple(subject.name for subject in _who(facts.settings).steady))
    by_subject: dict[str, dict[str, Reading]] = {}
    for name, reading in facts.values.items():
        if name in names:
            subject, quantity = names[name]
            by_subject.setdefault(subject, {})[quantity] = reading
    return by_subject


@lru_cache(maxsize=8)
def _channel_names(subjects: tuple[str, ...]) -> dict[str, tuple[str, str]]:
    measured = [q.name for q in QUANTITIES.values() if q.silent_after_s > 0]
    return {channel(subject, name).name: (subject, name) for subject in subjects for name in measured}


def _overdue(facts: Facts) -> bool:
    return facts.at_s - facts.started_s >= NEVER_HEARD_AFTER_S


def _who(settings: Settings) -> _Aboard:
    """Worked out once for settings: they never change, and this is asked at every look."""
    global _aboard
    if _aboard is None or _aboard.settings is not settings:
        fed: dict[str, list[str]] = {}
        for _, subject in settings.subjects():
            for source in dict.fromkeys(feed.source for feed in subject.feeds):
                fed.setdefault(source, []).append(subject.name)
        house = frozenset(bank.name for bank in settings.banks if bank.role == "house")
        _aboard = _Aboard(settings, tuple(_steady(settings)), house, fed)
    return _aboard


def _steady(settings: Settings) -> Iterator[Subject]:
    """The subjects that never sleep: an engine, a supply or a charger is silent when it is off."""
    for _, subject in settings.subjects():
        sleeps = isinstance(subject, Engine | Supply | Inverter | Watermaker) or (
            isinstance(subject, Charger) and subject.kind != "converter"
        )
        if subject.feeds and not sleeps:
            yield subject
