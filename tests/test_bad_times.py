"""A clock that jumps, a boat that was changed, a store that is none: nothing stops, nothing is invented."""

import shutil
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from monitor.records import EventKind, Frame, Message
from monitor.sources.captures import merge, write_candump, write_message
from monitor.storage.history import History
from tests.watched import ALL, START_S, YEARS_54_S, Watched, battery, good, heater, level, marram, pump, volts

# ---- time


def lived(seconds: int, jumps: dict[int, float]) -> list[Frame | Message]:
    """A bank filled and drawn, a pump, a tank; at each jump the clock is moved by so many seconds.

    Nothing flows around a jump, so that nothing is owed for the moment it takes.
    """
    items: list[Frame | Message] = []
    moved_s = 0.0
    for s in range(seconds):
        moved_s += jumps.get(s, 0.0)
        at_s = START_S + s + moved_s
        calm = any(abs(s - jump) <= 90 for jump in JUMPS)
        full = s < 1200
        amps = 4.0 if full else 0.0 if calm else -30.0 - s % 7
        items.append(battery(at_s, 13.9 if full else 13.2, amps))
        items.append(pump(at_s, not calm and s % 300 < 20))
        if s % 5 == 0:
            items += [level(at_s, 80.0 - s / 360), heater(at_s, 50.0)]
    return items


JUMPS = {2400: YEARS_54_S, 4200: -YEARS_54_S, 6000: -YEARS_54_S + START_S % 60, 7800: 3600.0 * 24 * 30}
"""54 years ahead and back, back to the seventies, and a month ahead."""
LIVED_S = 9000


def captured(folder: Path, items: list[Frame | Message]) -> Iterator[Frame | Message]:
    """Through capture files, one a kind, and merged again."""
    folder.mkdir()
    with (folder / "bus.log").open("w") as bus, (folder / "mqtt.jsonl").open("w") as broker:
        for item in items:
            if isinstance(item, Frame):
                write_candump(bus, item)
            else:
                write_message(broker, item)
    return merge([folder / "mqtt.jsonl", folder / "bus.log"])


def replayed(folder: Path, jumps: dict[int, float]) -> Watched:
    items = lived(LIVED_S, jumps)
    watched = Watched(folder.with_suffix(".db"))
    watched.feed(captured(folder, items))
    watched.end()
    assert watched.counted("heard") == len(items)
    return watched


def alerts(watched: Watched) -> set[tuple[str, str]]:
    with closing(History(watched.path)) as history:
        return {(change.rule, change.subject) for change, _ in history.alert_changes()}


def litres(watched: Watched) -> list[float]:
    with closing(History(watched.path)) as history:
        return [e.event.facts["litres"] for e in history.events(EventKind.PUMP_RUN, ALL)]


def test_a_clock_that_jumps_invents_nothing(tmp_path: Path) -> None:
    steady, jumping = replayed(tmp_path / "steady", {}), replayed(tmp_path / "jumping", JUMPS)

    assert steady.count_Ah() > 40
    assert jumping.count_Ah() == pytest.approx(steady.count_Ah(), abs=1e-9)
    assert litres(jumping) == litres(steady)
    assert len(litres(steady)) > 20
    ours, theirs = (
        {e.subject: e.value for e in w.pipeline.estimates() if e.name == "tank_L"} for w in (jumping, steady)
    )
    assert ours["forward"] == pytest.approx(theirs["forward"], abs=0.5)
    with closing(History(jumping.path)) as history:
        assert history.events(EventKind.FILL, ALL) == []
        assert len(history.boots()) == len(JUMPS) + 1
    assert alerts(jumping) <= alerts(steady) | {
        ("charge unknown", "house"),
        ("charge not vouched for", "house"),
    }


def test_a_jump_ahead_widens_the_band_no_more_than_one_back(tmp_path: Path) -> None:
    """Nobody was away for 54 years: either way the clock was set, and how long that took is unknown."""
    spreads = []
    for name, jump_s in (("ahead", YEARS_54_S), ("back", -YEARS_54_S)):
        watched = Watched(tmp_path / name)
        watched.feed(lived(3000, {2400: jump_s}))
        watched.end()
        spreads.append(watched.pipeline.energy.trackers["house"].state()["count"]["cov"][0][0])

    assert spreads[0] == pytest.approx(spreads[1], rel=1e-6)


def test_after_a_jump_the_pump_is_still_watched(tmp_path: Path) -> None:
    watched = Watched(tmp_path / "boat.db")
    watched.feed(good(120))
    far_s = START_S + YEARS_54_S
    watched.feed(
        item for s in range(1300) for item in (battery(far_s + s, 13.2, -5.0), pump(far_s + s, True))
    )

    rules = {a.rule for a in watched.pipeline.snapshot(far_s + 1300).alerts if a.subject == "pressure pump"}
    assert rules & {"burst", "pump running on"}
    watched.end()


# ---- a boat that is changed


def test_a_replaced_battery_begins_anew_and_the_rest_is_remembered(tmp_path: Path) -> None:
    """The same store, other settings: what was counted of the old bank is not told of the new one."""
    first = Watched(tmp_path / "boat.db")
    first.feed(lived(1800, {}))
    before = {(e.name, e.subject): e for e in first.pipeline.estimates()}
    first.end()
    assert before["charge_pct", "house"].value == pytest.approx(98, abs=3)

    again = Watched(tmp_path / "boat.db", kernel_id="second")
    again.feed(item._replace(at_s=item.at_s + 7200) for item in lived(1800, {})[:400])
    kept = {(e.name, e.subject): e for e in again.pipeline.estimates()}
    again.end()
    assert kept["charge_pct", "house"].value is not None

    replaced = Watched(tmp_path / "boat.db", marram({"capacity_Ah = 460": "capacity_Ah = 600"}), "third")
    replaced.feed(item._replace(at_s=item.at_s + 14400) for item in lived(1800, {})[:400])
    after = {(e.name, e.subject): e for e in replaced.pipeline.estimates()}
    snapshot = replaced.pipeline.snapshot(replaced.pipeline.now_s)
    replaced.end()

    assert after["charge_pct", "house"].value is None
    assert after["charge_pct", "house"].reason.id == "charge unknown until full"
    assert after["tank_L", "forward"].value == pytest.approx(kept["tank_L", "forward"].value, abs=2)
    assert snapshot.troubles == ()
    assert replaced.samples("house voltage").keys() >= first.samples("house voltage").keys()


RENAMED: dict[str, dict[str, str]] = {
    "another bank": {
        'name = "house"': 'name = "main"',
        'into = "house"': 'into = "main"',
        'bank = "house"': 'bank = "main"',
    },
    "another tank": {
        'name = "forward"': 'name = "bow tank"',
        '"forward", "midship"': '"bow tank", "midship"',
    },
    "another pump": {
        'name = "pressure pump"': 'name = "old pump"',
        'ct = "pressure pump"': 'ct = "old pump"',
    },
    "another chemistry": {'chemistry = "lifepo4"': 'chemistry = "lead"'},
    "another size of tank": {"capacity_L = 260": "capacity_L = 100"},
}


@pytest.mark.parametrize("changed", RENAMED.values(), ids=RENAMED)
def test_a_boat_that_was_changed_goes_on(tmp_path: Path, changed: dict[str, Any]) -> None:
    first = Watched(tmp_path / "boat.db")
    first.feed(lived(1500, {}))
    first.end()

    other = Watched(tmp_path / "boat.db", marram(changed), "second")
    other.feed(item._replace(at_s=item.at_s + 7200) for item in lived(1500, {}))
    snapshot = other.pipeline.snapshot(other.pipeline.now_s)
    other.end()

    assert snapshot.troubles == ()
    assert other.counted("heard") == other.fed


def test_a_store_of_anything_does_not_stop_the_start(tmp_path: Path) -> None:
    shutil.copy(Path(__file__), tmp_path / "boat.db")
    watched = Watched(tmp_path / "boat.db")
    watched.feed(good(90))
    (trouble,) = watched.writer.troubles()
    watched.end()

    assert trouble.id == "store: set aside"
    assert (tmp_path / trouble.facts["name"]).read_bytes() == Path(__file__).read_bytes()
    assert watched.samples("house voltage") == {START_S + s: volts(s) for s in range(90)}
