"""How the sources are: what their threads say, and what became of what they sent."""

from array import array
from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.channels import QUANTITIES
from monitor.records import Column, SourceHealth
from monitor.routing.router import Router
from monitor.settings import Settings

SILENT_S = 60.0
COUNTED = ("heard", "undecodable", "unknown", "dropped", "implausible")


class Healths:
    """Of live sources their threads tell; in a recording a source is up as long as it is heard."""

    def __init__(self, settings: Settings, router: Router) -> None:
        self._settings = settings
        self._router = router
        self._live: tuple[SourceHealth, ...] = ()
        self._before: dict[str, dict[str, int]] = {}

    def hear_of(self, healths: Iterable[SourceHealth], dropped: Mapping[str, int], now_s: float) -> None:
        """What the sources' own threads know, put together with what the router made of it."""
        told = []
        for health in healths:
            counts = self._router.counts[health.name]
            told.append(
                replace(
                    health,
                    undecodable=health.undecodable + counts.undecodable,
                    unknown=counts.unknown,
                    implausible=counts.implausible,
                    dropped=dropped.get(health.name, 0),
                    trouble=health.trouble or counts.told(now_s),
                )
            )
        self._live = tuple(told)

    def all(self, now_s: float) -> tuple[SourceHealth, ...]:
        return self._live or tuple(self._recorded(s.name, s.kind, now_s) for s in self._settings.sources)

    def _recorded(self, name: str, kind: str, now_s: float) -> SourceHealth:
        counts = self._router.counts[name]
        heard_at_s = counts.heard_at_s if counts.heard else None
        return SourceHealth(
            name,
            kind,
            up=heard_at_s is not None and now_s - heard_at_s <= SILENT_S,
            heard_at_s=heard_at_s,
            heard=counts.heard,
            undecodable=counts.undecodable,
            unknown=counts.unknown,
            implausible=counts.implausible,
            trouble=counts.told(now_s),
        )

    def columns(self, end_s: float, now_s: float) -> dict[str, Column]:
        """The minute's own counts as channels, so that a source's silence is seen like any other."""
        columns: dict[str, Column] = {}
        self._router.count_implausible()
        for health in self.all(now_s):
            now = {name: int(getattr(health, name)) for name in COUNTED}
            before = self._before.get(health.name, dict.fromkeys(now, 0))
            self._before[health.name] = now
            values = {"up": float(health.up)} | {name: float(now[name] - before[name]) for name in now}
            for name, value in values.items():
                if QUANTITIES[name].state or value:
                    columns[f"{health.name} {name}"] = Column(array("d", [end_s - 1.0]), array("d", [value]))
        return columns
