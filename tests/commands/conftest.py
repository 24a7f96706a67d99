"""The command line as the tests type it: in this process, with what it said and its exit code."""

import sys
from collections.abc import Callable
from typing import NamedTuple

import pytest

from monitor.commands import line


class Said(NamedTuple):
    """`code` is the exit code; `mistakes` the lines on standard error."""

    code: int
    out: str
    mistakes: list[str]


Ebbwatch = Callable[..., Said]


@pytest.fixture
def ebbwatch(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Ebbwatch:
    """`ebbwatch("check", "--settings", path)` types it."""

    def typed(*arguments: object) -> Said:
        monkeypatch.setattr(sys, "argv", ["ebbwatch", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            line.main()
        told = capfd.readouterr()
        assert isinstance(ended.value.code, int)
        return Said(ended.value.code, told.out, told.err.splitlines())

    return typed
