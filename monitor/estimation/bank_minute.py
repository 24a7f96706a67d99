"""What one minute told of a bank's cells, limits and temperatures; unknown is None."""

from typing import NamedTuple

from monitor.estimation.watcher import RUNNING_RPM, Heard
from monitor.settings import Bank, Settings

_CELLS = range(1, 33)
_SENSORS = range(1, 9)
CHARGING_A = 2.0
"""An alternator that gives more than this charges."""


class Placed(NamedTuple):
    """A value and where it was measured, as it is said: "cell 3", "the highest cell"."""

    where: str
    value: float


class Warmth(NamedTuple):
    """The cells' temperatures [°C]; the bank's own where no cell has a sensor."""

    sensors: tuple[Placed, ...]
    missing: bool
    """One that is fitted is silent, or says "not available"."""

    @property
    def coldest(self) -> Placed | None:
        return min(self.sensors, key=lambda sensor: sensor.value, default=None)

    @property
    def hottest(self) -> Placed | None:
        return max(self.sensors, key=lambda sensor: sensor.value, default=None)


class BankMinute(NamedTuple):
    """Means of the minute, or what still stood where nothing new was said."""

    start_s: float
    current_A: float | None
    cells_V: tuple[Placed, ...]
    highest: Placed | None
    lowest: Placed | None
    pack_V: float | None
    """The sum of the cells where all are known, else the bank's voltage."""
    warmth: Warmth
    charge_limit_A: float | None
    """As the BMS says it, else as the settings do."""
    discharge_limit_A: float | None
    bms_limits_A: tuple[float | None, float | None]
    """What the BMS allows at the minute's end, charging and discharging."""
    pre_alarm: bool | None
    closed: bool | None
    alternator_A: float | None
    """What the engine charges with: 0 while it does not, None where that is not known."""


class BankReader:
    """Finds a bank's channels in what was heard."""

    def __init__(self, settings: Settings, bank: Bank) -> None:
        self._bank, self._name = bank, bank.name
        self._volts = [(f"cell {n}", f"{bank.name} cell {n} voltage") for n in _CELLS]
        self._warmths = [(f"cell {n}", f"{bank.name} cell {n} temperature") for n in _SENSORS]
        self._warmths += [
            ("the hottest cell", f"{bank.name} cell high temperature"),
            ("the coldest cell", f"{bank.name} cell low temperature"),
        ]
        self._alternators = [
            c.name for c in settings.chargers if c.kind == "alternator" and c.into == bank.name
        ]
        self._engines = [e.name for e in settings.engines if e.drives == "propeller"]

    def read(self, heard: Heard) -> BankMinute:
        cells = tuple(_known(heard, self._volts))
        current_A = self._mean(heard, "current")
        told = self._newest(heard, "charge limit"), self._newest(heard, "discharge limit")
        given = self._bank.charge_limit_A, self._bank.discharge_limit_A
        pre_alarm, closed = self._newest(heard, "pre-alarm"), self._newest(heard, "contactor closed")
        whole = len(cells) == self._bank.cells
        return BankMinute(
            start_s=heard.start_s,
            current_A=current_A,
            cells_V=cells,
            highest=self._end(heard, cells, "high"),
            lowest=self._end(heard, cells, "low"),
            pack_V=sum(cell.value for cell in cells) if whole else self._mean(heard, "voltage"),
            warmth=self._warmth(heard),
            charge_limit_A=given[0] if told[0] is None else told[0],
            discharge_limit_A=given[1] if told[1] is None else told[1],
            bms_limits_A=told,
            pre_alarm=None if pre_alarm is None else pre_alarm > 0.5,
            closed=None if closed is None else closed > 0.5,
            alternator_A=self._alternator_A(heard, current_A),
        )

    def _mean(self, heard: Heard, quantity: str) -> float | None:
        return _now(heard, f"{self._name} {quantity}")

    def _newest(self, heard: Heard, quantity: str) -> float | None:
        return heard.newest(f"{self._name} {quantity}")

    def _end(self, heard: Heard, cells: tuple[Placed, ...], end: str) -> Placed | None:
        """The highest or lowest cell: by the cells themselves, or as the BMS tells it."""
        sign = 1 if end == "high" else -1
        told = _now(heard, f"{self._name} cell {end} voltage")
        found = max(cells, key=lambda cell: sign * cell.value, default=None)
        if told is None or (found is not None and sign * (told - found.value) <= 0.002):
            return found
        return Placed(f"the {end}est cell", told)

    def _warmth(self, heard: Heard) -> Warmth:
        fitted = [(where, name) for where, name in self._warmths if name in heard.readings]
        if not fitted:
            fitted = [("the bank", f"{self._name} temperature")]
        sensors = tuple(_known(heard, fitted))
        return Warmth(sensors, len(sensors) < len(fitted))

    def _alternator_A(self, heard: Heard, current_A: float | None) -> float | None:
        """By its own meter, else: what the bank takes while the engine runs."""
        metered = [a for name in self._alternators if (a := _now(heard, f"{name} current")) is not None]
        if metered:
            return sum(a for a in metered if a > CHARGING_A)
        speeds = [rpm for name in self._engines if (rpm := _now(heard, f"{name} speed")) is not None]
        if any(rpm > RUNNING_RPM for rpm in speeds):
            return None if current_A is None else current_A if current_A > CHARGING_A else 0.0
        return 0.0


def _now(heard: Heard, name: str) -> float | None:
    """The minute's mean, or what stands where the minute brought nothing."""
    mean = heard.mean(name)
    return heard.newest(name) if mean is None else mean


def _known(heard: Heard, named: list[tuple[str, str]]) -> list[Placed]:
    return [
        Placed(where, value)
        for where, name in named
        if name in heard.readings and (value := _now(heard, name)) is not None
    ]


NOTHING = BankMinute(
    0.0, None, (), None, None, None, Warmth((), True), None, None, (None, None), None, None, None
)
"""Before the first minute."""
