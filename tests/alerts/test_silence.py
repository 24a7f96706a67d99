"""Silence is told, once, under its root cause, and never taken for "all is well"."""

from dataclasses import replace

import pytest

from monitor.alerts.facts import Facts
from monitor.alerts.findings import findings
from monitor.records import Finding, Reading, Severity, SourceHealth
from tests.alerts.boat import NOW_S, WELL, but, found


def bus(silent_s: float | None, up: bool = True) -> tuple[SourceHealth, ...]:
    heard_at_s = None if silent_s is None else NOW_S - silent_s
    return (SourceHealth("bus", "can", up, heard_at_s, trouble="" if up else "unplugged"), *WELL.sources[1:])


def silent(*names: str, since_s: float = 100.0) -> dict[str, Reading]:
    return {name: Reading(NOW_S - since_s, 1.0, True) for name in names}


def told(facts: Facts) -> dict[str, Finding]:
    return {f"{f.rule}/{f.subject}": f for f in findings(facts) if f.holds}


def test_a_source_is_silent_after_a_minute() -> None:
    assert not found(but(sources=bus(59)), "source silent", "bus").holds
    assert found(but(sources=bus(60)), "source silent", "bus").holds


def test_a_source_that_was_never_heard_is_silent_a_minute_after_the_start() -> None:
    early = found(but(sources=bus(None), started_s=NOW_S - 59), "source silent", "bus")
    late = found(but(sources=bus(None), started_s=NOW_S - 60), "source silent", "bus")

    assert (early.holds, late.holds) == (False, True)
    assert late.reason.id == "alert: source never heard"


def test_the_house_bank_makes_it_a_warning() -> None:
    broker = (WELL.sources[0], SourceHealth("broker", "mqtt", False, NOW_S - 500), WELL.sources[2])

    assert found(but(sources=bus(600)), "source silent", "bus").severity is Severity.WARNING
    assert found(but(sources=broker), "source silent", "broker").severity is None


def test_a_bus_that_restarts_wakes_nobody() -> None:
    """Blind for ten minutes, an alarm that wants somebody within ten (A.1021(26)) may go unheard."""
    assert found(but(sources=bus(599)), "source silent", "bus").severity is None
    assert found(but(sources=bus(599)), "source silent", "bus").holds


def test_a_recording_that_has_ended_is_not_silent() -> None:
    assert [f.subject for f in findings(WELL) if f.rule == "source silent"] == ["bus", "broker"]


def test_one_situation_one_alert() -> None:
    """MSC.302(87) 5.2: a dead bus is one alert, and it names what it takes with it."""
    names = ("house voltage", "house current", "navigation voltage", "forward level", "aft level")

    facts = but(sources=bus(100), values=silent(*names, "pump running"))

    assert list(told(facts)) == ["source silent/bus"]
    instruments = told(facts)["source silent/bus"].reason.facts["instruments"]
    assert instruments == "house, navigation, forward, aft, pump, heater, engine"


def test_before_the_source_is_overdue_its_instruments_do_not_cry_first() -> None:
    """The quickest quantity is silent after 30 s, its source only after 60 s."""
    facts = but(sources=bus(40), values=silent("house voltage", since_s=41))

    assert told(facts) == {}
    assert found(facts, "instrument silent", "house").holds is None


@pytest.mark.parametrize(
    ("names", "subject", "severity"),
    [
        (("house voltage",), "house", Severity.WARNING),
        (("house charge",), "house", None),
        (("navigation voltage",), "navigation", None),
        (("forward level",), "forward", None),
        (("heater temperature",), "heater", None),
    ],
)
def test_an_instrument_is_silent_while_its_source_speaks(
    names: tuple[str, ...], subject: str, severity: Severity | None
) -> None:
    facts = but(values=silent(*names, since_s=600.0))
    early = but(values=silent(*names, since_s=599.0))

    assert list(told(facts)) == [f"instrument silent/{subject}"]
    assert told(early)[f"instrument silent/{subject}"].severity is None
    assert told(facts)[f"instrument silent/{subject}"].severity is severity


def test_an_engine_that_is_off_is_not_a_silent_instrument() -> None:
    assert told(but(values=silent("engine speed", since_s=5000.0))) == {}


def test_what_was_worked_out_is_not_an_instrument() -> None:
    """Figures kept beside the readings fall silent with them and are no news of their own."""
    assert told(but(values=silent("house energy left", since_s=5000.0))) == {}


def test_a_subject_that_was_never_heard_is_told_after_five_minutes() -> None:
    values = {name: r for name, r in WELL.values.items() if not name.startswith("aft")}
    early, late = (replace(WELL, values=values, started_s=NOW_S - age_s) for age_s in (299.0, 300.0))

    assert told(early) == {}
    assert told(late)["instrument silent/aft"].reason.id == "alert: instrument never heard"


def test_where_the_source_of_a_channel_is_known_it_alone_explains() -> None:
    """A second feed from a bus that is quiet too cannot hide an instrument that died by itself."""
    quiet = {"values": silent("heater temperature", since_s=500.0), "sources": bus(560)}
    unknown = but(**quiet)
    known = but(**quiet, source_of={"heater temperature": "broker"})

    assert told(unknown).keys() == {"source silent/bus"}
    assert told(known).keys() == {"source silent/bus", "instrument silent/heater"}
