"""Canned water: what the page of water can be asked to show. The figures are made up and plausible.

a litre of drawdown for each 5.45 s of running at 11 L/min; one refill of Marram's bottle is 1.84 s:
1.0 L * 2.21325 bar * (1/2.41325 - 1/3.81325) = 0.337 L, by Boyle with absolute pressures.
"""

from dataclasses import replace

import numpy as np

from monitor.clock import DAY_S, HOUR_S
from monitor.records import (
    Counter,
    Event,
    EventKind,
    Filling,
    Guided,
    Making,
    RationStep,
    Reason,
    WaterAge,
    WaterPicture,
    WaterPlan,
    WaterVerdict,
)

PUMP = "pressure pump"
FLOW_L_PER_S = 11 / 60
REFILL_S = 1.84
LEAK_L_PER_H = 0.2
LONG_RUN = (-13.2, 372.0)
"""A wash-down: hours from now, and seconds."""


def picture(now_s: float, suspect: bool = False) -> WaterPicture:
    """Tight and well, or with a leak suspected."""
    steps = (
        RationStep("short showers", 8.0, 8.9, 7.4, 2.0),
        RationStep("salt wash, fresh rinse", 6.0, 11.9, 9.8, 4.4),
        RationStep("foot pump only", 4.0, 17.8, 14.7, 9.3),
        RationStep("drinking and cooking", 2.5, 28.4, 23.6, 18.2),
    )
    told = {
        "leave_s": now_s + 4.2 * DAY_S,
        "cautious_days": 5.4,
        "refill_L": 145.0,
        "run_s": DAY_S,
        "heads": 3,
    }
    told |= {"cost_s": 1.07 * DAY_S} if suspect else {}
    tight = WaterVerdict(
        PUMP, "tight", 0.97, (), (Reason("tight", {"bound_L_per_h": 0.06}),),
        Reason("Nothing to do: look again tomorrow.", {}),
    )  # fmt: skip
    found = WaterVerdict(
        PUMP, "leak downstream", 0.93, (("check valve leaks back", 0.04), ("tap left open", 0.03)),
        (
            Reason(
                "leak suspected",
                {
                    "refills": 5, "leak_L_per_h": 0.2, "low_L_per_h": 0.16, "high_L_per_h": 0.26,
                    "leak_L_per_day": 4.8,
                },
            ),
        ),
        Reason("Shut the pump outlet for an hour, with nobody drawing.", {}), 0.2, 0.16, 0.26,
    )  # fmt: skip
    return WaterPicture(
        verdicts=(found if suspect else tight,),
        ages=(
            WaterAge("forward", 9.3, 13.1, "the quay at Muros", True),
            WaterAge("midship", 3.2, 3.2, "", None),
        ),
        plan=WaterPlan(11.0, steps, now_s + 4.2 * DAY_S, 145.0, 24.0, Reason("water plan: leave by", told)),
        counters=(
            Counter("strainer", PUMP, 41.0, 60.0, "h", 21.0),
            Counter("strainer", PUMP, 12.0, 30.0, "days", 18.0),
            Counter("carbon filter", PUMP, 2890.0, 4000.0, "L", 33.0),
            Counter("sanitise the tanks", "boat", 190.0, 183.0, "days", -7.0),
            Counter("oil", "generator", 12.0, 100.0, "h", None),
        ),
    )  # fmt: skip


def waiting(at_s: float) -> Guided:
    """A test that waits since 22 of 60 minutes, with the cock behind the pump shut."""
    told = {"cock": "pump outlet", "left_s": 38 * 60.0, "wait_s": 3600.0}
    drew = ("drew", Reason("guided answer: drew"))
    return Guided(PUMP, "wait", Reason("guided: wait after the pump", told), (drew,), at_s - 22 * 60, 3600.0)


def asking() -> Guided:
    """A test that asks for a cock to be shut."""
    say = Reason("guided: shut after the pump, leaks", {"cock": "pump outlet", "waited_s": 2400.0})
    return Guided(PUMP, "shut", say, (("done", Reason("guided answer: done")),))


def looking() -> Guided:
    """A test that asks what is to be seen."""
    say = Reason("guided: look at the pump", {"cock": "pump outlet", "waited_s": 2400.0})
    can = ("wet", "dry", "unseen")
    return Guided(PUMP, "look at the pump", say, tuple((id, Reason(f"guided answer: {id}")) for id in can))


def concluded() -> Guided:
    """A test that found something."""
    return Guided(PUMP, "over", Reason("guided: found cold branch", {"behind": "galley branch"}), done=True)


def pouring(now_s: float) -> WaterPicture:
    """The midship tank is being filled, and the watermaker runs."""
    return replace(
        picture(now_s),
        fillings=(Filling("midship", 74.0, 17.6, 340.0, 72.0),),
        making=(Making("watermaker", True, 61.0, 58.0, 4.3, 9000.0),),
    )


def household(now_s: float, at_s: float, leak: bool, seed: int = 7) -> list[Event]:
    """Three days of pump runs from a seed: draws by day and a few by night, a wash-down, perhaps a leak."""
    rng = np.random.default_rng(seed)
    runs: list[tuple[float, float]] = []
    for day in range(4):
        for hour, mean in ((7.5, 7), (9, 4), (12.5, 5), (16, 3), (19.5, 9), (22.5, 3), (3.5, 0.6)):
            for _ in range(rng.poisson(mean)):
                start_s = now_s - (3 - day) * DAY_S + (hour - 15.35 + rng.normal(0, 0.6)) * HOUR_S
                runs.append((start_s, REFILL_S + float(rng.lognormal(2.2, 0.9))))
    runs.append((now_s + LONG_RUN[0] * HOUR_S, LONG_RUN[1]))
    drawn = sorted(r for r in runs if r[0] + r[1] < now_s)
    if leak:
        every_s = REFILL_S * FLOW_L_PER_S / LEAK_L_PER_H * HOUR_S
        stops = [s + length for s, length in drawn] + [now_s]
        for stop_s, next_s in zip(stops, [s for s, _ in drawn[1:]] + [now_s], strict=False):
            k = 1
            while stop_s + k * every_s < next_s and stop_s > now_s - 2 * DAY_S:
                runs.append((stop_s + k * every_s, REFILL_S + float(rng.normal(0, 0.03))))
                k += 1
    told, free_s = [], float("-inf")
    for start_s, length_s in sorted(runs):
        if start_s > free_s and start_s + length_s < now_s:
            free_s = start_s + length_s + 5
            facts = {"litres": round(length_s * FLOW_L_PER_S, 3)}
            begin_s = at_s - now_s + start_s
            told.append(Event(EventKind.PUMP_RUN, PUMP, 1, begin_s, begin_s + length_s, facts))
    return told


def poured(now_s: float, at_s: float) -> list[Event]:
    """Two fills: one confirmed by the crew, one only found."""
    said = {"litres": 118.0, "source": "the quay at Muros", "treated": True}
    return [
        Event(EventKind.FILL, "forward", 1, at_s - 9.3 * DAY_S, at_s - 9.3 * DAY_S + 700, said),
        Event(EventKind.FILL, "midship", 1, at_s - 3.2 * DAY_S, at_s - 3.2 * DAY_S + 900, {"litres": 96.0}),
    ]
