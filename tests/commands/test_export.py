"""`ebbwatch export`: what was put in comes out, reading for reading."""

import csv
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.commands.conftest import Ebbwatch
from tests.commands.marram import START_UTC_S, battery_line, sample_in, write_bus

SECONDS = 2 * 3600 + 47


def volts(second: int) -> float | None:
    """Two hours of a bank, on the bus's own step of 10 mV; sometimes "not available"."""
    return None if second % 97 == 5 else round(12.5 + second % 61 / 100, 2)


def amps(second: int) -> float:
    return -40 + (second * 7) % 801 / 10


@pytest.fixture
def store(ebbwatch: Ebbwatch, tmp_path: Path) -> Path:
    sample_in(tmp_path)
    capture = write_bus(
        tmp_path / "bus.log", (battery_line(START_UTC_S + s, volts(s), amps(s)) for s in range(SECONDS))
    )
    said = ebbwatch(
        "replay", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "n.db",
        "--report", tmp_path / "r.json", capture,
    )  # fmt: skip
    assert said.code == 0, said.mistakes
    return tmp_path / "n.db"


def read(text: str) -> list[tuple[float, float | None]]:
    header, *rows = csv.reader(text.splitlines())
    assert header[0] == "time"
    return [(datetime.fromisoformat(time).timestamp(), float(v) if v else None) for time, v in rows]


def moment(second: int) -> str:
    return datetime.fromtimestamp(START_UTC_S + second, UTC).isoformat().replace("+00:00", "Z")


def test_what_was_put_in_comes_out(ebbwatch: Ebbwatch, store: Path) -> None:
    said = ebbwatch("export", "--store", store, "--channel", "house voltage")

    assert (said.code, said.mistakes) == (0, [])
    rows = read(said.out)
    assert [time for time, _ in rows] == [START_UTC_S + s for s in range(SECONDS)]
    assert [value for _, value in rows] == [volts(s) for s in range(SECONDS)]


def test_a_span_is_half_open_and_goes_to_a_file(ebbwatch: Ebbwatch, store: Path, tmp_path: Path) -> None:
    out = tmp_path / "current.csv"

    said = ebbwatch(
        "export", "--store", store, "--channel", "house current", "--out", out,
        "--from", moment(100), "--to", moment(3700),
    )  # fmt: skip

    assert (said.code, said.out, said.mistakes) == (0, "", [])
    rows = read(out.read_text())
    assert [time for time, _ in rows] == [START_UTC_S + s for s in range(100, 3700)]
    assert [value for _, value in rows] == pytest.approx([amps(s) for s in range(100, 3700)], abs=1e-9)


def test_a_time_with_an_offset_is_that_moment(ebbwatch: Ebbwatch, store: Path) -> None:
    said = ebbwatch(
        "export", "--store", store, "--channel", "house current",
        "--from", "2026-10-01T02:30+02:00", "--to", "2026-10-01T00:30:10",
    )  # fmt: skip

    assert [time for time, _ in read(said.out)] == [START_UTC_S + 1800 + s for s in range(10)]


def test_without_a_channel_they_are_listed(ebbwatch: Ebbwatch, store: Path) -> None:
    said = ebbwatch("export", "--store", store)

    names = said.out.splitlines()
    assert {"house voltage", "house current", "backbone heard", "backbone up"} <= set(names)
    assert names == sorted(names)


def test_large_numbers_keep_their_digits(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    """A longitude in the far west has seven digits at a ten-thousandth of a degree."""
    sample_in(tmp_path)
    topic = '{"time": %d, "topic": "gps", "payload": "-149.9003"}\n'
    (tmp_path / "m.jsonl").write_text("".join(topic % (START_UTC_S + s) for s in range(90)))
    (tmp_path / "boat.toml").write_text(
        '[boat]\nname = "Tern"\n[[sources]]\nkind = "mqtt"\nname = "broker"\n[[instruments]]\nname = "gps"\n'
        'feeds = [{ source = "broker", topic = "gps", quantity = "longitude" }]\n'
    )
    ebbwatch(
        "replay", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "n.db",
        "--report", tmp_path / "r.json", tmp_path / "m.jsonl",
    )  # fmt: skip

    said = ebbwatch("export", "--store", tmp_path / "n.db", "--channel", "gps longitude")

    assert {value for _, value in read(said.out)} == {-149.9003}
