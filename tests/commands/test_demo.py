"""What the crew of the simulated boat has named by the time that the demo goes live."""

from types import SimpleNamespace
from typing import Any, cast

from monitor.commands.demo import name_loads
from monitor.daemon import Daemon
from monitor.errors import CommandError
from monitor.records import Command, LoadKind


def load(number: int, watts: float, how: str = "cycles", runs: int = 100) -> LoadKind:
    return LoadKind(f"load {number}", watts, watts, 1.0, 900.0, 0.2, how, 0.95, runs, 9, 0.0)


class Crewed:
    """A daemon that knows these loads and remembers what it is asked."""

    def __init__(self, *loads: LoadKind, refuses: bool = False) -> None:
        self.asked: list[Command] = []
        self._loads, self._refuses = loads, refuses

    def latest(self) -> Any:
        return SimpleNamespace(loads=self._loads)

    def submit(self, command: Command) -> None:
        if self._refuses:
            raise CommandError("busy")
        self.asked.append(command)


def test_the_fridge_and_the_freezer_have_their_names() -> None:
    boat = Crewed(load(1, 45.6), load(2, 57.5), load(3, 44.0, how="runs"), load(4, 46.0, runs=3))

    name_loads(cast(Daemon, boat))

    assert [(c.kind, c.subject, c.facts["name"]) for c in boat.asked] == [
        ("load", "load 1", "fridge"),
        ("load", "load 2", "freezer"),
    ]


def test_what_is_not_learned_has_none_and_a_busy_watch_is_no_harm() -> None:
    none = Crewed(load(5, 100.0))
    name_loads(cast(Daemon, none))
    name_loads(cast(Daemon, Crewed(load(1, 45.0), refuses=True)))

    assert none.asked == []
