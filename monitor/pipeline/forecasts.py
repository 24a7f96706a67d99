"""How long the energy lasts: both forecasts, what they rest on, and what came of the earlier ones."""

from collections.abc import Iterator
from typing import Any

from monitor.clock import DAY_S, HOUR_S, MINUTE_S, Interval
from monitor.estimation.forecast import Forecast, as_estimate, forecast
from monitor.estimation.passage import Stand, lowest, stand_at, thinned
from monitor.estimation.scoring import EVERY_S, HORIZON_DAYS, Outcome, Scores
from monitor.estimation.sun import darkness, shape_of_day
from monitor.estimation.use import UseHistory
from monitor.pipeline.power import MinuteSum
from monitor.pipeline.recall import kept_hours
from monitor.records import Estimate, Event, EventKind, Mode, Reason
from monitor.settings import Settings
from monitor.storage.history import History

DAWN_WITHIN_S = 36 * HOUR_S
"""Beyond the arctic circles there may be none."""
LOWEST_WITHIN_S = DAY_S
SHORE_CARRIES = 1.5
"""Of what is used in a day. Common practice: a shore charger is sized to carry the boat and charge her."""


class EnergyForecasts:
    """Owns the hours of use, the forecast with charging and the one with none, and their scores."""

    def __init__(self, settings: Settings) -> None:
        self._house = [b for b in settings.banks if b.role == "house"]
        self._usual = settings.usual
        self.use = UseHistory()
        self.charging: Forecast | None = None
        """With the charging usual for this mode."""
        self.autonomy: Forecast | None = None
        """With none: if the shore supply failed and the sun stayed away."""
        self.scores = Scores()
        self._kept_at_s = float("-inf")
        self._at_dawn: Stand | None = None
        self._at_lowest: Stand | None = None

    @property
    def reserve_Wh(self) -> float:
        return sum(b.reserve_Wh for b in self._house)

    @property
    def capacity_Wh(self) -> float:
        return sum(b.nominal_Wh for b in self._house)

    # ---- a minute

    def minute(
        self,
        utc_s: float,
        mode: Mode,
        heard: MinuteSum | None,
        sun_Wh: float | None,
        full: bool,
        left_Wh: float | None,
    ) -> list[Outcome]:
        """Take the sums of the minute that begins at `utc_s`; the earlier forecasts it settles.

        `full`: the house banks took no more than they pleased.
        """
        used_Wh = None
        if heard is not None and heard.covered_s > 0:
            used_Wh = heard.made_Wh - heard.net_Wh
            sun_Wh = None if sun_Wh is None else min(sun_Wh, heard.made_Wh)
            for part in Interval(utc_s, utc_s + MINUTE_S).hours():
                share = part.seconds / MINUTE_S
                covered_s = heard.covered_s * share
                self.use.add(
                    part.start_s // HOUR_S * HOUR_S,
                    mode.place,
                    mode.people,
                    used_Wh * share,
                    heard.made_Wh * share,
                    covered_s,
                    None if sun_Wh is None else sun_Wh * share,
                    covered_s if full else 0.0,
                )
        above_Wh = None if left_Wh is None else left_Wh - self.reserve_Wh
        return self.scores.see(utc_s + MINUTE_S, used_Wh, above_Wh)

    # ---- the forecasts

    def draw(
        self,
        utc_s: float,
        at_s: float,
        posteriors: list[tuple[float, float] | None],
        position: tuple[float, float],
        mode: Mode,
        boot: int,
    ) -> Iterator[Event]:
        """Draw both anew from what is left in each house bank (mean and sd, Wh); every six hours they
        are kept, with their course, beside what will come of them, and followed."""
        known = [p for p in posteriors if p is not None]
        if not known or len(known) < len(posteriors):
            self.charging = self.autonomy = None
            return
        left, sd = sum(p[0] for p in known), sum(p[1] ** 2 for p in known) ** 0.5
        self.charging, self.autonomy = (
            forecast(
                utc_s,
                left,
                sd,
                self.reserve_Wh,
                self.capacity_Wh,
                self.use,
                mode.place,
                self._usual.energy_Wh_a_day,
                made,
                people=mode.people,
                position=position,
                sun_shape=None if mode.place == "alongside" else shape_of_day(*position, utc_s),
                horizon_days=int(HORIZON_DAYS),
                seed=int(utc_s),
            )
            for made in (self._usual_charging_Wh(mode), None)
        )
        dawn_s, course = _next_dawn(position, utc_s), self.charging.course
        self._at_dawn = None if dawn_s is None else stand_at(course, dawn_s)
        self._at_lowest = lowest(course, utc_s + LOWEST_WITHIN_S)
        if at_s >= self._kept_at_s + EVERY_S:
            self._kept_at_s = at_s
            for which, charging in ((self.charging, True), (self.autonomy, False)):
                self.scores.promise(
                    utc_s, which.cautious_days, which.likely_days, left - self.reserve_Wh, charging
                )
            facts = self._facts(left, mode, self.charging, self.autonomy)
            yield Event(EventKind.FORECAST, "energy", boot, at_s, None, facts)

    def _usual_charging_Wh(self, mode: Mode) -> float:
        """A day, before there is a history: alongside the shore carries what is used and fills the bank."""
        usual = self._usual
        if mode.place == "alongside":
            return max(usual.charging_Wh_a_day, SHORE_CARRIES * usual.energy_Wh_a_day)
        return usual.charging_Wh_a_day

    @staticmethod
    def _facts(left_Wh: float, mode: Mode, charging: Forecast, autonomy: Forecast) -> dict[str, Any]:
        return {
            "left_Wh": round(left_Wh),
            "likely_days": round(charging.likely_days, 3),
            "cautious_days": round(charging.cautious_days, 3),
            "beyond": charging.beyond,
            "none_likely_days": round(autonomy.likely_days, 3),
            "none_cautious_days": round(autonomy.cautious_days, 3),
            "none_beyond": autonomy.beyond,
            "place": mode.place,
            "people": mode.people,
            "course": thinned(charging.course),
        }

    def new_boot(self) -> None:
        self._kept_at_s = float("-inf")

    # ---- what is told

    def estimates(self, at_s: float) -> Iterator[Estimate]:
        """Days left with the usual charging and with none, the charge at dawn and at its lowest, and how
        often earlier forecasts held, for each house bank."""
        unknown = Reason("days unknown until full")
        for bank in self._house:
            for name, drawn in (("energy_days", self.charging), ("autonomy_days", self.autonomy)):
                if drawn is None:
                    yield Estimate(name, bank.name, at_s, None, None, None, unknown)
                else:
                    yield as_estimate(drawn, name, bank.name, at_s)
            yield self._pct("dawn_pct", bank.name, at_s, self._at_dawn, "charge at dawn")
            yield self._pct("lowest_pct", bank.name, at_s, self._at_lowest, "charge at its lowest")
            for name, charging in (("forecast_hits", False), ("forecast_hits_charging", True)):
                yield self._hits(name, bank.name, at_s, charging)

    def _pct(self, name: str, bank: str, at_s: float, stand: Stand | None, reason: str) -> Estimate:
        if self.charging is None or stand is None:
            why = "days unknown until full" if self.charging is None else "no dawn soon"
            return Estimate(name, bank, at_s, None, None, None, Reason(why))
        low, likely, high = (100 * x / self.capacity_Wh for x in (stand.low, stand.likely, stand.high))
        facts = {**self.charging.reason.facts, "moment_s": stand.utc_s}
        return Estimate(name, bank, at_s, likely, low, high, Reason(reason, facts))

    def _hits(self, name: str, bank: str, at_s: float, charging: bool) -> Estimate:
        hits = self.scores.hits(charging)
        facts = {"n": hits.forecasts, "held": hits.held}
        why = "forecast hits" if hits.share is not None else "forecast hits too few"
        return Estimate(name, bank, at_s, hits.share, hits.low, hits.high, Reason(why, facts))

    @staticmethod
    def outcome(found: Outcome, boot: int, at_s: float) -> Event:
        """What came of a forecast, for the log. `beyond`: the reserve had not been met when it was
        settled."""
        facts = {
            "charging": found.charging,
            "made_at": round(found.made_at_s),
            "cautious_days": round(found.cautious_days, 2),
            "likely_days": round(found.likely_days, 2),
            "truth_days": None if found.truth_days is None else round(found.truth_days, 2),
            "beyond": found.truth_days is None,
            "held": found.held,
        }
        return Event(EventKind.OUTCOME, "energy", boot, at_s, None, facts)

    # ---- restarts

    def prefill(self, history: History, until_utc_s: float) -> None:
        """The hours of use, from what was stored."""
        made, sun, full = (
            {h.start_s: h.mean for h in kept_hours(history, f"house {what}", until_utc_s)}
            for what in ("made power", "sun power", "bank full")
        )
        for hour in kept_hours(history, "house net power", until_utc_s):
            made_W = made.get(hour.start_s)
            if made_W is None:
                continue
            to_Wh, sun_W = hour.covered_s / HOUR_S, sun.get(hour.start_s)
            self.use.add(
                hour.start_s,
                hour.mode.place,
                hour.mode.people,
                (made_W - hour.mean) * to_Wh,
                made_W * to_Wh,
                hour.covered_s,
                None if sun_W is None else sun_W * to_Wh,
                full.get(hour.start_s, 0.0) * hour.covered_s,
            )


def _next_dawn(position: tuple[float, float], utc_s: float) -> float | None:
    """The next sunrise, where there is one soon."""
    span = Interval(utc_s, utc_s + DAWN_WITHIN_S)
    return next((end for _, end in darkness(*position, span) if end < span.end_s), None)
