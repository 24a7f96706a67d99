"""A night in words, in lines that add up, and drawn: by hand, and by what must be conserved."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import HOUR_S
from monitor.records import Account, LoadKind, NightLedger, Reason, Share, Snapshot, Usual
from tests.web.canned import LEDGERS, NIGHTS, well
from tests.web.canned import settings as sample
from web.choices import dress_for
from web.presentation.bands import Bands, bands
from web.presentation.figures import Reader
from web.presentation.night import night
from web.presentation.night_files import rows
from web.presentation.night_ledger import Ledger, ledger
from web.presentation.night_parts import apportioned, by_names_now, parts_of
from web.presentation.night_words import engine_hours, first_of_night, first_of_span, more
from web.presentation.nights_before import costs

START_S, END_S = NIGHTS[13]
FREEZER = LoadKind(
    "load 1", 46.0, 46.0, 1.0, 1000.0, 0.1, "cycles", 0.95, 90, 9, START_S, "freezer", "freezer"
)
PLAIN = NightLedger(
    START_S, END_S, 1020.0, 0.0, -1020.0,
    (Share("standing load", 500.0, 0.9), Share("freezer", 400.0, 0.95, (), "load 1")),
    120.0, 21.0, {"house": 12.9}, 4, 78.0, 63.0, 0.0, False, place="at anchor",
    usual=Usual(930.0, 23.0, 9, "at anchor", {"standing load": 498.0, "load 1": 286.0}),
    changed=(Reason("changed: ran longer", {"name": "freezer", "load": "load 1", "more": 40.0}),),
)  # fmt: skip


def reader(*loads: LoadKind, snapshot: Snapshot | None = None) -> Reader:
    settings = sample()
    return Reader(replace(snapshot or well(), loads=loads or (FREEZER,)), settings, dress_for(settings))


def said(n: NightLedger, *loads: LoadKind) -> str:
    return first_of_night(reader(*loads), n, parts_of(n)).replace("\u00a0", " ")


def told(n: NightLedger, *loads: LoadKind) -> Ledger:
    return ledger(reader(*loads), n, parts_of(n), night=True)


# ---- the first sentence


def test_the_first_sentence_tells_the_use_the_usual_and_what_has_changed() -> None:
    assert said(PLAIN) == (
        "1.02 kWh, 90 Wh more than your usual night at anchor; the freezer ran 40 % longer."
    )


def test_what_is_not_well_is_said_by_the_name_it_has_now() -> None:
    ill = replace(
        PLAIN,
        health=(
            Reason("health: works harder", {"name": "icebox", "load": "load 1", "more": 50.0, "duty": 60.0}),
            Reason("health: left on", {"W": 11.0}),
        ),
    )

    sentences = [text.replace("\u00a0", " ") for text in more(reader(), ill, night=True)]

    assert any(text.startswith("The freezer ran 50 % more than this warmth asks for") for text in sentences)
    assert any(text.endswith("was something left on?") for text in sentences)


def test_less_and_as_much_as_usual() -> None:
    """40 Wh of 1020 or less are "about as much"."""
    assert PLAIN.usual is not None
    less = replace(PLAIN, changed=(), usual=replace(PLAIN.usual, used_Wh=1220.0))
    assert said(less) == "1.02 kWh, 200 Wh less than your usual night at anchor."
    alike = replace(less, usual=replace(PLAIN.usual, used_Wh=1050.0))
    assert said(alike) == "1.02 kWh, about as much as your usual night at anchor."


def test_much_unexplained_is_said_in_the_first_sentence_and_stands_first() -> None:
    """More than 15 % of what was used: 153 Wh of 1020 are not, 154 Wh are."""

    def with_freezer(Wh: float) -> NightLedger:
        shares = (PLAIN.by[0], replace(PLAIN.by[1], Wh=Wh))
        return replace(PLAIN, by=shares, unexplained_Wh=520.0 - Wh)

    assert "not explained" not in said(with_freezer(367.0))
    assert told(with_freezer(367.0)).used[0].label != "unexplained"
    assert "at anchor, of which 154 Wh (15 %) is not explained; the freezer" in said(with_freezer(366.0))
    assert told(with_freezer(366.0)).used[0].label == "unexplained"


def test_nothing_is_compared_that_was_not_heard() -> None:
    torn = replace(PLAIN, missing_s=7200.0)
    assert said(torn) == "At least 1.02 kWh used: for 2 h nothing was heard, so no comparison is made."
    assert said(replace(PLAIN, used_Wh=None)) == "What the night took is unknown."
    unusual = replace(PLAIN, usual=None, changed=())
    assert said(unusual).startswith("1.02 kWh used; what your nights at anchor usually take is not known")


def test_what_changed_bears_the_name_of_now_or_its_watts() -> None:
    """A load that was named since, and one that was not."""
    changed = (Reason("changed: missing", {"name": "a load", "load": "load 1"}),)
    n = replace(PLAIN, changed=changed)
    assert said(n).endswith("; the freezer did not run.")
    assert said(n, replace(FREEZER, name="")).endswith("; a load of 46 W did not run.")


def test_a_span_is_told_by_the_day() -> None:
    """2.4 kWh in two days are 1.2 kWh a day; half a day has no day's figure."""
    n = replace(PLAIN, end_s=START_S + 48 * HOUR_S, used_Wh=2400.0)
    first = first_of_span(reader(), n, parts_of(n, told_apart=False))
    assert first.replace("\u00a0", " ") == "2.40 kWh used in 2 days, 1.20 kWh a day."
    assert "a day" not in first_of_span(reader(), PLAIN, parts_of(PLAIN))
    assert not any("dusk" in sentence for sentence in more(reader(), PLAIN, night=False))


def test_an_hour_of_the_engine() -> None:
    """960 Wh in an hour and a half are 640 Wh an hour; unknown running gives no figure, sun is no engine."""
    n = replace(PLAIN, made_by=(Share("alternator", 960.0, 1.0), Share("panels", 300.0, 1.0)))
    (line,) = engine_hours(reader(), n, {"alternator": (960.0, 5400.0)})
    assert line.replace("\u00a0", " ") == (
        "An hour of the alternator put in 640 Wh: 960 Wh in 1.5 h of running."
    )
    assert "not known" in engine_hours(reader(), n, {})[0]


# ---- the sums


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=12))
def test_rounded_parts_add_up_and_none_is_off_by_a_unit(parts: list[float]) -> None:
    total, shown = apportioned(sum(parts), parts)
    assert sum(shown) == total
    assert all(abs(a - b) < 1 + 1e-6 for a, b in zip(parts, shown, strict=True))


@pytest.mark.parametrize("n", LEDGERS)
def test_the_lines_that_are_shown_add_up(n: NightLedger) -> None:
    """Named, standing and unexplained are the use; the unnamed and the rest are the unexplained again."""

    def figure(text: str) -> int:
        return int(text.replace("−", "-"))

    lines = told(n).used
    own = sum(figure(line.Wh) for line in lines if not line.sub and not line.total)
    within = sum(figure(line.Wh) for line in lines if line.sub)
    (unexplained,) = (figure(line.Wh) for line in lines if line.label == "unexplained")
    assert own == figure(lines[-1].Wh) == round(n.used_Wh or 0)
    assert within == unexplained


@pytest.mark.parametrize("n", LEDGERS)
def test_the_file_adds_up_as_decimals(n: NightLedger) -> None:
    found = rows(n)

    def total(*kinds: str) -> Decimal:
        return sum((row["energy_Wh"] for row in found if row["kind"] in kinds), Decimal(0))

    assert total("named", "standing", "unexplained") == total("used")
    assert total("source", "unmetered") == total("made")
    assert total("made") - total("used") == total("net")
    assert abs(float(total("used")) - (n.used_Wh or 0)) <= 0.0005


def test_loads_without_a_name_stand_under_the_unexplained_with_a_way_to_name_them() -> None:
    lines = told(LEDGERS[13], *well().loads).used
    names = [line.label for line in lines]
    unnamed = lines[names.index("a load of 34\u00a0W")]
    assert names.index("unexplained") < names.index("a load of 34\u00a0W") < names.index("freezer")
    assert unnamed.sub
    assert unnamed.href == "/loads/load%202"


def test_two_shares_of_one_name_are_one_line() -> None:
    n = replace(PLAIN, by=(*PLAIN.by, Share("freezer", 60.0, 0.8, (), "load 9")))
    (freezer,) = (p for p in parts_of(n).named if p.name == "freezer")
    assert (freezer.Wh, freezer.confidence, freezer.keys) == (460.0, 0.8, ("load 1", "load 9"))


def test_a_night_of_before_the_name_is_told_with_it_and_its_sum_stays() -> None:
    """A load that was under the unexplained when the night was written: 400 Wh move out of it, and out of
    what is usually unexplained. A withdrawn name, or one too unsure, moves back."""
    written = replace(PLAIN, by=(PLAIN.by[0], replace(PLAIN.by[1], what="")), unexplained_Wh=520.0)
    n = by_names_now(written, [FREEZER])
    lines = {line.label: (line.Wh, line.usual) for line in told(n).used}
    assert lines["freezer"] == ("400", "+114")
    # Usually 930 Wh, of them 498 standing and 286 the freezer's: 146 Wh are unexplained.
    assert lines["unexplained"] == ("120", "−26")
    assert lines["used"] == ("1020", "+90")
    for kind in (replace(FREEZER, name=""), replace(FREEZER, confidence=0.79)):
        back = {line.label: line.Wh for line in told(by_names_now(n, [kind]), kind).used}
        assert back["unexplained"] == "520"
        assert "freezer" not in back


def test_a_night_under_way_is_compared_with_nothing_and_counts_for_no_cost() -> None:
    now = replace(well(), utc_s=START_S + 2 * HOUR_S, loads=(FREEZER,), nights=(LEDGERS[12], PLAIN))
    here = reader(snapshot=now)
    view = night(here, PLAIN, None, None, "")
    assert view.first.replace("\u00a0", " ") == "1.02 kWh used so far."
    assert [b.day for b in view.before] == ["Tue 24 Nov, so far", "Mon 23 Nov"]
    assert "Nights in it: 1." in view.costs_note
    assert view.ledger is not None
    assert view.ledger.against == ""


def test_what_each_costs_a_night_and_a_day() -> None:
    """The freezer takes 400 Wh in 10 h heard of each of two nights: 960 Wh in 24 h. What is switched by
    hand has no day."""
    short = replace(PLAIN, end_s=START_S + 10 * HOUR_S)
    lamps = Share("lamps", 100.0, 0.9, (), "load 3")
    kind = replace(FREEZER, id="load 3", how="runs", name="lamps")
    nights = [replace(short, by=(*short.by, lamps)), short]
    by_name = {c.name: (c.a_night, c.a_day) for c in costs(reader(FREEZER, kind), nights)}
    assert by_name["freezer"] == ("400", "960")
    assert by_name["standing load"] == ("500", "1200")
    assert by_name["lamps"] == ("50", "")


# ---- the strip


STEP_S, STEPS = 60.0, 600


def strip_of(watts: dict[str, tuple[float, ...]], *by: Share, loads: tuple[LoadKind, ...] = ()) -> Bands:
    used_Wh = sum(v for key, w in watts.items() for v in w if key != "made" and v == v) * STEP_S / HOUR_S
    n = replace(PLAIN, end_s=START_S + STEPS * STEP_S, used_Wh=used_Wh, by=by, usual=None, changed=())
    drawn = bands(reader(*loads), Account(n, STEP_S, watts), parts_of(n))
    assert drawn is not None
    return drawn


def area(path: str) -> float:
    """Of the pieces of M x y, H x, V y and Z: the shoelace formula, each piece taken positive."""
    whole = 0.0
    for piece in path.split("Z"):
        corners: list[tuple[float, float]] = []
        for letter, text in re.findall(r"([MHV])([^MHV]*)", piece):
            numbers = [float(v) for v in text.split()]
            x, y = corners[-1] if corners else (0.0, 0.0)
            corners.append(
                {"M": (numbers[0], numbers[-1]), "H": (numbers[0], y), "V": (x, numbers[0])}[letter]
            )
        turned = [*corners[1:], *corners[:1]]
        whole += abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, turned, strict=True))) / 2
    return whole


def top_of(drawn: Bands) -> float:
    """Watts at the upper edge, from the lowest ruled line."""
    y, label = drawn.scale[0]
    return float(label.split("\u00a0")[0]) / (1 - y)


def test_the_area_of_a_band_is_its_energy() -> None:
    """Ten hours: 30 W all the time are 300 Wh, 40 W in half of it are 200 Wh."""
    freezer = tuple(40.0 if i // 30 % 2 else 0.0 for i in range(STEPS))
    drawn = strip_of(
        {"standing load": (30.0,) * STEPS, "load 1": freezer, "unexplained": (5.0,) * STEPS},
        Share("standing load", 300.0, 0.9), Share("freezer", 200.0, 0.95, (), "load 1"),
    )  # fmt: skip
    of_Wh = top_of(drawn) * 10
    assert [b.pattern for b in drawn.bands] == ["standing", "load-0", "unexplained"]
    assert [area(b.path) * of_Wh for b in drawn.bands] == pytest.approx([300, 200, 50], rel=0.01)


def test_a_gap_is_in_no_band_and_has_its_place() -> None:
    """Two of ten hours from the third on."""
    gap = range(180, 300)
    standing = tuple(float("nan") if i in gap else 30.0 for i in range(STEPS))
    drawn = strip_of({"standing load": standing, "unexplained": tuple(v - 25 for v in standing)})
    (there,) = drawn.gaps
    assert there == pytest.approx((0.3, 0.2))
    for band in drawn.bands:
        assert band.path.count("Z") == 2


def test_loads_of_one_name_are_drawn_together_and_no_key_is_left_out() -> None:
    """The ledger tells two loads in one share of the first's id; the steps come under both ids. What has no
    share at all is drawn with what is unexplained."""
    flat = {"load 1": (20.0,) * STEPS, "load 9": (10.0,) * STEPS, "load 5": (7.0,) * STEPS}
    twin = replace(FREEZER, id="load 9")
    drawn = strip_of(
        {**flat, "unexplained": (3.0,) * STEPS, "made": (500.0,) * STEPS},
        Share("freezer", 300.0, 0.9, (), "load 1"), loads=(FREEZER, twin),
    )  # fmt: skip
    of_Wh = top_of(drawn) * 10
    assert [area(b.path) * of_Wh for b in drawn.bands] == pytest.approx([300, 100], rel=0.01)


def test_a_short_peak_is_cut_off_and_named() -> None:
    kettle = tuple(1500.0 if i in (100, 101) else 0.0 for i in range(STEPS))
    drawn = strip_of(
        {"standing load": (40.0,) * STEPS, "unexplained": kettle}, Share("standing load", 400.0, 0.9)
    )
    assert top_of(drawn) < 200
    assert drawn.peak is not None
    assert "1540\u00a0W" in drawn.peak.text
