"""Canned fit-outs: a boat whose instruments are well, one with trouble, and every step of a calibration.

The figures are made up and plausible. One refill of Marram's bottle is
0.337 L by Boyle's law (see canned_water).
"""

import argparse
import importlib
import threading
from dataclasses import replace

from monitor.clock import DAY_S, HOUR_S
from monitor.records import (
    FitOutPicture,
    Learned,
    Measured,
    OpenAlert,
    Reading,
    Reason,
    Severity,
    Snapshot,
    Wizard,
)

PUMP, TANK, BANK = "pressure pump", "midship", "house"


def picture(now_s: float) -> FitOutPicture:
    """A flow that was measured, the rest learned or as the settings have it."""
    taken = Measured("flow", PUMP, 10.42, 0.31, 3, before=11.0, utc_s=now_s - 12 * DAY_S)
    return FitOutPicture(
        None,
        (
            Learned("flow", PUMP, "measured", 10.42, 0.31, 3, now_s - 12 * DAY_S),
            Learned("drawdown", PUMP, "set", 0.337, None),
            Learned("sounding", "forward", "set", None, None, 4),
            Learned("sounding", TANK, "learned", None, None, 31),
            Learned("zero", BANK, "learned", -0.121, 0.018, 0, now_s - 26 * HOUR_S),
            Learned("capacity", BANK, "set", 460.0, 68.1, 0),
        ),
        (taken,),
    )


def _told(what: str, step: str, note: str = "", **facts: object) -> tuple[Reason, Reason | None]:
    return Reason(f"calibration {what}: {step}", facts), (
        Reason(f"calibration note: {note}", facts) if note else None
    )


def bucket() -> Wizard:
    """The second bucket stands on the floor, and the pump has stopped."""
    say, note = _told("flow", "say", pump=PUMP, nth=2, ran_s=57.4, least=10.0)
    heard = (
        Reason("calibration hears: pump rests", {"pump": PUMP}),
        Reason("calibration hears: ran", {"ran": 57.4}),
    )
    noted = (Reason("calibration noted: flow", {"nth": 1, "litres": 10.0, "ran": 57.9, "flow": 10.36}),)
    return Wizard("flow", PUMP, "say", say, note, heard, ("litres", "again"), True, noted)


def flow_found() -> Wizard:
    found = Measured("flow", PUMP, 10.42, 0.31, 3, before=11.0)
    noted = tuple(
        Reason("calibration noted: flow", {"nth": n, "litres": 10.0, "ran": ran_s, "flow": 600 / ran_s})
        for n, ran_s in enumerate((57.9, 57.4, 57.5), 1)
    )
    return Wizard(
        "flow", PUMP, "result", Reason("calibration flow: result", {"pump": PUMP}), noted=noted, found=found
    )


def jug() -> Wizard:
    say, note = _told("drawdown", "draw", "again", pump=PUMP, nth=1, ran_s=0.0, promised=0.337)
    return Wizard(
        "drawdown", PUMP, "draw", say, note, (Reason("calibration hears: pump rests", {"pump": PUMP}),)
    )


def pouring() -> Wizard:
    say, note = _told("sounding", "pour", tank=TANK, in_it=40.0)
    heard = (
        Reason("calibration hears: level", {"tank": TANK, "now": 21.4}),
        Reason("calibration hears: tilt", {"now": 0.6}),
    )
    pairs = ((8.2, 15.0, 16.4), (14.9, 27.5, 29.8), (21.4, 40.0, 42.8))
    noted = tuple(
        Reason("calibration noted: pair", {"reading": r, "litres": v, "before": b}) for r, v, b in pairs
    )
    return Wizard("sounding", TANK, "pour", say, note, heard, ("litres", "enough"), True, noted)


def sounded() -> Wizard:
    before = tuple((10.0 * n, 25.0 * n) for n in range(11))
    table = (
        (0.0, 0.0),
        (8.2, 15.0),
        (21.4, 40.0),
        (40.3, 90.0),
        (60.8, 140.0),
        (80.2, 190.0),
        (100.0, 239.5),
    )
    found = Measured("sounding", TANK, None, None, 5, table, (8.2, 80.2), before_table=before)
    say = Reason("calibration sounding: result", {"tank": TANK, "pours": 4})
    return Wizard("sounding", TANK, "result", say, found=found)


def reading() -> Wizard:
    """The caution stands first: nothing has been listened to."""
    say, note = _told("zero", "read", bank=BANK, minutes=5)
    return Wizard(
        "zero", BANK, "read", say, note,
        (Reason("calibration hears: current", {"bank": BANK, "now": -11.4}),), ("done",),
    )  # fmt: skip


def listening() -> Wizard:
    say, note = _told("zero", "listen", bank=BANK, minutes=5)
    heard = (
        Reason("calibration hears: current", {"bank": BANK, "now": 0.12}),
        Reason("calibration hears: listening", {"left": 180.0}),
    )
    noted = tuple(
        Reason("calibration noted: minute", {"nth": n, "amps": a}) for n, a in ((1, 0.118), (2, 0.121))
    )
    return Wizard("zero", BANK, "listen", say, note, heard, (), False, noted)


def connecting() -> Wizard:
    say, note = _told("zero", "back", bank=BANK)
    return Wizard("zero", BANK, "back", say, note, (), ("done",))


def interrupted() -> Wizard:
    return Wizard("zero", BANK, "over", Reason("calibration over: zero interrupted"), done=True)


STEPS = {
    "bucket": bucket, "flow found": flow_found, "jug": jug, "pouring": pouring, "sounded": sounded,
    "reading": reading, "listening": listening, "connecting": connecting, "interrupted": interrupted,
}  # fmt: skip


def fitted(s: Snapshot, now_s: float, step: str = "") -> Snapshot:
    """With a fit-out, and perhaps a calibration at that step."""
    made = picture(now_s)
    return replace(s, fit_out=replace(made, wizard=STEPS[step]()) if step else made)


def apart(s: Snapshot, now_s: float) -> Snapshot:
    """A second sensor on the house bank that does not agree, and a broker that is gone."""
    values = dict(s.values)
    values["house current (opinion 2)"] = Reading(s.at_s - 1.0, -9.1, False)
    values["midship level"] = Reading(s.at_s - 840, 71.9, True)
    told = {"bank": BANK, "first": "the shunt", "other": "the BMS", "offset_mA": 2300.0, "hours": 40.0}
    differ = OpenAlert(
        "apart", "instruments disagree", BANK, Severity.CAUTION, "acknowledged", s.at_s - 9000,
        Reason("alert: instruments disagree", told),
    )  # fmt: skip
    gone = replace(s.sources[2], up=False, heard_at_s=s.at_s - 900)
    return fitted(replace(s, values=values, alerts=(differ,), sources=(*s.sources[:2], gone)), now_s)


def main() -> None:
    """Serve every step, each on its own port counted up from the given one."""
    given = argparse.ArgumentParser(description=main.__doc__)
    given.add_argument("--port", type=int, default=8360)
    port = given.parse_args().port
    canned = importlib.import_module("tests.web.canned")
    for n, step in enumerate(STEPS):
        watch = canned.canned("well")
        watch.snapshot = fitted(watch.snapshot, canned.NOW_S, step)
        canned.Server(watch, port + n).__enter__()
        print(f"http://127.0.0.1:{port + n}/fit-out/calibration  {step}", flush=True)
    threading.Event().wait()


if __name__ == "__main__":
    main()
