"""`ebbwatch replay`: report and estimates have exactly the keys and names that stand in the README."""

import json
import re
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from monitor.alerts.rules import RULES
from monitor.records import Severity
from tests.commands.conftest import Ebbwatch
from tests.commands.marram import START_UTC_S, battery_line, sample_in, write_bus, write_voyage

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
REPORT = README.split("### The report")[1].split("## How sure")[0]
DAYS_TOLD = 0.9
DAYS = ("likely", "cautious", "beyond")
KEYS: dict[str, Any] = {
    "boat": None,
    "covers": ("from", "to"),
    "counts": ("frames", "messages", "samples", "undecodable", "unknown", "implausible", "retained"),
    "banks": (
        "charge_pct", "charge_low_pct", "charge_high_pct", "left_Wh", "energy_days", "autonomy_days",
        "last_full",
    ),
    "tanks": ("left_L",),
    "water": ("left_L", "water_days"),
    "pumps": ("runs", "leak_L_per_day", "verdict"),
    "alerts": ("rule", "subject", "severity", "began", "ended", "open", "because", "reason"),
    "nights": (
        "from", "to", "used_Wh", "made_Wh", "net_Wh", "by", "unexplained_Wh", "unnamed", "made_by", "gaps",
        "place", "usual_Wh", "changed", "health", "air_C", "water_L", "lowest_V", "pump_starts",
        "dusk_pct", "dawn_pct", "missing_s", "made_estimated",
    ),
}  # fmt: skip


def listed(name: str) -> set[str]:
    """The words of one of the README's closed lists."""
    (line,) = re.findall(rf"^- `{name}`: (.*?)\.$", REPORT, re.MULTILINE | re.DOTALL)
    return set(re.findall(r"`([^`]+)`", line))


def a_time(text: str) -> float:
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", text), "ISO 8601 in UTC"
    return datetime.fromisoformat(text).timestamp()


@pytest.fixture(scope="module")
def voyage(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """From a morning to the next: a full charge, a whole night, pump runs."""
    folder = tmp_path_factory.mktemp("voyage")
    return write_voyage(folder, "quiet-anchorage", DAYS_TOLD, 60.0, START_UTC_S + 10 * 3600)


@pytest.fixture
def replayed(
    ebbwatch: Ebbwatch, tmp_path: Path, voyage: tuple[Path, Path, Path]
) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    settings, bus, broker = voyage
    report, lines = tmp_path / "r.json", tmp_path / "e.jsonl"
    said = ebbwatch(
        "replay", "--settings", settings, "--store", tmp_path / "new.db", "--report", report,
        "--estimates", lines, "--every", "30m", broker, bus,
    )  # fmt: skip
    assert said.code == 0, said.mistakes
    return json.loads(report.read_text()), [json.loads(line) for line in lines.read_text().splitlines()]


def test_the_report_has_the_keys_that_are_documented(
    replayed: tuple[dict[str, Any], list[dict[str, Any]]], voyage: tuple[Path, Path, Path]
) -> None:
    report, lines = replayed

    assert tuple(report) == tuple(KEYS)
    for key, inner in KEYS.items():
        found = report[key]
        if key in ("banks", "tanks", "pumps"):
            assert found, key
            objects = list(found.values())
        else:
            objects = found if isinstance(found, list) else [found]
            assert objects, key
        for one in objects if inner else []:
            assert tuple(one) == inner
    assert set(report["banks"]) == {"house", "navigation"}
    assert set(report["tanks"]) == {"forward", "midship"}
    for days in (
        report["banks"]["house"]["energy_days"], report["banks"]["house"]["autonomy_days"],
        report["water"]["water_days"],
    ):  # fmt: skip
        assert tuple(days) == DAYS
        assert 0 <= days["cautious"] <= days["likely"] <= 10
    frames, messages = (path.read_text().count("\n") for path in voyage[1:])
    assert (report["counts"]["frames"], report["counts"]["messages"]) == (frames, messages)
    assert report["counts"]["undecodable"] == report["counts"]["unknown"] == 0
    assert a_time(report["covers"]["from"]) == START_UTC_S + 10 * 3600
    assert a_time(report["covers"]["to"]) == pytest.approx(
        START_UTC_S + 10 * 3600 + DAYS_TOLD * 86400, abs=60
    )
    assert a_time(report["banks"]["house"]["last_full"]) > START_UTC_S
    assert report["banks"]["navigation"]["charge_pct"] is None, "a lead buffer has no charge"
    for night in report["nights"]:
        assert night["made_Wh"] - night["used_Wh"] == pytest.approx(night["net_Wh"], abs=0.2)
        assert a_time(night["from"]) < a_time(night["to"])
        for share in (*night["by"], *night["unnamed"]):
            assert tuple(share) == ("what", "load", "Wh", "confidence", "runs")
        by_Wh = sum(share["Wh"] for share in night["by"])
        assert by_Wh + night["unexplained_Wh"] == pytest.approx(night["used_Wh"], abs=0.2)
    for alert in report["alerts"]:
        assert alert["rule"] in listed("rule")
        assert alert["severity"] in listed("severity")
        assert (alert["ended"] is None) == alert["open"]
    for pump in report["pumps"].values():
        assert pump["verdict"] in listed("verdict")

    _the_lines_are_documented(lines, report)


def _the_lines_are_documented(lines: list[dict[str, Any]], report: dict[str, Any]) -> None:
    table = REPORT.split("By subject:")[1].split("Closed lists")[0]
    names = set(re.findall(r"`([^`]+)`", table))
    assert {line["name"] for line in lines} <= names
    assert {"charge_pct", "left_Wh", "energy_days", "tank_L", "left_L", "water_days"} <= {
        line["name"] for line in lines
    }
    for line in lines:
        assert tuple(line) == ("time", "name", "subject", "value", "low", "high")
        known = [line[key] for key in ("low", "value", "high") if line[key] is not None]
        assert len(known) in (0, 2, 3) if line["name"].endswith("days") else len(known) in (0, 1, 2, 3)
        if line["value"] is not None and line["low"] is not None:
            assert line["low"] <= line["value"] + 1e-9
        if line["value"] is not None and line["high"] is not None:
            assert line["value"] <= line["high"] + 1e-9
    times = [a_time(line["time"]) for line in lines if (line["name"], line["subject"]) == ("left_L", "water")]
    assert len(times) == pytest.approx(DAYS_TOLD * 48, abs=2)
    assert {b - a for a, b in pairwise(times)} == {1800.0}
    last = {
        (line["name"], line["subject"]): line["value"] for line in lines if line["time"] == lines[-1]["time"]
    }
    assert last["charge_pct", "house"] == pytest.approx(report["banks"]["house"]["charge_pct"], abs=3)
    assert last["left_L", "water"] == pytest.approx(report["water"]["left_L"], abs=10)


def test_every_key_stands_in_the_readme() -> None:
    for key, inner in KEYS.items():
        (row,) = re.findall(rf"^\| `{key}`.*$", REPORT, re.MULTILINE)
        for name in inner or ():
            assert re.search(rf"\b{name}\b", row), (key, name)
    assert "`{likely, cautious, beyond}`" in REPORT


def test_the_closed_lists_are_those_of_the_code() -> None:
    assert listed("rule") == set(RULES)
    assert listed("severity") == set(Severity)
    assert listed("verdict") == {"tight", "leak suspected", "not enough known yet"}


def test_a_capture_of_elapsed_time_only_has_no_dates(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    """A computer without a clock, and nothing on the bus that tells the time: unknown is null."""
    sample_in(tmp_path)
    capture = write_bus(tmp_path / "bus.log", [battery_line(s, 13.2, -4.0) for s in range(600)])
    report = tmp_path / "r.json"

    said = ebbwatch(
        "replay", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "n.db", "--report", report,
        "--untrusted-clock", capture,
    )  # fmt: skip

    assert said.code == 0, said.mistakes
    told = json.loads(report.read_text())
    assert told["covers"] == {"from": None, "to": None}
    assert told["counts"]["frames"] == 600
    assert told["counts"]["samples"] > 600
    assert told["banks"]["house"]["charge_pct"] is None
    assert told["nights"] == []
    assert all(alert["began"] is None for alert in told["alerts"])
    assert "clock not confirmed" in {alert["rule"] for alert in told["alerts"]}


def test_bad_lines_are_counted_and_the_first_are_named(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    sample_in(tmp_path)
    lines = [battery_line(START_UTC_S + s, 13.2, -4.0) for s in range(120)]
    lines[60:60] = ["(half a li\n", "(1790812860.0) can0 20000004#0000000000000000\n"]  # an error frame
    lines[90:90] = ["(1790812890.0) can0 19F21423#R\n"]
    report = tmp_path / "r.json"

    said = ebbwatch(
        "replay", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "n.db", "--report", report,
        write_bus(tmp_path / "bus.log", lines),
    )  # fmt: skip

    assert said.code == 0
    assert f"skipped: {tmp_path / 'bus.log'}:61: '(half a li'" in said.out
    counts = json.loads(report.read_text())["counts"]
    assert (counts["frames"], counts["undecodable"], counts["unknown"]) == (120, 3, 0)


def test_the_present_of_a_report_is_utc(ebbwatch: Ebbwatch, tmp_path: Path) -> None:
    sample_in(tmp_path)
    capture = write_bus(tmp_path / "b.log", [battery_line(START_UTC_S + s, 13.2, 0.0) for s in range(61)])
    ebbwatch(
        "replay", "--settings", tmp_path / "boat.toml", "--store", tmp_path / "n.db", "--report",
        tmp_path / "r.json", capture,
    )  # fmt: skip

    covers = json.loads((tmp_path / "r.json").read_text())["covers"]

    assert covers["from"] == datetime.fromtimestamp(START_UTC_S, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
