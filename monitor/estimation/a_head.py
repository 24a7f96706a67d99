"""Litres a head a day: what was used yesterday and in the last week, by the heads that were aboard then."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from monitor.clock import HOUR_S
from monitor.estimation.water_history import WaterUse
from monitor.records import Estimate, Reason

WEEK_DAYS = 7
PUMP_BAND = 0.10
"""Half of the 90 % band of what a pump moved: its flow is known to a tenth."""


class AHead:
    """Estimates `water_L_a_head` of "water": the mean of the last seven days, ship's days from midnight
    to midnight on which somebody was aboard; yesterday's stands in its reason."""

    def __init__(self, use: WaterUse, zone: ZoneInfo) -> None:
        self._use, self._zone = use, zone
        self._hour: int | None = None
        self._found: tuple[float | None, float | None, int] = (None, None, 0)

    def estimate(self, at_s: float, utc_s: float | None) -> Estimate:
        """Looked up once an hour: a day that is over does not change."""
        if utc_s is not None and self._hour != int(utc_s // HOUR_S):
            self._hour = int(utc_s // HOUR_S)
            self._found = self._look_up(utc_s)
        week_L, yesterday_L, days = self._found
        told = {"yesterday_L": yesterday_L, "days": days}
        if utc_s is None or week_L is None:
            return Estimate(
                "water_L_a_head", "water", at_s, None, None, None, Reason("a head: no day yet", told)
            )
        low, high = (1 - PUMP_BAND) * week_L, (1 + PUMP_BAND) * week_L
        reason = Reason(
            "a head: by the week" if yesterday_L is not None else "a head: nobody yesterday", told
        )
        return Estimate("water_L_a_head", "water", at_s, week_L, low, high, reason)

    def _look_up(self, utc_s: float) -> tuple[float | None, float | None, int]:
        days = self._use.by_head(self._midnight(utc_s))
        lately = days.age <= WEEK_DAYS
        if not lately.any():
            return None, None, 0
        # Hours that were not heard are taken to be like the rest of their day.
        litres = np.nanmean(days.used[lately], axis=1) * 24
        yesterday = litres[days.age[lately] == 1]
        return float(litres.mean()), float(yesterday[0]) if yesterday.size else None, int(lately.sum())

    def _midnight(self, utc_s: float) -> float:
        local = datetime.fromtimestamp(utc_s, UTC).astimezone(self._zone)
        return (local - timedelta(seconds=local.hour * 3600 + local.minute * 60 + local.second)).timestamp()
