"""Silence: a source that says nothing, and instruments that say nothing while their source speaks.

One situation is one alert: when a source is silent, the silence of its instruments is explained by
it. They are named in its reason and judged again when it speaks.
"""

from collections.abc import Iterator, Mapping
from functools import lru_cache

from monitor.alerts.facts import Facts
from monitor.channels import QUANTITIES, channel
from monitor.records import Finding, Reading, Reason, Severity
from monitor.settings import Charger, Engine, Inverter, Settings, Subject, Supply, Watermaker

SILENT_AFTER_S = 60.0
NEVER_HEARD_AFTER_S = 300.0
"""An instrument that was never heard is silent this long after the watch began."""


def sources(facts: Facts) -> Iterator[Finding]:
    """One finding for every source. A recording that has come to its end is not silent."""
    for health in facts.sources:
        patience_s = facts.limit("source silent", health.name)
        if health.kind == "recording":
            continue
        heard_at_s = facts.started_s if health.heard_at_s is None else health.heard_at_s
        silent = facts.at_s - heard_at_s >= patience_s
        fed = _fed_by(facts.settings, health.name)
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
            Severity.WARNING if _house(facts.settings) & set(fed) else None,
        )


def instruments(facts: Facts) -> Iterator[Finding]:
    """One finding for every subject that should always speak.

    Unknown while a source explains it: then it is the source's silence and not the instrument's.
    """
    heard = {health.name: health.heard_at_s for health in facts.sources}
    channels = _channels(facts)
    for subject in _steady(facts.settings):
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
        blind = bool({"", "voltage", "current"} & alone.keys()) and subject.name in _house(facts.settings)
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
    names = _channel_names(tuple(subject.name for _, subject in facts.settings.subjects()))
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


def _steady(settings: Settings) -> Iterator[Subject]:
    """The subjects that never sleep: an engine, a supply or a charger is silent when it is off."""
    for _, subject in settings.subjects():
        sleeps = isinstance(subject, Engine | Supply | Inverter | Watermaker) or (
            isinstance(subject, Charger) and subject.kind != "converter"
        )
        if subject.feeds and not sleeps:
            yield subject


def _house(settings: Settings) -> set[str]:
    return {bank.name for bank in settings.banks if bank.role == "house"}


def _fed_by(settings: Settings, source: str) -> list[str]:
    return [s.name for _, s in settings.subjects() if any(feed.source == source for feed in s.feeds)]
