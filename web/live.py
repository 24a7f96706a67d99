"""The stream that tells a page there is something newer: one event a snapshot, one a second at most."""

from collections.abc import AsyncIterator

import anyio

from web.presentation.figures import reader_of
from web.presentation.frame import as_of
from web.watch import Watch

LOOK_EVERY_S = 0.25
LEAST_BETWEEN_S = 1.0
GOODBYE_S = 1.5
"""How long a stream may take to notice that the server is leaving, and end in order."""


async def events(watch: Watch, leaving: anyio.Event) -> AsyncIterator[dict[str, str]]:
    """Yields `snapshot` events with the serial as id and the snapshot's moment as data, until the
    server is leaving."""
    told = None
    while not leaving.is_set():
        reader = reader_of(watch)
        if reader.snapshot.serial == told:
            await anyio.sleep(LOOK_EVERY_S)
            continue
        told = reader.snapshot.serial
        yield {"event": "snapshot", "id": str(told), "data": as_of(reader)}
        await anyio.sleep(LEAST_BETWEEN_S)
