"""MQTT payloads: RFC 6901 section 5, MQTT 3.1.1 section 4.7, and every trap a payload can hold."""

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from monitor.errors import SettingsError, UndecodableError
from monitor.wire.mqtt import LARGEST_PAYLOAD, compile_pointer, number, read, topic_matches

# RFC 6901, section 5, the document and every example of the section.
DOCUMENT = {
    "foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, 'k"l': 6,
    " ": 7, "m~n": 8,
}  # fmt: skip


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("", DOCUMENT), ("/foo", ["bar", "baz"]), ("/foo/0", "bar"), ("/", 0), ("/a~1b", 1), ("/c%d", 2),
        ("/e^f", 3), ("/g|h", 4), ("/i\\j", 5), ('/k"l', 6), ("/ ", 7), ("/m~0n", 8),
    ],
)  # fmt: skip
def test_the_examples_of_rfc_6901(pointer: str, value: object) -> None:
    assert compile_pointer(pointer)(DOCUMENT) == value


def test_tilde_one_is_not_unescaped_twice() -> None:
    # RFC 6901 section 4: "~01" is "~1", never "/".
    assert compile_pointer("/~01")({"~1": 1, "/": 2}) == 1


@pytest.mark.parametrize(
    "pointer", ["/foo/2", "/foo/-", "/foo/00", "/foo/01", "/foo/-1", "/foo/bar", "/nothing", "/foo/0/x",
                "/foo/+1", "/foo/1e0", "/foo/" + "9" * 5000],
)  # fmt: skip
def test_where_there_is_nothing(pointer: str) -> None:
    # RFC 6901 section 4: no leading zeros, "-" is the element after the last.
    with pytest.raises(UndecodableError, match="nothing at"):
        compile_pointer(pointer)(DOCUMENT)


@pytest.mark.parametrize("pointer", ["foo", "foo/bar", "/~", "/a~2b", "#/foo"])
def test_what_is_no_pointer_is_a_mistake_in_the_settings(pointer: str) -> None:
    with pytest.raises(SettingsError, match="JSON Pointer"):
        compile_pointer(pointer)


# OASIS MQTT 3.1.1, sections 4.7.1 and 4.7.2, the examples given there.
TOPICS = [
    ("sport/tennis/player1/#", "sport/tennis/player1", True),
    ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
    ("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon", True),
    ("sport/#", "sport", True),
    ("#", "sport/tennis", True),
    ("sport/tennis/+", "sport/tennis/player1", True),
    ("sport/tennis/+", "sport/tennis/player1/ranking", False),
    ("sport/+", "sport", False),
    ("sport/+", "sport/", True),
    ("+/+", "/finance", True),
    ("/+", "/finance", True),
    ("+", "/finance", False),
    ("#", "$SYS/monitor/Clients", False),
    ("+/monitor/Clients", "$SYS/monitor/Clients", False),
    ("$SYS/#", "$SYS/monitor/Clients", True),
    ("$SYS/monitor/+", "$SYS/monitor/Clients", True),
    ("marram/heater", "marram/heater", True),
    ("marram/heater", "Marram/heater", False),
    ("marram/heater", "marram/heater/", False),
]


@pytest.mark.parametrize(("filter_", "topic", "matches"), TOPICS)
def test_topic_filters_of_the_standard(filter_: str, topic: str, matches: bool) -> None:
    assert topic_matches(filter_, topic) is matches


@settings(max_examples=400)
@given(
    st.lists(st.sampled_from(["a", "b", "+", ""]), min_size=1, max_size=4),
    st.booleans(),
    st.lists(st.sampled_from(["a", "b", ""]), min_size=1, max_size=4),
)
def test_topic_filters_as_the_mqtt_client_has_them(levels: list[str], rest: bool, topic: list[str]) -> None:
    filter_ = "/".join([*levels, "#"] if rest else levels)
    name = "/".join(topic)
    if filter_ and name:
        assert topic_matches(filter_, name) == topic_matches_sub(filter_, name)


@pytest.mark.parametrize(
    ("value", "means"),
    [
        (12.8, 12.8), (0, 0.0), (-3, -3.0), ("12.8", 12.8), (" 12.8 ", 12.8), ("+1.5e2", 150.0),
        ("-.5", -0.5), ("7.", 7.0), (True, 1.0), (False, 0.0), ("on", 1.0), ("ON", 1.0), ("Off", 0.0),
        ("true", 1.0), ("FALSE", 0.0), ("yes", 1.0), ("no", 0.0), (None, None),
    ],
)  # fmt: skip
def test_what_counts_as_a_number(value: object, means: float | None) -> None:
    assert number(value) == means


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (math.nan, "not a finite number"), (math.inf, "not a finite"), (-math.inf, "not a finite"),
        ("nan", "not a finite"), ("Infinity", "not a finite"), ("1e999", "not a finite"),
        (10**400, "not a finite"),
        ("12,8", "decimal comma"), ("-0,5", "decimal comma"), ("1.234,5", "not a finite"),
        ("", "not a finite"), ("12.8 V", "not a finite"), ("1_000", "not a finite"), ("0x1F", "not a finite"),
        ("١٢", "not a finite"), ("open", "not a finite"), ([12.8], "JSON list"), ({"v": 1}, "JSON object"),
        ("9" * 100_000 + "x", "not a finite"),
    ],
)  # fmt: skip
def test_what_does_not(value: object, said: str) -> None:
    with pytest.raises(UndecodableError, match=said) as caught:
        number(value)
    assert len(str(caught.value)) < 120


@pytest.mark.parametrize(
    ("payload", "pointer", "means"),
    [
        (b'{"water": {"temperature": 52.5}}', "/water/temperature", 52.5),
        (b'{"cells": [3.31, 3.32]}', "/cells/1", 3.32),
        (b'{"element": "ON"}', "/element", 1.0),
        (b'{"element": null}', "/element", None),
        (b"12.8", "", 12.8),
        (b"  12.8\n", "", 12.8),
        (b'"12.8"', "", 12.8),
        (b"ON", "", 1.0),
        (b"true", "", 1.0),
        (b"null", "", None),
    ],
)
def test_reading_a_payload(payload: bytes, pointer: str, means: float | None) -> None:
    assert read(payload, pointer) == means


def test_scale_and_offset() -> None:
    # 68 °F is 20 °C; 1000 mV and nothing else is 1 V.
    assert read(b"68", "", 5 / 9, -160 / 9) == pytest.approx(20.0)
    assert read(b'{"mV": "1000"}', "/mV", 0.001) == pytest.approx(1.0)
    assert read(b"null", "", 2.0, 5.0) is None


@pytest.mark.parametrize(
    ("payload", "pointer", "said"),
    [
        (b"", "", "not a finite number"),
        (b"", "/a", "not JSON"),
        (b'{"a": 12,8}', "/a", "not JSON"),
        (b'{"a": "12,8"}', "/a", "decimal comma"),
        (b"12,8", "", "decimal comma"),
        (b'{"a": NaN}', "/a", "not a finite"),
        (b'{"a": -Infinity}', "/a", "not a finite"),
        (b'{"a": 1e400}', "/a", "not a finite"),
        (b'{"a": ' + b"9" * 5000 + b"}", "/a", "not JSON"),
        (b'{"a": 1}', "/b", "nothing at /b"),
        (b'{"a": 1', "/a", "not JSON"),
        (b"\xff\xfe\x00", "/a", "not UTF-8"),
        (b"\x00", "", "not a finite"),
        (b"[" * 60_000, "/0", "not JSON"),
        (b"[" * 60_000, "", "not a finite"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, "/a", "recursion|JSON"),
        (b" " * LARGEST_PAYLOAD + b"1", "", "65537 bytes"),
        (b"\xef\xbb\xbf12.8", "/a", "not JSON"),
    ],
)
def test_payloads_that_cannot_be_read(payload: bytes, pointer: str, said: str) -> None:
    with pytest.raises(UndecodableError, match=said) as caught:
        read(payload, pointer)
    assert len(str(caught.value)) < 160


def test_a_payload_of_the_largest_size_is_read() -> None:
    assert read(b"1".rjust(LARGEST_PAYLOAD), "") == 1.0


def test_a_scale_that_leaves_the_numbers_is_refused() -> None:
    with pytest.raises(UndecodableError, match="scaled"):
        read(b"1e308", "", 1e6)


@settings(max_examples=400)
@given(
    st.one_of(
        st.binary(max_size=60),
        st.recursive(
            st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
            lambda inner: (
                st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3)
            ),
            max_leaves=8,
        ).map(lambda document: json.dumps(document).encode()),
    ),
    st.sampled_from(["", "/a", "/0", "/0/0", "/"]),
)
def test_any_payload_gives_a_finite_number_nothing_or_undecodable(payload: bytes, pointer: str) -> None:
    try:
        value = read(payload, pointer)
    except UndecodableError:
        return
    assert value is None or math.isfinite(value)
