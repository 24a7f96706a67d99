"""A cell runs away while the engine charges: from the watch's findings to what the crew is told.

The order is what ABYC E-13 asks for (by secondary sources): a warning before the BMS shuts down.
"""

from monitor.alerts.book import AlertBook
from monitor.alerts.rules import RULES
from monitor.records import AlertChange, Severity
from tests.estimation.energy.cell_string import CellString, Listener

STILL = {"house current": 0.0, "house voltage": 0.0}


class Story:
    def __init__(self) -> None:
        self.listener, self.book = Listener(), AlertBook()
        self.changes: list[AlertChange] = []

    def look(self) -> None:
        """The book looks four times a minute, as the watch does."""
        for quarter in range(4):
            at_s = self.listener.at_s + 15 * quarter
            self.changes += self.book.step(1, at_s, list(self.listener.watch.findings()))

    def began(self, rule: str) -> list[AlertChange]:
        calls = ("began", "raised", "came back")
        return [c for c in self.changes if c.rule == rule and c.state == "active" and c.what in calls]


def run_away(story: Story) -> None:
    """Until the cell stands at 3.65 V and the BMS opens its contactor."""
    cells = CellString([86.0, 90.0, 86.0, 86.0])
    while max(cells.volts()) < 3.65:
        story.listener.live(cells, 60.0, alternator=True, contactor_closed=1.0)
        story.look()


def test_the_alarm_comes_first_then_the_cut_takes_it_over() -> None:
    story = Story()
    run_away(story)
    (coming,) = story.began("cut coming")[-1:]
    assert coming.severity is Severity.ALARM
    assert story.began("cut off") == []
    cut_at_s = story.listener.at_s
    assert cut_at_s - coming.at_s >= 5 * 60

    for _ in range(3):
        story.listener.hear({**STILL, "alternator current": 0.0, "house contactor closed": 0.0})
        story.look()

    assert len(story.began("cut off")) == 1
    heard = [line.rule for line in story.book.open() if line.state != "suppressed"]
    assert heard == ["cut off"], "one alert for one situation"


def test_when_the_contactor_closes_the_alarm_waits_to_be_seen() -> None:
    story = Story()
    run_away(story)
    story.listener.hear({**STILL, "house contactor closed": 0.0})
    story.look()

    for _ in range(4):
        story.listener.hear({"house contactor closed": 1.0})
        story.look()

    cut, coming = sorted(story.book.open(), key=lambda line: line.rule, reverse=True)
    assert (cut.rule, cut.state) == ("cut off", "returned")
    # No cell has been heard since: what its cause explained calls again, and says that it is not heard.
    assert (coming.rule, coming.state) == ("cut coming", "active")
    assert coming.stale_s is not None


def test_an_eased_alternator_ends_the_forewarning() -> None:
    """The crew takes the load off: the cell comes down, and the alarm returns within minutes."""
    story, cells = Story(), CellString([82.0, 86.0, 82.0, 82.0])
    while not story.began("cut coming"):
        story.listener.live(cells, 60.0, alternator=True, contactor_closed=1.0)
        story.look()

    for _ in range(8):
        story.listener.live(cells, -10.0, contactor_closed=1.0)
        story.look()

    assert [line.state for line in story.book.open() if line.rule == "cut coming"] == ["returned"]
    assert RULES["cut coming"].off_delay_s < 8 * 60
