"""`listen`: its options, the session from its first input to its end, and what is said before and after."""

from __future__ import annotations

import argparse
import contextlib
import signal
import sys
from datetime import datetime
from pathlib import Path

from livepedal.cli.line_mode import TypedLines, shown
from livepedal.cli.output import Output
from livepedal.cli.ports import choose, forget, outputs_opened, waited_for
from livepedal.cli.project import understood
from livepedal.cli.request import basis_of, channels, middle_c_name
from livepedal.cli.sessions import new_journal, paused_command, saved_lines, state_folder
from livepedal.cli.streams import last_words
from livepedal.errors import LivepedalError
from livepedal.live.grid import FASTEST, SLOWEST
from livepedal.live.listen import Listener
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Header, JournalWriter, unfinished
from livepedal.sources.ports.libraries import quiet
from livepedal.sources.text import shell_line
from livepedal.views.dashboard.desk import typed_help
from livepedal.views.dashboard.endings import noted
from livepedal.views.lines import Line, Tone, line
from livepedal.views.plain import NOT_USED
from livepedal.views.words import counted

_BEAT = 60_000_000  # µs a crotchet at one crotchet a minute


def listen(options: argparse.Namespace) -> int:
    """Listen to a keyboard."""
    header = _header(options)
    setup = setup_of(header)
    folder = Path(options.out).absolute() if options.out else state_folder()
    if options.forget:
        forget()
    out = Output(sys.stdout, options.plain)
    left_behind = _left_behind(folder, options.out is not None)
    out.write(left_behind)
    with quiet():
        inputs = waited_for(options, out)
        try:
            names = choose(inputs, options)
            # Outputs first: a virtual input would be one to choose from.
            with outputs_opened(options, inputs.backend.name) as outs:
                journal = JournalWriter(new_journal(folder, header), header)
                listener = Listener(
                    setup, journal, folder, inputs=inputs, outs=outs, signs=out.signs, advises=True, bell=options.bell
                )
                for source, name in enumerate(names):
                    inputs.open(source, name, listener.receiver(source))
                    listener.plugged.name(source, name or "livepedal (virtual port)")
                number = _shown(listener, header, out, bool(left_behind))
        finally:
            inputs.close()
    with last_words(number):
        if out.screen is None:
            out.write(listener.news_lines(out.width))
        out.write(_summary(listener, header))
    for fault in listener.faults.first.values():
        if options.debug:
            raise fault
        raise LivepedalError(
            f"Something went wrong in livepedal ({type(fault).__name__}: {fault}), but everything played is in"
            f" {listener.journal.path}; please report it with {listener.faults.path.name}, which is beside it."
        )
    return 128 + number if number not in (0, signal.SIGINT) else 0


def _shown(listener: Listener, header: Header, out: Output, left_behind: bool) -> int:
    """The session until it is over; the number of the signal that ended it, or 0."""
    try:
        listener.start()
        said = _announcement(listener, header, typed=out.screen is None)
        if out.screen is not None:
            out.write(said)
            if left_behind:
                listener.remind("an earlier session did not end properly: livepedal recover saves it")
        return shown(listener, out, said, TypedLines())
    finally:
        _end(listener, out)


def _end(listener: Listener, out: Output) -> None:
    """End the session; Ctrl-C leaves what still has to be written, other signals have been heard already."""

    def tell(text: str) -> None:
        with contextlib.suppress(OSError):  # the terminal may be gone
            out.write([line(listener.signs.write(text))])
            sys.stdout.flush()

    def again(number: int, frame: object) -> None:
        if number == signal.SIGINT:
            raise KeyboardInterrupt

    with noted(again):
        listener.end(tell)


def _header(options: argparse.Namespace) -> Header:
    """The options, checked as far as possible without a port.

    Raises LivepedalError for the first that is wrong.
    """
    middle_c = understood(options, "middle-c", middle_c_name)
    basis = basis_of(options)
    tempo = None
    if options.tempo is not None:
        if not _BEAT / SLOWEST <= options.tempo <= _BEAT / FASTEST:
            raise LivepedalError(
                f"The tempo {options.tempo:g} is out of range; give 10 to 500 crotchets a minute."
            )
        tempo = round(_BEAT / options.tempo)
    rest = basis.figures.window.passage_rest
    if options.rest is not None:
        if not 0.1 <= options.rest <= 3600:
            raise LivepedalError(f"The rest {options.rest:g} is out of range; give 0.1 to 3600 seconds.")
        rest = round(options.rest * 1_000_000)
    return Header(
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        player=basis.player,
        harp=basis.instrument.name,
        figures=str(Path(options.figures).absolute()) if options.figures else "",
        tempo=tempo,
        metre=_metre(options.meter),
        start=str(basis.setting or ""),
        channels=tuple(sorted(channels(options.channel))),
        rest=rest,
        only=tuple(layer.value for layer in basis.layers),
        middle_c=middle_c,
    )


def _metre(text: str | None) -> tuple[int, int]:
    """Numerator and denominator of a time signature, 4/4 where none is given."""
    if text is None:
        return 4, 4
    numerator, _, denominator = text.strip().partition("/")
    if (
        numerator.isascii()
        and numerator.isdigit()
        and 1 <= int(numerator) <= 99
        and denominator in ("1", "2", "4", "8", "16", "32", "64")
    ):
        return int(numerator), int(denominator)
    raise LivepedalError(f"The meter {text!r} is not understood; give it as 3/4 or 6/8.")


def _left_behind(folder: Path, elsewhere: bool) -> list[Line]:
    """What to say about sessions that did not end properly."""
    paths = unfinished(folder)
    if not paths:
        return []
    where = f" {shell_line(str(folder))}" if elsewhere else ""
    what = "An earlier session did" if len(paths) == 1 else f"{len(paths)} earlier sessions did"
    listed = ", ".join(path.name for path in paths[:3]) + (", ..." if len(paths) > 3 else "")
    return [line(f"{what} not end properly ({listed}); livepedal recover{where} saves the music as MIDI.")]


def _announcement(listener: Listener, header: Header, *, typed: bool) -> list[Line]:
    """What is said before anything is heard. typed: in line mode, where keys wait for Return."""
    keys = f"Type a key, then Return: {typed_help(listener.acts)}. Ctrl-C ends it too."
    sent = listener.plugged.outputs_told()
    text = f"Listening to {listener.plugged.title()} for the {header.player} player; middle C is {listener.middle_c}."
    text += f" Outputs: {sent}." if sent else ""
    return [
        line(listener.signs.write(text)),
        line((listener.signs.write(f"Everything is recorded in {listener.journal.path}"), Tone.FAINT)),
        *(
            [line((listener.signs.write(one), Tone.FAINT)) for one in (keys, NOT_USED)]
            if typed
            else []
        ),
    ]


def _summary(listener: Listener, header: Header) -> list[Line]:
    """What was saved, and how to check it."""
    lines: list[Line] = []
    clerk = listener.clerk
    for file in clerk.written:
        lines += saved_lines(file, header)
    if any(file.path.parent != clerk.folder for file in clerk.written):
        lines.append(line(f"Nothing more could be written in {clerk.folder}; the path above says where the music is."))
    for sentence in clerk.failed:
        lines.append(line(sentence))
    in_pauses = listener.session.in_pauses
    if in_pauses:
        which = counted(in_pauses, "note")
        which += " was played while paused and is" if in_pauses == 1 else " were played while paused and are"
        lines.append(line(f"{which} only in the journal; to make a MIDI file of that:"))
        lines.append(line((f"  {paused_command([listener.journal.path])}", Tone.FAINT)))
    if not clerk.written and not clerk.failed and not in_pauses:
        lines.append(line("Nothing was played, so there is nothing to save."))
    ignored = listener.session.ignored
    if ignored:
        kinds = ", ".join(f"{kind} {number}" for kind, number in ignored.most_common())
        lines.append(line((f"Not judged: {kinds}.", Tone.FAINT)))
    if listener.journal.waiting:
        has = "; the MIDI file has everything" if clerk.written and not clerk.failed else ""
        lines.append(line(f"The journal {listener.journal.path} is not complete, because the disk took no more{has}."))
    if clerk.failed:
        lines.append(
            line(f"livepedal recover makes a MIDI file of what is in {listener.journal.path}.")
        )
    return [tuple((listener.signs.write(text), tone) for text, tone in one) for one in lines]
