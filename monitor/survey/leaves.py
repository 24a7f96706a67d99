"""Every value in an MQTT payload that a feed could take, with the JSON Pointer (RFC 6901) to it."""

import json
from collections.abc import Iterator
from typing import NamedTuple

from monitor.errors import UndecodableError
from monitor.wire import mqtt

MOST = 200
DEEPEST = 8


class Leaf(NamedTuple):
    pointer: str
    value: float | None


def leaves(payload: bytes) -> list[Leaf]:
    """Numbers, numbers in text, and on and off, by the very code that reads feeds; nothing of any other
    payload."""
    if len(payload) > mqtt.LARGEST_PAYLOAD:
        return []
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError:
        return []
    try:
        document: object = json.loads(text)
    except (ValueError, RecursionError):
        document = text
    found = []
    for pointer, value in _walk(document, "", 0):
        try:
            found.append(Leaf(pointer, mqtt.number(value)))
        except UndecodableError:
            continue
        if len(found) == MOST:
            break
    return found


def _walk(value: object, pointer: str, depth: int) -> Iterator[tuple[str, object]]:
    if isinstance(value, dict) and depth < DEEPEST:
        for name, inner in value.items():
            step = name.replace("~", "~0").replace("/", "~1")
            yield from _walk(inner, f"{pointer}/{step}", depth + 1)
    elif isinstance(value, list) and depth < DEEPEST:
        for n, inner in enumerate(value[:MOST]):
            yield from _walk(inner, f"{pointer}/{n}", depth + 1)
    elif not isinstance(value, dict | list):
        yield pointer, value
