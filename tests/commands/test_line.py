"""Every mistake in the arguments is one clear line on standard error and exit code 2, before anything
is made."""

import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor import __version__
from tests.commands.conftest import Ebbwatch
from tests.commands.marram import START_UTC_S, battery_line, sample_in, write_bus


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a boat, a capture, a store and files that are none of them."""
    sample_in(tmp_path)
    write_bus(tmp_path / "bus.log", [battery_line(START_UTC_S + s, 13.2, -4.0) for s in range(90)])
    (tmp_path / "taken.db").write_bytes(b"somebody's")
    (tmp_path / "noise.log").write_bytes(bytes(range(256)) * 40)
    (tmp_path / "letter.toml").write_text("Dear harbour master,\n")
    (tmp_path / "latin.toml").write_bytes(b'[boat]\nname = "Ca\xf1a"\n')
    monkeypatch.chdir(tmp_path)
    return tmp_path


REPLAY = "replay --settings boat.toml --store new.db --report r.json "
MISTAKES = {
    "unknown command": ("sail", "No such command 'sail'"),
    "unknown option": ("check --settings boat.toml --loud", "No such option: --loud"),
    "missing option": ("check", "Missing option '--settings'"),
    "missing argument": ("simulate --out sim", "Missing argument"),
    "unknown scenario": ("simulate hurricane --out sim", "'hurricane' is unknown; there are: quiet"),
    "no days at all": ("simulate passage --days 0 --out sim", "'--days'"),
    "days that are no number": ("simulate passage --days soon --out sim", "'--days'"),
    "days that never end": ("simulate passage --days nan --out sim", "'--days'"),
    "a folder that is a file": ("simulate passage --days 0.01 --out bus.log", "bus.log: File exists"),
    "a port that is a word": ("demo --port harbour", "'--port'"),
    "port 0": ("demo --port 0", "'--port'"),
    "a port too high": ("demo --port 65536", "'--port'"),
    "no speed": ("demo --speed 0", "'--speed'"),
    "a speed backwards": ("demo --speed -1", "'--speed'"),
    "a speed beyond all": ("demo --speed inf", "'--speed'"),
    "days in the future": ("demo --days -1", "'--days'"),
    "no such settings": ("check --settings none.toml", "none.toml: cannot be read"),
    "settings that are a folder": ("check --settings .", ".: cannot be read"),
    "settings that are prose": ("check --settings letter.toml", "letter.toml: not TOML"),
    "settings in another encoding": ("run --settings latin.toml", "latin.toml: cannot be read"),
    "settings that are noise": ("run --settings noise.log", "noise.log: cannot be read"),
    "listen on nonsense": ("run --settings boat.toml --listen harbour", "expected HOST:PORT"),
    "listen on no port": ("run --settings boat.toml --listen 127.0.0.1:", "expected HOST:PORT"),
    "listen on no host": ("run --settings boat.toml --listen :8470", "expected HOST:PORT"),
    "listen on port 0": ("run --settings boat.toml --listen 127.0.0.1:0", "expected HOST:PORT"),
    "listen on port ²": ("run --settings boat.toml --listen 127.0.0.1:²", "expected HOST:PORT"),
    "listen too high": ("run --settings boat.toml --listen 127.0.0.1:65536", "expected HOST:PORT"),
    "listen on no address of ours": (
        "run --settings boat.toml --listen 192.0.2.1:8470",  # RFC 5737: nobody's address
        "cannot listen on 192.0.2.1:8470",
    ),
    "listen on no name": (f"run --settings boat.toml --listen {'x' * 70}.:80", "cannot listen on"),
    "a span without a unit": (REPLAY + "--every 10 bus.log", "--every: expected a span like 90s, 10m"),
    "a span of nothing": (REPLAY + "--every 0s bus.log", "--every: expected a span"),
    "a span in words": (REPLAY + "--every often bus.log", "--every: expected a span"),
    "no such capture": (REPLAY + "none.log", "CAPTURE: none.log is not a file"),
    "a capture that is a folder": (REPLAY + ".", "CAPTURE: . is not a file"),
    "a capture that is none": (REPLAY + "noise.log", "noise.log:1: "),
    "one capture of two is none": (REPLAY + "bus.log noise.log", "not a recording"),
    "messages that are none": (REPLAY + "bus.log letter.jsonl", "letter.jsonl:1: "),
    "a store that exists": (
        "replay --settings boat.toml --store taken.db --report r.json bus.log",
        "--store: taken.db exists already",
    ),
    "a store nowhere": (
        "replay --settings boat.toml --store no/new.db --report r.json bus.log",
        "--store: no/new.db cannot be written: there is no folder no",
    ),
    "a report nowhere": (
        "replay --settings boat.toml --store new.db --report no/r.json bus.log",
        "--report: no/r.json cannot be written: there is no folder no",
    ),
    "estimates onto a folder": (REPLAY + "--estimates . bus.log", "--estimates: . cannot be written"),
    "a store that is not there": ("export --store none.db", "--store: none.db is not a file"),
    "a store that is none": ("export --store bus.log", "--store: bus.log: file is not a database"),
}  # fmt: skip


@pytest.mark.parametrize(("typed", "told"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_is_one_line_and_exit_2(ebbwatch: Ebbwatch, here: Path, typed: str, told: str) -> None:
    (here / "letter.jsonl").write_text("Dear harbour master,\n")
    before = sorted(here.iterdir())

    said = ebbwatch(*typed.split())

    assert said.code == 2
    (mistake,) = said.mistakes
    assert mistake.startswith("ebbwatch: ")
    assert told in mistake
    assert sorted(here.iterdir()) == before, "nothing is left behind"


@pytest.fixture
def store(ebbwatch: Ebbwatch, here: Path) -> Path:
    assert ebbwatch(*(REPLAY + "bus.log").split()).code == 0
    return here / "new.db"


WRONG_EXPORTS = {
    "unknown channel": (["--channel", "house mood"], "'house mood' is not in the store; there are: "),
    "no time": (["--channel", "house current", "--from", "yesterday"], "--from: expected a time like 2026"),
    "no day": (["--channel", "house current", "--to", "2026-02-30"], "--to: expected a time like 2026"),
    "backwards": (
        ["--channel", "house current", "--from", "2026-10-02", "--to", "2026-10-01"],
        "--to: expected a time after --from",
    ),
    "nowhere": (["--channel", "house current", "--out", "no/e.csv"], "no/e.csv: No such file or directory"),
}


@pytest.mark.parametrize(("typed", "told"), WRONG_EXPORTS.values(), ids=WRONG_EXPORTS)
def test_a_mistake_in_an_export(ebbwatch: Ebbwatch, store: Path, typed: list[str], told: str) -> None:
    said = ebbwatch("export", "--store", store, *typed)

    assert (said.code, said.out) == (2, "")
    (mistake,) = said.mistakes
    assert told in mistake
    if "unknown" in told:
        assert "house current" in mistake


@pytest.mark.parametrize("typed", ["run --settings boat.toml --listen 127.0.0.1:{}", "demo --port {}"])
def test_a_port_in_use(ebbwatch: Ebbwatch, here: Path, typed: str) -> None:
    with socket.create_server(("127.0.0.1", 0)) as somebody:
        port = somebody.getsockname()[1]
        said = ebbwatch(*typed.format(port).split())

    assert said.code == 2
    assert said.mistakes == [f"ebbwatch: --listen: cannot listen on 127.0.0.1:{port}: Address already in use"]


def test_every_mistake_in_the_settings_is_named_with_its_key(ebbwatch: Ebbwatch, here: Path) -> None:
    """First those of the file itself, then, once it can be read, those of what it binds to."""
    text = (here / "boat.toml").read_text()
    changes: list[Callable[[str], str]] = [
        lambda t: t.replace("crew = 3", "crew = 0"),
        lambda t: t.replace("capacity_Ah = 460", "capacity_aH = 460"),
        lambda t: t.replace("capacity_L = 165", 'capacity_L = "165,0"'),
        lambda t: t.replace("low_charge_pct = 30", "low_charge_pct = 130"),
        lambda t: t.replace("bit_rate = 500000", "bit_rate = 500"),
        lambda t: t.replace("port = 1883", "port = 188300"),
    ]
    for change in changes:
        changed = change(text)
        assert changed != text
        text = changed
    (here / "wrong.toml").write_text(text)

    for command in ("check", "run", REPLAY + "bus.log"):
        typed = command.replace("--settings boat.toml", "").split()
        said = ebbwatch(typed[0], "--settings", "wrong.toml", *typed[1:])

        assert said.code == 2
        keys = [line.removeprefix("ebbwatch: ").split(": ")[0] for line in said.mistakes]
        assert sorted(keys) == sorted(
            [
                "boat.crew", "banks[0].capacity_Ah", "banks[0].capacity_aH", "tanks[0].capacity_L",
                "limits.low_charge_pct", "sources[1].bit_rate", "sources[2].port", "ways[0].port",
            ]
        )  # fmt: skip


UNBOUND = {
    "no such signal": ('signal = "Pack.Voltage"', 'signal = "Pack.Volts"', "banks[0].feeds[1].signal: "),
    "no pointer": ('pointer = "/element"', 'pointer = "element"', "heaters[0].feeds[1].pointer 'element'"),
    "no topic filter": ('topic = "marram/panels"', 'topic = "#/panels"', "chargers[0].feeds[0].topic: "),
    "no such message": ('message = "attitude"', 'message = "altitude"', "instruments[0].feeds[0]: nothing"),
    "not in that message": (
        'message = "position"', 'message = "position", quantity = "voltage"', "instruments[1].feeds[0]: noth",
    ),
    "no topics on a bus": (
        'source = "broker", topic = "marram/heater", pointer = "/element"',
        'source = "backbone", topic = "marram/heater", pointer = "/element"',
        "heaters[0].feeds[1].topic: 'backbone' is a CAN source",
    ),
    "no such file": ('dbc = "marram_bms.dbc"', 'dbc = "other.dbc"', "sources[1].dbc: "),
    "no DBC file": ('dbc = "marram_bms.dbc"', 'dbc = "noise.log"', "sources[1].dbc: "),
}  # fmt: skip


@pytest.mark.parametrize("command", ["check", "run", "replay"])
@pytest.mark.parametrize(("old", "new", "told"), UNBOUND.values(), ids=UNBOUND)
def test_a_feed_that_binds_to_nothing_is_named_before_anything_starts(
    ebbwatch: Ebbwatch, here: Path, command: str, old: str, new: str, told: str
) -> None:
    text = (here / "boat.toml").read_text()
    assert old in text
    (here / "boat.toml").write_text(text.replace(old, new))
    rest = ["--store", "new.db", "--report", "r.json", "bus.log"] if command == "replay" else []

    said = ebbwatch(command, "--settings", "boat.toml", *rest)

    assert said.code == 2
    assert all(line.startswith("ebbwatch: ") for line in said.mistakes)
    assert said.mistakes[0].startswith(f"ebbwatch: {told}")
    assert not list(here.glob("*.db-*"))
    assert not (here / "marram.db").exists()


def test_the_version(ebbwatch: Ebbwatch) -> None:
    assert ebbwatch("--version") == (0, f"ebbwatch {__version__}\n", [])


def test_without_a_command_it_says_what_there_is(ebbwatch: Ebbwatch) -> None:
    said = ebbwatch()

    assert said.code == 2
    for command in ("demo", "run", "check", "simulate", "replay", "export"):
        assert command in said.out


def test_a_real_process_ends_the_same_way(here: Path) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "monitor", "simulate", "hurricane", "--out", "sim"],
        capture_output=True, text=True, timeout=60, check=False, cwd=here,
        env={"PYTHONPATH": str(Path(__file__).parents[2])},
    )  # fmt: skip

    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith("ebbwatch: SCENARIO: 'hurricane' is unknown")
    assert ended.stderr.count("\n") == 1
