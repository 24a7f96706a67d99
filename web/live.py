"""The stream that tells a page there is something newer: one event a snapshot, one a second at most."""

import asyncio
from collections.abc import AsyncIterator

from web.presentation.figures import reader_of
from web.presentation.frame import as_of
from web.watch import Watch

LOOK_EVERY_S = 0.25
LEAST_BETWEEN_S = 1.0


async def events(watch: Watch) -> AsyncIterator[dict[str, str]]:
    """Yields `snapshot` events with the serial as id and the snapshot's moment as data."""
    told = None
    while True:
        reader = reader_of(watch)
        if reader.snapshot.serial == told:
            await asyncio.sleep(LOOK_EVERY_S)
            continue
        told = reader.snapshot.serial
        yield {"event": "snapshot", "id": str(told), "data": as_of(reader)}
        await asyncio.sleep(LEAST_BETWEEN_S)
