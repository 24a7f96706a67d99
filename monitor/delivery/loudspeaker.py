"""The loudspeaker: follows what is to be heard now. An alarm goes on until somebody has seen it, or it is
silenced; a warning is one tone for each new serial. Of the notices it takes only trials."""

import shutil
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from monitor.delivery.desk import Desk
from monitor.delivery.program import run
from monitor.delivery.tones import TONES, write_tone
from monitor.delivery.way import Outbox, WayThread
from monitor.errors import DeliveryError
from monitor.records import Notice, Severity, Sound
from monitor.settings import LoudspeakerWay

EVERY_S = 1.0
PATIENCE_S = 10.0
"""No tone of ours lasts longer."""


class LoudspeakerThread(WayThread):
    settings: LoudspeakerWay

    def __init__(self, settings: LoudspeakerWay, desk: Desk, outbox: Outbox, **options: Any) -> None:
        super().__init__(settings, desk, outbox, **options)
        self._serial: int | None = None
        self._owed = False
        program = settings.program[0]
        if shutil.which(program) is None:
            self._trouble = f"{program}: no such program"

    def put(self, notices: Sequence[Notice]) -> None:
        super().put(notices)
        if any(n.severity is Severity.ALARM for n in notices):
            self.retry()

    def _is_mine(self, notice: Notice) -> bool:
        return notice.kind == "test"

    def _is_due(self) -> bool:
        return self._owed or super()._is_due()

    def _carry(self) -> None:
        with tempfile.TemporaryDirectory(prefix="ebbwatch-tones-") as folder:
            files = {pattern: write_tone(pattern, Path(folder)) for pattern in TONES}
            while not self._stopping.is_set():
                if self._wanted() == "alarm":
                    self._play(files["alarm"], lambda: self._wanted() == "alarm")
                elif self._wanted() == "warning":
                    serial = self._desk.sound.serial
                    self._play(files["warning"], lambda: self._wanted() != "alarm")
                    self._serial = serial
                elif parcel := self._next():
                    self._play(files["test"], lambda: self._wanted() != "alarm")
                    self._confirmed(parcel)
                else:
                    self._owed = False
                    self._news.wait(EVERY_S)

    def _wanted(self) -> str:
        """The pattern that is to be heard from here now."""
        desk, sound = self._desk, self._desk.sound
        if self._stopping.is_set() or not sound.pattern or not self._concerns(sound):
            return ""
        if sound.pattern == "warning" and (
            sound.serial == self._serial or (self.settings.quiet and desk.quiet(desk.utc_s()))
        ):
            return ""
        return sound.pattern

    def _concerns(self, sound: Sound) -> bool:
        """Its grade is one of this loudspeaker's, and of a second one: nobody has answered it."""
        grade = Severity.ALARM if sound.pattern == "alarm" else Severity.WARNING
        if grade not in self._grades:
            return False
        standing = self._desk.standing.get(sound.alert)
        return not self.settings.second or (standing is not None and standing.escalated)

    def _play(self, file: Path, wanted: Callable[[], bool]) -> None:
        self._owed = True
        argv = [word.replace("{file}", str(file)) for word in self.settings.program]
        code = run(argv, timeout_s=PATIENCE_S, wanted=lambda: wanted() and not self._stopping.is_set())
        if code:
            raise DeliveryError(f"{argv[0]}: ended with {code}")
        self._owed = False
        self._confirmed()
