"""A tank's sounding table by pouring known litres: after each the calmed reading, once it has settled."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from statistics import fmean, median
from typing import Any

from monitor.errors import CommandError
from monitor.estimation.calibration_steps import AGAIN, ENOUGH, LITRES, Now, Procedure
from monitor.estimation.sender import swing_pct
from monitor.estimation.sounding import Sounding, Table
from monitor.estimation.watcher import Heard
from monitor.records import Event, Measured, Reason
from monitor.settings import Settings, Tank
from monitor.words.tongues import N_

START, SETTLE, POUR = "start", "settle", "pour"
CALM_MINUTES = 3
"""So many minutes in a row agree before a reading counts."""
ALIKE_PCT, SWING_PCT = 0.4, 1.0
"""How near their medians lie, and how far a minute's readings may swing."""
UPRIGHT_DEG = 2.0
"""More heel or trim than that is not upright."""
LEAST_PAIRS = 3
RISE_PCT = 0.5
"""A pour that raises the reading by less says nothing."""
OVER_FULL = 1.1
"""The label is out by so much at most: beyond, a pour was miscounted."""


class SoundingByPouring(Procedure):
    """From low to full, or a part of it."""

    what = "sounding"

    def __init__(self, tank: Tank, settings: Settings, before: Table) -> None:
        super().__init__(tank.name, START)
        self._tank, self._before = tank, before
        self._level = f"{tank.name} level"
        self._tilts = [f"{i.name} {way}" for i in settings.instruments for way in ("heel", "pitch")]
        named = {p.name for p in settings.pumps if tank.name in (p.tanks or [t.name for t in settings.tanks])}
        self._pumps = named
        self.pairs: list[tuple[float, float]] = []
        """Readings and all the litres in it."""
        self._litres = 0.0
        """In it now."""
        self._asked_s: float | None = None
        self._medians: list[float] = []

    # ---- what is heard

    def minute(self, minute: Heard) -> None:
        if self.step != SETTLE or (self._asked_s is not None and minute.start_s < self._asked_s):
            return
        values = [float(v) for v in minute.values(self._level)]
        if not values:
            self._unsettled("unheard")
        elif any(abs(minute.mean(name) or 0.0) > UPRIGHT_DEG for name in self._tilts):
            self._unsettled("heels")
        elif swing_pct(values) > SWING_PCT:
            self._unsettled("swings")
        else:
            self.note = "" if self.note in ("unheard", "heels", "swings") else self.note
            self._medians = [*self._medians, median(values)][-CALM_MINUTES:]
            calm = max(self._medians) - min(self._medians) <= ALIKE_PCT
            if len(self._medians) == CALM_MINUTES and calm:
                self._settled(fmean(self._medians))

    def _unsettled(self, note: str) -> None:
        self._medians, self.note = [], note

    def _settled(self, reading_pct: float) -> None:
        self._medians = []
        if self.pairs and reading_pct < self.pairs[-1][0] + RISE_PCT:
            self.go(POUR, "no rise")
            return
        self.pairs.append((round(reading_pct, 2), round(self._litres, 2)))
        self.go(POUR)

    def ran(self, run: Event) -> None:
        """Water went that nobody measured: what stands so far is all there is."""
        if run.subject not in self._pumps or self.step not in (SETTLE, POUR):
            return
        if len(self.pairs) >= LEAST_PAIRS:
            self._conclude("drawn")
        else:
            self.facts = {"pump": run.subject}
            self.end("drawn")

    # ---- what the crew says

    @property
    def answers(self) -> tuple[str, ...]:
        if self.step == START:
            return (LITRES,)
        enough = (ENOUGH,) if len(self.pairs) >= LEAST_PAIRS else ()
        return (LITRES, *enough) if self.step == POUR else ((AGAIN,) if self.step == SETTLE else ())

    def answer(self, answer: str, litres: float | None, now: Now) -> None:
        if answer == ENOUGH:
            self._conclude()
        elif answer == AGAIN:
            self._medians, self._asked_s = [], now.at_s
        else:
            self._poured(litres)
            self._asked_s = now.at_s
            self._medians = []
            self.go(SETTLE)

    def _poured(self, litres: float | None) -> None:
        """So much more is in it; at first, so much stands in it."""
        least_L = 0.0 if self.step == START else 1e-9
        most_L = OVER_FULL * self._tank.capacity_L - (0.0 if self.step == START else self._litres)
        if litres is None or not least_L <= litres <= most_L:
            raise CommandError("the amount: expected a number up to {most:litres}", most=max(0.0, most_L))
        self._litres = litres if self.step == START else self._litres + litres

    # ---- what comes of it

    def _conclude(self, note: str = "") -> None:
        if not rises(self.pairs):
            self.end("does not rise")
            return
        table = completed(self.pairs, self._before, self._tank.capacity_L)
        covers = (self.pairs[0][0], self.pairs[-1][0])
        self.has(
            Measured(
                "sounding",
                self._tank.name,
                None,
                None,
                len(self.pairs),
                tuple(table),
                covers,
                before_table=tuple(self._before),
            )
        )
        self.note = note

    def told(self) -> Mapping[str, Any]:
        tank = self._tank
        return {
            "tank": tank.name, "bottom": tank.unusable_L, "in_it": self._litres, "capacity": tank.capacity_L,
            "pours": max(0, len(self.pairs) - 1), **self.facts,
        }  # fmt: skip

    def live(self, now: Now) -> Iterable[Reason]:
        level = now.newest(self._level)
        if level is None:
            yield Reason("calibration hears: level unheard", {"tank": self._tank.name})
        else:
            yield Reason("calibration hears: level", {"tank": self._tank.name, "now": level})
        tilts = [abs(v) for name in self._tilts if (v := now.newest(name)) is not None]
        if tilts:
            yield Reason("calibration hears: tilt", {"now": max(tilts)})
        if self.step == SETTLE:
            yield Reason("calibration hears: calm", {"calm": len(self._medians), "minutes": CALM_MINUTES})

    def noted(self) -> Iterable[Reason]:
        before = Sounding(self._before)
        for reading, litres in self.pairs:
            told = {"reading": reading, "litres": litres, "before": before.litres(reading)}
            yield Reason("calibration noted: pair", told)


REFUSED = N_("nothing is heard of the sender of {tank:text}")


def rises(pairs: Sequence[tuple[float, float]]) -> bool:
    """Whether readings and litres both rise from pair to pair."""
    return all(a[0] < b[0] and a[1] < b[1] for a, b in pairwise(pairs))


def completed(pairs: Sequence[tuple[float, float]], before: Table, capacity_L: float) -> Table:
    """The measured pairs, and beyond them the earlier table, moved to meet them: it never falls, never below
    nothing, and above what was measured not over the capacity."""
    old = Sounding(before)
    (first_pct, first_L), (last_pct, last_L) = pairs[0], pairs[-1]
    below = [(r, first_L + v - old.litres(first_pct)) for r, v in before if r < first_pct]
    above = [(r, last_L + v - old.litres(last_pct)) for r, v in before if r > last_pct]
    most_L = max(capacity_L, last_L)
    return [
        *((r, round(max(0.0, v), 2)) for r, v in below),
        *pairs,
        *((r, round(min(most_L, v), 2)) for r, v in above),
    ]
