"""The history over all years: which stretch, its gaps, two channels in one drawing, and who reads it."""

from array import array
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from monitor.clock import DAY_S, HOUR_S, Anchor, Interval
from monitor.errors import WorkerError
from monitor.records import Column, Minute
from monitor.storage.history import History
from monitor.storage.writer import Writer
from monitor.worker import Worker
from tests.web.canned import NOW_S, CannedWatch, canned
from tests.web.conftest import ClientOf
from web.presentation.figures import reader_of
from web.presentation.still import gaps_in, rows_of, step_s
from web.presentation.stretches import Asked, stretch

BEGUN_S = NOW_S - 700 * DAY_S
SILENT = (NOW_S - 250 * DAY_S, NOW_S - 190 * DAY_S)
EVERY_S = 6 * HOUR_S
YEARS = "/history?channel=house+voltage&span=all+years"


class Aboard(CannedWatch):
    """A canned watch with a store of its own and a worker, or with one that is busy."""

    worker: Worker | None = None
    path: Path

    def apart(self, function: Callable[..., Any], *args: Any) -> Any:
        if self.worker is None:
            raise WorkerError("the worker is busy: try again in a minute")
        return self.worker.run(function, self.path, *args)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A voltage once in six hours for 700 days, but for the sixty of `SILENT`."""
    path = tmp_path_factory.mktemp("years") / "boat.db"
    writer = Writer(path, patient=True)
    writer.open()
    boot = writer.begin_boot("test")
    writer.anchor(boot, Anchor(0.0, BEGUN_S, "test", 0.1))
    for at_s in np.arange(0.0, 700 * DAY_S, EVERY_S).tolist():
        if not SILENT[0] < BEGUN_S + at_s < SILENT[1]:
            said = Column(array("d", [at_s]), array("d", [13.2]))
            writer.minute(Minute(boot, int(at_s // 60), {"house voltage": said}, {}))
    writer.close()
    return path


def aboard(file: Path, worker: Worker | None) -> Aboard:
    well = canned("well")
    watch = Aboard(well.snapshot, well.settings, History(file))
    watch.path, watch.worker = file, worker
    return watch


def test_a_gap_of_sixty_days_is_found_where_it_is(file: Path) -> None:
    """To the six hours between two words."""
    during = Interval(BEGUN_S, NOW_S)
    series = History(file).series("house voltage", during, 2000)
    found = gaps_in(rows_of(series), step_s(series, during, 2000))
    assert len(found) == 1
    assert found[0] == pytest.approx(SILENT, abs=EVERY_S + HOUR_S)


def test_the_worker_reads_the_years_and_the_page_says_so_until_then(file: Path, client_of: ClientOf) -> None:
    """First a rough line; then, read by the other process, the whole, with the gap's dates to the day."""
    worker = Worker()
    try:
        client = client_of(aboard(file, worker))
        at_once = client.get(YEARS).text
        assert 'id="rough"' in at_once
        assert worker.pid is None
        whole = client.get(YEARS + "&whole=true").text
        assert worker.pid is not None
        assert 'id="rough"' not in whole
        for edge_s in SILENT:
            days = [datetime.fromtimestamp(edge_s + n * DAY_S, UTC) for n in (-1, 0, 1)]
            assert any(f"{day.day} {day:%b %Y}" in whole for day in days)
        assert "Nothing was heard from" in whole
        span: dict[str, str | float] = {"channel": "house voltage", "from": BEGUN_S, "to": NOW_S}
        told = client.get("/history/data", params=span).json()
        assert sum(v is None for v in told["mean"]) == 1
    finally:
        worker.close()


def test_a_busy_worker_leaves_the_rough_line(file: Path, client_of: ClientOf) -> None:
    client = client_of(aboard(file, None))
    page = client.get(YEARS + "&whole=true").text
    assert "could not be read just now" in page
    assert 'id="still"' in page
    span: dict[str, str | float] = {"channel": "house voltage", "from": BEGUN_S, "to": NOW_S}
    assert client.get("/history/data", params=span).status_code == 503


def test_a_chosen_day_is_the_ships_own(file: Path) -> None:
    """25 Oct 2026 has 25 hours in Madrid (IANA tz: the clocks go back at 01:00 UTC); stepping is by links."""
    watch = aboard(file, None)
    found = stretch(reader_of(watch), History(file), Asked("house voltage", day="2026-10-25"))
    assert found is not None
    assert found.during.seconds == 25 * HOUR_S
    assert "until=2026-10-25T00%3A00" in found.earlier
    assert "until=2026-10-27T00%3A00" in found.later
    now = stretch(reader_of(watch), History(file), Asked("house voltage"))
    assert now is not None
    assert (now.during.end_s, now.later) == (NOW_S, "")


def test_only_channels_of_one_unit_lie_over_each_other(client_of: ClientOf) -> None:
    client = client_of(canned("well"))
    both = client.get("/history?channel=house+voltage&also=navigation+voltage").text
    assert 'class="ink also"' in both
    assert "Full line: house voltage. Dotted: navigation voltage." in both
    assert "one unit" in client.get("/history?channel=house+voltage&also=house+current").text
    assert client.get("/history?until=zz").status_code == 200


def test_the_history_in_spanish(client_of: ClientOf) -> None:
    """CLDR, es: "mié" is Wednesday, the decimal mark a comma."""
    client = client_of(canned("well"))
    client.cookies.set("language", "es")
    page = client.get("/history?channel=house+voltage&until=2026-11-25T12:00").text
    assert "mié" in page
    assert "Wed " not in page
    assert ",0" in page or ",1" in page or ",2" in page
