"""Guided tests, against pipes of their own: a tree of nodes with cocks between them, and a pump that
starts when its accumulator is empty. Where the leak is found must follow from which nodes hang together.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from string import Formatter

import numpy as np
import pytest

from monitor.errors import CommandError
from monitor.estimation.guided import GuidedWatch
from monitor.estimation.guided_steps import OUTCOMES
from monitor.estimation.watcher import Heard, Look, WaterHeard
from monitor.records import Command, Event, EventKind, Guided, Mode, Reading, Reason
from monitor.settings import Accumulator, Boat, Cock, Heater, Pump, Settings
from monitor.words.say import SENTENCES, say
from monitor.words.units import UNKNOWN, Dress

FLOW_L_PER_MIN = 8.0
DRAWDOWN_L = 0.30
"""Boyle: 0.30 of the volume for a pre-charge of 0.8 between 1.0 and 2.0 bar gauge: (1.8/2.0 - 1.8/3.0)."""
BOTTLE = Accumulator(volume_L=1.0, precharge_bar=0.8, cut_in_bar=1.0, cut_out_bar=2.0)
UTC_S = 1_790_000_000.0

ALL_COCKS = {
    "suction cock": "before the pump",
    "pump cock": "after the pump",
    "galley cold": "cold branch",
    "head cold": "cold branch",
    "heater inlet": "to the heater",
    "galley hot": "after the heater",
    "shower hot": "after the heater",
}
ABOVE = {
    "common": ("pump", "pump cock"), "galley cold pipe": ("common", "galley cold"),
    "head cold pipe": ("common", "head cold"), "heater": ("common", "heater inlet"),
    "galley hot pipe": ("heater", "galley hot"), "shower hot pipe": ("heater", "shower hot"),
}  # fmt: skip
"""Each node's upstream node and the cock between them: what the pipes of this boat are."""
NODES = ("pump", *ABOVE)


def fed(node: str, shut: str | None) -> bool:
    """Whether the pump's pressure reaches a node."""
    while node != "pump":
        node, cock = ABOVE[node]
        if cock == shut:
            return False
    return True


def boat(cocks: list[str], heater: bool = True, pump: dict[str, object] | None = None) -> Settings:
    named = [Cock(name=name, place=ALL_COCKS[name]) for name in cocks]
    fields = {"name": "pump", "flow_L_per_min": FLOW_L_PER_MIN, "accumulator": BOTTLE, "cocks": named}
    heaters = [Heater(name="heater", volume_L=40)] if heater else []
    return Settings(boat=Boat(name="Test"), pumps=[Pump(**fields | (pump or {}))], heaters=heaters)


@dataclass
class Aboard:
    """The pipes, the crew's hands, and the watch that hears the pump."""

    settings: Settings
    leak_at: str = "common"
    leak_L_per_h: float = 0.0
    shut: str | None = None
    at_s: float = 0.0
    left_L: float = DRAWDOWN_L
    heard: bool = True
    said: dict[str, float] = field(default_factory=dict)
    suspected_L_per_h: float | None = None
    runs: list[tuple[float, float]] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    told: list[Event] = field(default_factory=list)
    utc_s: float | None = UTC_S

    def __post_init__(self) -> None:
        self.watch = GuidedWatch(self.settings)
        self.minute()

    def draw(self, seconds: float) -> None:
        """Somebody draws: the pump runs as long and then fills the bottle."""
        end_s = self.at_s + seconds + 60 * DRAWDOWN_L / FLOW_L_PER_MIN
        self.runs.append((self.at_s, end_s))
        self.left_L = DRAWDOWN_L

    def minute(self) -> None:
        """A minute in which what leaks, leaks, and the pump refills what is empty."""
        end_s = self.at_s + 60.0
        leaks = self.leak_L_per_h / 3600 if fed(self.leak_at, self.shut) else 0.0
        now_s = max([self.at_s, *(end for _, end in self.runs)])
        while leaks and now_s + self.left_L / leaks < end_s - 5.0:
            start_s = now_s + self.left_L / leaks
            now_s = start_s + 60 * DRAWDOWN_L / FLOW_L_PER_MIN
            self.runs.append((start_s, now_s))
            self.left_L = DRAWDOWN_L
        self.left_L = max(1e-4, self.left_L - leaks * max(0.0, end_s - now_s))
        self._hear(end_s)

    def _hear(self, end_s: float, cut: bool = False) -> None:
        facts = {"cut": True} if cut else {}
        over = tuple(
            Event(EventKind.PUMP_RUN, "pump", 0, start, end, {"litres": 0.3} | facts)
            for start, end in self.runs
            if end < end_s
        )
        running_s = max([0.0, *(end_s - start for start, end in self.runs if end >= end_s)])
        self.runs = [(start, end) for start, end in self.runs if end >= end_s]
        q = self.suspected_L_per_h
        verdict = ("leak suspected", Reason("leak suspected", {"leak_L_per_h": q}))
        water = WaterHeard(
            over if self.heard else (),
            {"pump": running_s if self.heard else None},
            {"pump": None},
            {"pump": verdict} if q is not None else {},
        )
        readings = {name: Reading(end_s, value, False) for name, value in self.said.items()}
        utc_s = None if self.utc_s is None else self.utc_s + self.at_s
        heard = Heard(self.at_s, utc_s, 1, {}, readings, Mode("at anchor", "awake"), {}, water=water)
        self.watch.take(heard)
        self.told += self.watch.events()
        self.at_s = end_s

    def minutes(self, count: int) -> None:
        for _ in range(count):
            self.minute()

    def command(self, action: str, answer: str | None = None) -> Guided | None:
        facts = {"action": action} | ({} if answer is None else {"answer": answer})
        self.watch.wish(Command("guided test", "pump", facts), self.at_s, None)
        self.told += self.watch.events()
        return self.watch.guided()

    def now(self) -> Guided:
        guided = self.watch.guided()
        assert guided is not None
        return guided

    def says(self) -> str:
        return say(self.now().say, Dress()).replace("\u00a0", " ")

    # ---- a crew that does as it is told

    def obey(self) -> None:
        """One step: what it asks for, or a minute of waiting."""
        guided = self.now()
        if guided.step == "wait":
            self.minute()
        elif guided.step == "look at the pump":
            self.command("answer", "wet")
        else:
            if guided.step in ("shut the taps", "shut the cock", "open and wait again"):
                self.shut = None
                self.draw(8.0)
                self.minutes(2)
            if guided.step == "shut the cock":
                self.shut = str(guided.say.facts["cock"])
                self.asked.append(self.shut)
            if guided.step == "put back":
                self.shut = None
            self.command("done")

    def test(self) -> Event:
        """A whole test. The event that told its outcome."""
        self.command("start")
        for _ in range(5000):
            if self.now().done:
                break
            self.obey()
        tests = [event for event in self.told if event.kind == EventKind.TEST]
        assert self.now().done
        assert len(tests) == 1
        return tests[0]

    def until_waiting(self) -> None:
        self.command("start")
        while self.now().step != "wait":
            self.obey()


def nodes_meant(found: Event, cocks: list[str]) -> set[str]:
    """What the words of an outcome say of this boat's pipes."""
    outcome, cock = found.facts["outcome"], found.facts["cock"]
    behind = {node for node in NODES if not fed(node, cock)}
    unsplit = {n for n in NODES if all(fed(n, c) for c in cocks if c != "pump cock")}
    said = {
        "leak at the pump": {"pump"},
        "common pipes": unsplit - {"pump"},
        "heater": {"heater"} | {n for n in NODES if n.endswith("hot pipe") and n[:-5] not in cocks},
        "beyond the pump": {n for n in NODES if n != "pump"},
        "heater or hot side": {n for n in NODES if "hot" in n or n == "heater"},
    }
    if outcome in ("cold branch", "hot side"):
        return behind
    return said.get(str(outcome), set(NODES))


@pytest.mark.parametrize("leak_at", NODES)
def test_with_every_cock_named_the_leaking_pipe_is_found(leak_at: str) -> None:
    """Hand-made: what hangs on what stands in `ABOVE`."""
    aboard = Aboard(boat(list(ALL_COCKS)), leak_at, 0.5)

    found = aboard.test()

    assert nodes_meant(found, list(ALL_COCKS)) == {leak_at}
    assert "suction cock" not in aboard.asked


def test_two_hundred_boats_find_as_much_as_their_cocks_can_tell() -> None:
    """Seeds 0 to 199: any cocks, any leak of 0.2 to 20 L/h anywhere. Nodes that every single cock treats
    alike cannot be told apart; nothing that is told apart may be left in the outcome, nor the leak out."""
    for seed in range(200):
        rng = np.random.default_rng(seed)
        cocks = [name for name in ALL_COCKS if rng.random() < 0.6]
        leak_at = str(rng.choice(NODES))
        aboard = Aboard(boat(cocks), leak_at, float(np.exp(rng.uniform(np.log(0.2), np.log(20)))))

        found = aboard.test()

        usable = [c for c in cocks if c != "suction cock"]
        alike = {n for n in NODES if all(fed(n, c) == fed(leak_at, c) for c in usable)}
        meant = nodes_meant(found, usable)
        if found.facts["outcome"] == "elsewhere":
            cleared = str(aboard.now().say.facts["cleared"]).split(", ")
            meant = {n for n in NODES if all(fed(n, c) for c in cleared)}
            if "pump cock" in usable:
                meant -= {"pump"}
        assert alike <= meant, (seed, found, alike)
        assert leak_at in meant
        assert len(aboard.asked) <= 5


def test_four_cocks_find_one_of_seven_parts_in_at_most_three_waits_after_the_first() -> None:
    """Halving: with a pump, a common pipe, one cold branch, a heater and one hot side, log2(5) = 2.3."""
    cocks = ["pump cock", "galley cold", "heater inlet", "galley hot"]
    for leak_at in ("pump", "common", "galley cold pipe", "heater", "galley hot pipe"):
        aboard = Aboard(boat(cocks), leak_at, 0.5)
        found = aboard.test()
        assert nodes_meant(found, cocks) & {leak_at}
        assert len(aboard.asked) <= 3
        assert aboard.asked[0] == "pump cock"


def test_a_leak_of_two_tenths_is_found_and_a_tight_boat_is_tight() -> None:
    """0.3 L at 0.2 L/h is a start every 90 minutes; 1.3 x 90 = 117 minutes of waiting: with nothing in
    that time any leak is below 0.3 / 1.95 = 0.154 L/h."""
    tight = Aboard(boat(["pump cock"]))
    assert tight.test().facts["outcome"] == "tight"
    assert tight.now().say.facts["bound_L_per_h"] == pytest.approx(0.154, rel=0.03)

    leaking = Aboard(boat(["pump cock"]), "common", 0.2)
    leaking.until_waiting()
    assert leaking.now().wait_s == pytest.approx(117 * 60, rel=0.005)
    leaking.minutes(95)
    assert "started once" in leaking.says()
    leaking.minutes(92)
    assert leaking.now().step == "shut the cock"


def test_without_cocks_it_is_a_test_of_two_hours_without_use() -> None:
    """US EPA WaterSense, Fix a Leak Week: two hours without use; a change means a leak. Here 1 L/h from a
    bottle of 0.3 L: a start every 18 minutes, the third after 54."""
    still = Aboard(boat([], heater=False))
    still.until_waiting()
    assert still.now().wait_s == 2 * 3600
    still.minutes(121)
    assert [event.facts["outcome"] for event in still.told] == ["tight"]

    leaking = Aboard(boat([], heater=False), "common", 1.0)
    found = leaking.test()
    assert found.facts["outcome"] == "leaks"
    assert found.facts["L_per_h"] == pytest.approx(1.0, rel=0.05)
    assert leaking.now().say.facts["starts"] == 3


def test_the_wait_with_a_cock_shut_is_sized_by_what_the_first_has_shown() -> None:
    """At 0.5 L/h the pump rests 0.299 / 0.5 h = 36 minutes; twice that is waited then, in place of 117."""
    aboard = Aboard(boat(["pump cock"]), "common", 0.5)
    aboard.command("start")
    while not aboard.asked or aboard.now().step != "wait":
        aboard.obey()
    assert aboard.now().wait_s == pytest.approx(2 * 36 * 60, rel=0.05)


@pytest.mark.parametrize(("q", "minutes"), [(None, 117.0), (0.1, 234.0), (2.0, 20.0)])
def test_the_wait_shows_what_is_suspected(q: float | None, minutes: float) -> None:
    """1.3 x 0.3 L / q, at least 20 minutes: 1.95 h at 0.2 L/h, 3.9 h at 0.1 L/h, 11.7 minutes at 2 L/h."""
    aboard = Aboard(boat(["pump cock"]), suspected_L_per_h=q)
    aboard.minute()
    aboard.until_waiting()
    assert aboard.now().wait_s == pytest.approx(minutes * 60, rel=0.005)


def waiting(minutes: int = 30) -> Aboard:
    aboard = Aboard(boat(["pump cock"]))
    aboard.until_waiting()
    aboard.minutes(minutes)
    return aboard


def test_a_draw_begins_the_wait_again() -> None:
    aboard = waiting()
    aboard.draw(20.0)
    aboard.minutes(2)

    assert aboard.now().since_s == pytest.approx(aboard.at_s, abs=120)
    assert "Somebody drew water: the wait begins again" in aboard.says()


def test_a_tap_that_is_open_a_little_is_a_draw() -> None:
    """2 L/min empty 0.3 L in 9 s: refills follow one another for four minutes, no longer than one each."""
    aboard = waiting()
    for minute in range(4):
        aboard.runs = [(aboard.at_s + 12 * n, aboard.at_s + 12 * n + 2.5) for n in range(5)]
        aboard.minute()
        assert aboard.now().step == "wait", minute
    aboard.minutes(2)
    assert aboard.now().step == "wait"
    assert "Somebody drew water" in aboard.says()


@pytest.mark.parametrize("suspected", [None, 0.2])
@pytest.mark.parametrize("cocks", [list(ALL_COCKS), ["pump cock"], ["galley cold", "heater inlet"], []])
def test_a_glass_of_water_accuses_nobody(cocks: list[str], suspected: float | None) -> None:
    """One start like a leak's while nothing leaks. Where a leak is suspected already the cocks are shut at
    once: then the pump stays still with every one, and with all open again, too."""
    aboard = Aboard(boat(cocks), suspected_L_per_h=suspected)
    aboard.minute()
    aboard.until_waiting()
    aboard.minutes(30)
    aboard.runs = [(aboard.at_s + 10.0, aboard.at_s + 12.25)]
    aboard.minutes(4)
    while not aboard.now().done:
        aboard.obey()
    assert aboard.told[-1].facts["outcome"] == "tight"
    assert bool(aboard.asked) == (suspected is not None and cocks != [])


def test_a_large_leak_is_no_draw_without_end() -> None:
    """60 L/h start the pump every 18 s; nobody draws so for twenty minutes."""
    aboard = Aboard(boat(["pump cock"]), "common", 60.0)
    aboard.until_waiting()
    aboard.minutes(15)
    assert aboard.now().step == "wait"
    aboard.minutes(15)
    assert aboard.now().step == "shut the cock"


def test_a_tap_that_runs_is_seen_between_minutes() -> None:
    aboard = waiting()
    look = Look(aboard.at_s + 15, 1, {}, Mode("at anchor", "awake"), {"pump": 12.0}, {})
    aboard.watch.look(look)
    assert aboard.now().since_s is None


def test_a_lost_signal_is_said_and_begins_the_wait_again() -> None:
    aboard = waiting()
    aboard.heard = False
    aboard.minute()
    assert aboard.now().since_s is None
    assert "signal was lost" in aboard.says()

    aboard.heard = True
    aboard.minute()
    assert aboard.now().since_s == aboard.at_s
    assert aboard.now().step == "wait"


def test_minutes_that_nobody_watched_are_no_waiting() -> None:
    """The whole watch heard nothing for an hour and goes on as if nothing had been."""
    aboard = waiting()
    aboard.at_s += 3600.0
    aboard.minute()
    assert aboard.now().since_s == aboard.at_s
    assert "signal was lost" in aboard.says()


def test_a_run_whose_end_was_not_heard_is_no_start() -> None:
    aboard = waiting()
    aboard.runs.append((aboard.at_s, aboard.at_s + 2.0))
    aboard._hear(aboard.at_s + 60.0, cut=True)
    assert aboard.now().step == "wait"


def test_the_crew_can_say_that_somebody_drew() -> None:
    """A glass may be drawn from the accumulator without a start of the pump."""
    aboard = waiting()
    aboard.command("answer", "drew")
    assert aboard.now().since_s == aboard.at_s


def test_a_cooling_heater_is_not_taken_for_a_leak() -> None:
    """40 L from 60 to 50 °C shrink by 40 (1 - 983.20/988.04) = 0.196 L (IAPWS densities): more than half
    of what the bottle gives."""
    aboard = Aboard(boat(["pump cock"]), said={"heater temperature": 60.0})
    aboard.until_waiting()
    aboard.minutes(20)
    aboard.said["heater temperature"] = 50.0
    aboard.runs.append((aboard.at_s + 10, aboard.at_s + 12.25))
    aboard.minute()

    assert aboard.now().step == "wait"
    assert "heater is still cooling" in aboard.says()


def test_a_heater_that_is_switched_on_again_stops_the_wait() -> None:
    aboard = waiting()
    aboard.said["heater on"] = 1.0
    aboard.minutes(300)
    assert aboard.now().step == "wait"
    assert aboard.now().since_s is None
    assert "switch it off" in aboard.says()


def test_tight_is_not_said_of_a_pump_that_may_be_switched_off() -> None:
    """It has to run once, after it was asked, before any wait begins."""
    aboard = Aboard(boat(["pump cock"], heater=False))
    aboard.command("start")
    aboard.command("done")
    aboard.minutes(300)
    assert aboard.now().step == "shut the taps"
    assert "switched off" in aboard.says()


def test_nothing_is_started_that_cannot_be_watched() -> None:
    aboard = Aboard(boat(["pump cock"]))
    aboard.heard = False
    aboard.minute()
    with pytest.raises(CommandError, match="nothing is heard of pump"):
        aboard.command("start")
    with pytest.raises(CommandError, match="no pump is called"):
        aboard.watch.wish(Command("guided test", "bilge", {"action": "start"}), 0.0, None)


@pytest.mark.parametrize(
    "facts", [{}, {"action": "dance"}, {"action": "answer"}, {"action": "answer", "answer": ["wet"]}]
)
def test_what_is_no_answer_is_refused(facts: dict[str, object]) -> None:
    aboard = Aboard(boat(["pump cock"]))
    with pytest.raises(CommandError, match="no guided test"):
        aboard.command("done")
    aboard.command("start")
    with pytest.raises(CommandError, match="waits for one of"):
        aboard.watch.wish(Command("guided test", "pump", facts), aboard.at_s, None)
    with pytest.raises(CommandError, match="under way"):
        aboard.command("start")


def test_a_restart_loses_the_minutes_but_not_the_test() -> None:
    aboard = Aboard(boat(list(ALL_COCKS)), "galley cold pipe", 0.5)
    aboard.command("start")
    while aboard.now().say.facts["cock"] != "heater inlet" or aboard.now().step != "wait":
        aboard.obey()
    kept = json.dumps(aboard.watch.state())
    assert len(kept) < 2000

    again = Aboard(aboard.settings, "galley cold pipe", 0.5, shut="heater inlet", at_s=0.0)
    again.watch.restore(json.loads(kept))
    assert again.now().since_s is None
    again.minute()
    assert "interrupted: the wait begins again" in again.says()
    while not again.now().done:
        again.obey()
    assert again.now().say.id == "guided: found cold branch"


def test_what_was_kept_of_cocks_that_are_no_more_is_not_believed() -> None:
    aboard = waiting()
    aboard.minutes(100)
    kept = aboard.watch.state()
    kept["test"]["cock"] = "no such cock"
    with pytest.raises(ValueError, match="no such cock"):
        GuidedWatch(aboard.settings).restore(kept)


def test_the_result_stays_for_half_a_day() -> None:
    aboard = Aboard(boat([], heater=False))
    aboard.test()
    aboard.minutes(11 * 60 + 58)
    assert aboard.watch.guided() is not None
    aboard.minutes(4)
    assert aboard.watch.guided() is None


def test_the_time_off_counts_for_its_age_and_a_clock_put_right_does_not() -> None:
    """Eleven hours off and two watched make it older than twelve; a year more on the clock does not."""
    aboard = Aboard(boat([], heater=False))
    aboard.test()
    again = Aboard(aboard.settings, utc_s=UTC_S + aboard.at_s + 11 * 3600)
    again.watch.restore(json.loads(json.dumps(aboard.watch.state())))
    again.minutes(30)
    again.utc_s = UTC_S + 365 * 86400
    again.minutes(1)
    assert again.watch.guided() is not None
    again.minutes(90)
    assert again.watch.guided() is None


def test_a_test_that_nobody_goes_on_with_tells_to_put_everything_back() -> None:
    aboard = Aboard(boat(["pump cock"]), "common", 2.0)
    aboard.command("start")
    while aboard.now().step != "shut the cock":
        aboard.obey()
    aboard.minutes(12 * 60 + 2)

    assert aboard.told[-1].facts["outcome"] == "given up"
    assert "open every cock again, a cold tap first" in aboard.says()
    aboard.minutes(24 * 60)
    assert aboard.now().step == "put back"


def test_stopping_tells_what_to_put_back() -> None:
    """A cock that stays shut, or a heater that stays off or is switched on empty, is forgotten harm."""
    aboard = Aboard(boat(["pump cock"]), "common", 2.0)
    aboard.command("start")
    while not aboard.asked:
        aboard.obey()
    aboard.command("stop")
    assert "open every cock again, a cold tap first" in aboard.says()
    assert "only when it is full of water" in aboard.says()
    assert "scalds" in aboard.says()
    assert aboard.command("stop") is None
    assert [e.facts["outcome"] for e in aboard.told] == ["stopped"]


# ---- words


def spoken() -> Iterator[str]:
    yield from (id for id in SENTENCES if id.startswith(("guided: ", "guided answer: ")))


def test_every_outcome_is_told_with_and_without_what_to_put_back() -> None:
    for outcome in OUTCOMES:
        for back in ("", ", open cocks", ", open heater", ", open cocks and heater"):
            assert f"guided: found {outcome}{back}" in SENTENCES


def test_everything_said_on_the_way_has_a_sentence_without_gaps() -> None:
    """Every sentence that any of these tests' steps shows, with the facts it is shown with."""
    seen: dict[str, str] = {}
    for leak_at in NODES:
        aboard = Aboard(boat(list(ALL_COCKS)), leak_at, 0.5)
        aboard.command("start")
        aboard.command("done")
        aboard.command("done")
        while not aboard.now().done:
            seen[aboard.now().say.id] = aboard.says()
            for _, reason in aboard.now().answers:
                assert reason.id in SENTENCES
            aboard.obey()
        seen[aboard.now().say.id] = aboard.says()

    assert len(seen) > 20
    for id, said in seen.items():
        assert id in SENTENCES
        assert UNKNOWN not in said, said


def test_the_words_warn_where_it_can_hurt() -> None:
    """Hot taps scald; a relief valve is never shut off; a heater is never heated empty."""
    for id in spoken():
        text = SENTENCES[id]
        assert "hot tap" not in text or "scald" in text, id
        if "heater is on" not in text and "Switch the heater on again" in text:
            assert "full of water" in text
        if "cock to the heater" in text or "cock after the heater" in text:
            assert "relief valve or expansion vessel" in text


def test_every_fact_in_the_words_is_given() -> None:
    aboard = waiting()
    given = set(aboard.now().say.facts)
    for id in spoken():
        assert {name for _, name, _, _ in Formatter().parse(SENTENCES[id]) if name} <= given, id
