"""Settings and keys: what may be written, what comes back, and what cannot be set."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mido.midifiles.meta import build_meta_message

from livepedal.errors import LivepedalError
from livepedal.harp import HarpString, Key, Pedal, Position, Setting, Spelling, octave_shift, pitch_name

positions = st.one_of(st.none(), st.sampled_from(Position))
settings = st.builds(Setting, st.tuples(*[positions] * 7))


@given(settings)
def test_a_printed_setting_reads_back(setting: Setting) -> None:
    assert Setting.parse(str(setting)) == setting


@given(st.tuples(*[st.sampled_from(Position)] * 7), st.permutations(range(7)), st.booleans(), st.data())
def test_letters_in_any_order_case_and_script(
    whole: tuple[Position, ...], order: list[int], lower: bool, data: st.DataObject
) -> None:
    words = []
    for number in order:
        pedal = Pedal(number)
        sign = data.draw(st.sampled_from({-1: "♭b", 0: "♮n", 1: "♯#"}[whole[number]]))
        letter = pedal.letter.lower() if lower else pedal.letter
        words.append(letter + sign)
    assert Setting.parse(" ".join(words)) == Setting(whole)
    if not lower:
        assert Setting.parse("".join(words)) == Setting(whole)


def test_how_a_setting_is_printed() -> None:
    assert str(Setting.parse("Ab Gn F Eb | bb c db")) == "D♭ C♮ B♭ | E♭ F♮ G♮ A♭"
    assert str(Setting.parse("Bb C#")) == "· C♯ B♭ | · · · ·"


def test_replace() -> None:
    flat = Setting.parse("E♭")
    changed = flat.replace(Pedal.A, Position.NATURAL).replace(Pedal.D, None)
    assert changed[Pedal.A] is Position.NATURAL
    assert [pedal for pedal in Pedal if changed[pedal] is not flat[pedal]] == [Pedal.D, Pedal.A]
    assert changed[Pedal.D] is None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "setting is empty"),
        (" | ", "setting is empty"),
        ("D C H", "'H'"),
        ("C C#", "gives C twice"),
        ("D C B E F G A Z", "'Z'"),
        ("C? D", "'C?'"),
        ("D Bbb", "set A♮ instead"),
        ("D B♭♭", "set A♮ instead"),
        ("D B𝄫", "set A♮ instead"),
        ("D F𝄪 ", "set G♮ instead"),
        ("D Fx", "set G♮ instead"),
        ("D F##", "set G♮ instead"),
        ("D F♯♯", "set G♮ instead"),
        ("E🎵 D", "not understood"),
        ("E dorian", "'dorian'"),
        ("C minor minor", "neither a setting nor a key"),
        ("CM", "neither a setting nor a key"),
        ("7", "neither a setting nor a key"),
    ],
)
def test_what_cannot_be_read_says_why(text: str, says: str) -> None:
    with pytest.raises(LivepedalError) as caught:
        Setting.parse(text)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(alphabet="ABCDEFGabdefgHx#♯♭♮n |·-,minorsharplt", max_size=24) | st.text(max_size=12))
def test_whatever_is_typed_only_the_clear_error_comes_out(text: str) -> None:
    try:
        setting = Setting.parse(text)
    except LivepedalError as error:
        assert str(error).endswith(".")
    else:
        assert Setting.parse(str(setting)) == setting


def test_seven_positions_are_needed() -> None:
    with pytest.raises(LivepedalError, match="seven positions"):
        Setting((Position.FLAT,))


# -- Keys --------------------------------------------------------------------------------------------------


# Key signature meta events (Standard MIDI Files 1.0: FF 59 02 sf mi).
@pytest.mark.parametrize(
    ("event", "key"),
    [("FF 59 02 F9 00", "C♭ major"), ("FF 59 02 07 00", "C♯ major"), ("FF 59 02 FD 01", "C minor")],
)
def test_key_signature_events(event: str, key: str) -> None:
    *_, fifths, minor = bytes.fromhex(event)
    fifths -= 256 if fifths > 127 else 0
    assert Key(fifths, bool(minor)) == Key.parse(key)
    assert Key(fifths, bool(minor)).name == key
    assert Setting.of_key(Key(fifths)) == Setting.parse(key)


def test_all_thirty_keys_as_mido_names_them() -> None:
    # mido (a reference library) turns the two bytes into a name such as "Ebm"; ours must read that name
    # alike.
    for fifths in range(-7, 8):
        for minor in (False, True):
            message = build_meta_message(0x59, [fifths % 256, int(minor)])
            assert Key.parse(message.key) == Key(fifths, minor), message.key
            assert Setting.parse(message.key) == Setting.of_key(Key(fifths))


@pytest.mark.parametrize("text", ["f# minor", "F sharp minor", "F♯m", "F-sharp minor", "F# min", "F#Minor"])
def test_ways_to_write_a_key(text: str) -> None:
    # Three sharps, F C G: any table of key signatures.
    assert Setting.parse(text) == Setting.parse("D C# B | E F# G# A")


@pytest.mark.parametrize(
    ("text", "fifths"),
    [("C♮ major", 0), ("B natural minor", 2), ("bn", 5), ("E double flat major", -10), ("Fx minor", 10)],
)
def test_naturals_and_double_accidentals_of_keys(text: str, fifths: int) -> None:
    # B minor has two sharps, B major five: any table of key signatures. A double accidental is 14 fifths from the
    # natural, seven for each semitone.
    assert Key.parse(text).fifths == fifths


@given(st.integers(-14, 14), st.booleans())
def test_names_of_keys_read_back(fifths: int, minor: bool) -> None:
    key = Key(fifths, minor)
    assert Key.parse(key.name) == key


def test_a_key_beyond_the_pedals_names_the_letter_and_the_way_out() -> None:
    # Berlioz, Grand traité, p. 86: a double flat is another string. F♭ major has B double flat (= A
    # natural, which one string only can give, table B); E major sounds the same (table F).
    with pytest.raises(LivepedalError) as caught:
        Setting.parse("Fb major")
    message = str(caught.value)
    for part in ("B𝄫", "A♮", "A♭", "E major", "D♯ C♯ B♮ | E♮ F♯ G♯ A♮"):
        assert part in message


def test_a_key_beyond_the_pedals_on_the_side_of_the_sharps() -> None:
    # The eighth sharp is F double sharp, as the ninth is C double sharp (sharps come in the order F C G D A E B); F
    # double sharp sounds G, which the key wants for nothing else but has as G sharp (Berlioz p. 86, as above).
    with pytest.raises(LivepedalError) as caught:
        Setting.parse("G# major")
    for part in ("the F𝄪 of G♯ major", "sounds on G♮", "wants G for G♯", "set A♭ major"):
        assert part in str(caught.value)


@pytest.mark.parametrize(
    ("beyond", "same"),
    [
        ("Fb", "E"),
        ("Bbb", "A"),
        ("G#", "Ab"),
        ("D#", "Eb"),
        ("Db minor", "C# minor"),
        ("E# minor", "F minor"),
    ],
)
def test_enharmonic_keys(beyond: str, same: str) -> None:
    # Keys that sound the same: any table of the circle of fifths.
    key = Key.parse(beyond)
    assert not key.settable
    assert key.enharmonic == Key.parse(same)
    sounding = {(p.natural + key.alteration(p)) % 12 for p in Pedal}
    assert Setting.of_key(key.enharmonic).pitch_classes == sounding
    with pytest.raises(LivepedalError, match=f"set {key.enharmonic.name} instead"):
        Setting.parse(beyond)


# -- Names of pitches --------------------------------------------------------------------------------------


def test_names_of_pitches() -> None:
    # Middle C is C4 in scientific pitch notation, C3 in some sequencers (common practice, no source).
    assert pitch_name(60) == "C♮4"
    assert pitch_name(63) == "E♭4"
    assert pitch_name(63, Position.SHARP) == "D♯4"
    assert pitch_name(59, middle_c="C3") == "B♮2"
    assert pitch_name(0) == "C♮-1"
    assert Spelling(HarpString.parse("B3"), Position.SHARP).named("C3") == "B♯2"


@pytest.mark.parametrize("text", ["", "4", "D4", "C", "C9", "middle"])
def test_middle_c_must_be_a_c(text: str) -> None:
    with pytest.raises(LivepedalError, match="name of middle C"):
        octave_shift(text)


@pytest.mark.parametrize("text", ["", "H1", "C", "C9", "C-1", "C44", "C²", "C#4"])
def test_names_that_are_no_strings(text: str) -> None:
    with pytest.raises(LivepedalError, match="not the name of a string"):
        HarpString.parse(text)


@given(st.integers(0, 62))
def test_strings_by_number_and_by_name(number: int) -> None:
    string = HarpString.numbered(number)
    assert string.number == number
    assert HarpString.parse(string.name) == string
    assert HarpString.numbered(number + 1) > string
    assert HarpString.numbered(number + 7).natural == string.natural + 12


def test_a_string_is_no_higher_than_what_is_no_string() -> None:
    # Python data model: what an ordering does not know is a TypeError, never an AttributeError.
    with pytest.raises(TypeError):
        sorted([HarpString.parse("C4"), 60])  # type: ignore[list-item]
