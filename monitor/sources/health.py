"""How a source is, written by the threads that know and read by everybody."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.records import SourceHealth


@dataclass(slots=True)
class Health:
    """Mutable on purpose. Every field has one writing thread, so no lock is needed.

    The source's own thread writes the first block, the pipeline the second.
    """

    name: str
    kind: str
    dropped: Mapping[str, int] = field(default_factory=dict)
    """The inbox's counts by source."""

    up: bool = False
    heard_at_s: float | None = None
    heard: int = 0
    trouble: str = ""
    unreadable: int = 0
    """What came in and could not even become a frame or a message."""
    error_frames: int = 0
    remote_frames: int = 0

    undecodable: int = 0
    """Frames and messages whose bytes do not fit their definition."""
    unknown: int = 0
    implausible: int = 0

    def snapshot(self) -> SourceHealth:
        """As it is now. Error and remote frames are among the undecodable: they say nothing."""
        return SourceHealth(
            self.name,
            self.kind,
            self.up,
            self.heard_at_s,
            self.heard,
            self.undecodable + self.unreadable + self.error_frames + self.remote_frames,
            self.unknown,
            self.dropped.get(self.name, 0),
            self.implausible,
            self.trouble,
        )
