"""MQTT payloads: which topics a filter takes, where in the JSON a value is, and what it says.

Sources: topic filters, OASIS MQTT 3.1.1 section 4.7; JSON Pointer, RFC 6901.
"""

import json
import math
import re
from collections.abc import Callable
from functools import lru_cache

from monitor.errors import SettingsError, UndecodableError

LARGEST_PAYLOAD = 65_536
"""In bytes: nothing that tells a few values is longer."""

_WORDS = {"on": 1.0, "true": 1.0, "yes": 1.0, "off": 0.0, "false": 0.0, "no": 0.0}
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_INDEX = re.compile(r"0|[1-9][0-9]{0,8}")


def is_filter(text: str) -> bool:
    """Whether it is a topic filter: + and # stand for whole levels, and # only for the last."""
    *levels, last = text.split("/")
    loose = any("#" in level or ("+" in level and level != "+") for level in levels)
    return text != "" and "\0" not in text and not loose and (last in ("#", "+") or not {*"#+"} & {*last})


def topic_matches(filter_: str, topic: str) -> bool:
    """Whether a topic filter with + and # takes `topic`. Topics led by $ need a filter that is."""
    if topic.startswith("$") and filter_[:1] in ("+", "#"):
        return False
    wanted, levels = filter_.split("/"), topic.split("/")
    for at, level in enumerate(wanted):
        if level == "#":
            return True
        if at == len(levels) or level not in ("+", levels[at]):
            return False
    return len(wanted) == len(levels)


@lru_cache(maxsize=1024)
def compile_pointer(pointer: str) -> Callable[[object], object]:
    """A function from a JSON document to the value at `pointer` (RFC 6901).

    Raises SettingsError if it is no JSON Pointer; the function raises UndecodableError where the
    document has nothing there.
    """
    if (pointer and not pointer.startswith("/")) or re.search(r"~(?![01])", pointer):
        raise SettingsError([f"pointer {pointer!r}: expected a JSON Pointer like /battery/voltage"])
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]

    def at(document: object) -> object:
        for step in steps:
            if isinstance(document, dict) and step in document:
                document = document[step]
            elif isinstance(document, list) and _INDEX.fullmatch(step) and int(step) < len(document):
                document = document[int(step)]
            else:
                raise UndecodableError(f"nothing at {pointer}")
        return document

    return at


def number(value: object) -> float | None:
    """What a JSON value says as a number; null is "not available".

    Numbers, numbers in a string, and on/off, true/false, yes/no. Raises UndecodableError for
    everything else: NaN, infinity, decimal commas, other words, lists.
    """
    if value is None:
        return None
    if isinstance(value, str):
        return _number_in(value.strip())
    if not isinstance(value, int | float):
        raise UndecodableError(
            f"expected a number, got a JSON {'list' if isinstance(value, list) else 'object'}"
        )
    try:
        found = float(value)
    except OverflowError:
        found = math.inf
    if not math.isfinite(found):
        raise UndecodableError(f"{str(value)[:40]} is not a finite number")
    return found


def _number_in(text: str) -> float:
    word = _WORDS.get(text.lower())
    if word is not None:
        return word
    if _DECIMAL_COMMA.fullmatch(text):
        raise UndecodableError(f"{text[:40]!r} has a decimal comma; expected a decimal point")
    if not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
        raise UndecodableError(f"{text[:40]!r} is not a finite number")
    return float(text)


def read(payload: bytes, pointer: str = "", scale: float = 1.0, offset: float = 0.0) -> float | None:
    """value * scale + offset of the value at `pointer`; None if it is null.

    A payload that is no JSON is taken as text where the pointer is empty: a bare 12.8 or ON.
    Raises UndecodableError, with what was wrong.
    """
    if len(payload) > LARGEST_PAYLOAD:
        raise UndecodableError(f"a payload of {len(payload)} bytes; at most {LARGEST_PAYLOAD} are read")
    value = number(compile_pointer(pointer)(_document(payload, pointer == "")))
    if value is None:
        return None
    value = value * scale + offset
    if not math.isfinite(value):
        raise UndecodableError("not a finite number when scaled")
    return value


def _document(payload: bytes, text_will_do: bool) -> object:
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UndecodableError("not UTF-8") from error
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        if text_will_do:
            return text
        raise UndecodableError(f"not JSON: {str(error)[:80]}") from error
