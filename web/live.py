"""The stream that tells a page there is something newer, one event a snapshot, one a second at most; and what
is to be heard now, whenever that changes."""

import json
from collections.abc import AsyncIterator
from dataclasses import asdict

import anyio
from starlette.requests import Request

from web.presentation.figures import reader_of
from web.presentation.frame import as_of
from web.presentation.sound import sound
from web.watch import Watch

LOOK_EVERY_S = 0.25
LEAST_BETWEEN_S = 1.0
GOODBYE_S = 1.5
"""How long a stream may take to notice that the server is leaving, and end in order."""


async def events(
    watch: Watch, leaving: anyio.Event, request: Request | None = None
) -> AsyncIterator[dict[str, str]]:
    """Yields `snapshot` events with the serial as id and the snapshot's moment as data, and `sound` events
    with a `web.presentation.sound.Told` as JSON, until the server is leaving."""
    told = heard = None
    while not leaving.is_set():
        reader = reader_of(watch, request)
        if reader.snapshot.serial == told:
            await anyio.sleep(LOOK_EVERY_S)
            continue
        now = sound(reader)
        if now != heard:
            heard = now
            yield {"event": "sound", "data": json.dumps(asdict(now))}
        told = reader.snapshot.serial
        yield {"event": "snapshot", "id": str(told), "data": as_of(reader)}
        await anyio.sleep(LEAST_BETWEEN_S)
