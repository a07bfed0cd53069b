"""Bytes on a wire: against mido's parser where that knows the rules, and against what a sender meant where it
does not.
"""

from __future__ import annotations

import mido
from hypothesis import given
from hypothesis import strategies as st

from livepedal.sources.ports.wire import STRAY_KIND, SYSEX_KIND, Short, Wire

DATA = st.integers(0, 127)
CHANNEL_MESSAGES = st.one_of(
    st.tuples(st.sampled_from([0x80, 0x90, 0xA0, 0xB0, 0xE0]), st.integers(0, 15), DATA, DATA).map(
        lambda m: (m[0] | m[1], m[2], m[3])
    ),
    st.tuples(st.sampled_from([0xC0, 0xD0]), st.integers(0, 15), DATA).map(lambda m: (m[0] | m[1], m[2])),
)
COMMON = st.one_of(
    st.tuples(st.just(0xF2), DATA, DATA), st.tuples(st.sampled_from([0xF1, 0xF3]), DATA), st.just((0xF6,))
)
REALTIME = st.sampled_from([0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF])


def short(message: tuple[int, ...]) -> Short:
    return Short(*message)


@given(messages=st.lists(st.one_of(CHANNEL_MESSAGES, COMMON)), sysex=st.lists(DATA, max_size=300))
def test_agrees_with_mido(messages: list[tuple[int, ...]], sysex: list[int]) -> None:
    """Without running status, which mido's parser does not know: the same messages, and as many system
    exclusives.
    """
    data = [byte for message in messages for byte in message]
    data += [0xF0, *sysex, 0xF7]
    reference = mido.parse_all(data)
    wire = Wire()
    found = wire.feed(data)
    expected = [short(tuple(message.bytes())) for message in reference if message.type != "sysex"]
    assert found == expected
    assert wire.ignored[SYSEX_KIND] == sum(message.type == "sysex" for message in reference) == 1


@given(data=st.data(), messages=st.lists(CHANNEL_MESSAGES, min_size=1, max_size=30))
def test_running_status_and_realtime_anywhere(data: st.DataObject, messages: list[tuple[int, ...]]) -> None:
    """MIDI 1.0: a repeated status may be left out, and real-time bytes stand anywhere without disturbing.

    The stream is cut anywhere too: ports may deliver pieces.
    """
    stream: list[int] = []
    running = 0
    meant: list[Short] = []
    clocks = 0
    for message in messages:
        body = message[1:] if message[0] == running and data.draw(st.booleans()) else message
        for byte in body:
            if data.draw(st.integers(0, 5)) == 0:
                stream.append(data.draw(REALTIME))
                clocks += 1
            stream.append(byte)
        running = message[0]
        meant.append(short(message))
    wire = Wire()
    found: list[Short] = []
    while stream:
        cut = data.draw(st.integers(1, len(stream)))
        found += wire.feed(stream[:cut])
        stream = stream[cut:]
    assert [message for message in found if message.status < 0xF0] == meant
    assert sum(message.status >= 0xF8 for message in found) == clocks
    assert not wire.ignored


def test_sysex_of_a_megabyte_with_a_clock_inside() -> None:
    """A dump of any length is one ignored message; the clock inside it is heard (MIDI 1.0, real-time
    messages).
    """
    wire = Wire()
    found = wire.feed([0xF0, *[1] * 500_000, 0xF8, *[2] * 500_000, 0xF7])
    assert found == [Short(0xF8)]
    assert wire.ignored == {SYSEX_KIND: 1}
    assert wire.feed([0x90, 60, 64]) == [Short(0x90, 60, 64)]


def test_system_exclusive_and_common_end_running_status() -> None:
    """MIDI 1.0: they clear the running status buffer, so the data bytes after them belong to nothing."""
    for between in ([0xF0, 1, 0xF7], [0xF1, 5], [0xF6]):
        wire = Wire()
        assert wire.feed([0x90, 60, 64])
        wire.feed(between)
        assert wire.feed([61, 64]) == []
        assert wire.ignored[STRAY_KIND] == 2


def test_status_inside_a_message_begins_another() -> None:
    """A note that was cut off by the next is lost, and only that one."""
    assert Wire().feed([0x90, 60, 0x90, 62, 64]) == [Short(0x90, 62, 64)]


@given(st.binary(max_size=500))
def test_any_bytes_at_all(data: bytes) -> None:
    """Whatever a broken cable delivers: data bytes stay data bytes."""
    for message in Wire().feed(data):
        assert message.status >= 0x80
        assert 0 <= message.data1 <= 127
        assert 0 <= message.data2 <= 127
