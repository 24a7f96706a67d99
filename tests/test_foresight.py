"""The daemon tries a rule on its own record: in the worker, which ends with it."""

from pathlib import Path

import pytest

from monitor.clock import DAY_S, Interval
from monitor.errors import CommandError
from monitor.records import RuleChange
from tests.live import VIRTUAL, watching


def test_a_rule_is_tried_on_the_watchs_own_record(tmp_path: Path) -> None:
    with watching(tmp_path, VIRTUAL.format("foresight")) as watch:
        watch.told_the_time()
        now_s = watch.clock.wall_s()
        during = Interval(now_s - DAY_S, now_s + 1)
        told = watch.daemon.previews(RuleChange("pump running on", limit=5), during)
        assert [(p.subject, p.outlook) for p in told] == [("pressure pump", None)]  # Nothing is recorded yet.
        with pytest.raises(CommandError, match="expected 2 to 30 min"):
            watch.daemon.previews(RuleChange("pump running on", limit=500), during)
        assert watch.daemon.previews(None, during, "low charge")[0].subject == "house"
