"""The commands around live playing: `ports`, `listen` and `recover`; see main.py for the rest of the command
line.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import select
import shlex
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from livepedal.cli.options import harp_options
from livepedal.cli.streams import last_words
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.cli.output import Output
    from livepedal.live.listen import Listener
    from livepedal.live.recover import Written
    from livepedal.sources.journal import Header, Journal
    from livepedal.sources.ports import Inputs
    from livepedal.views.lines import Line

_BEAT = 60_000_000  # µs a quarter at one quarter a minute
_LINE_MODE_REST = 0.05  # seconds between two looks for something to print


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parsers of the three commands."""
    ports = commands.add_parser(
        "ports",
        help="list the MIDI inputs",
        description="List the MIDI inputs that livepedal listen can open.",
        allow_abbrev=False,
    )
    _backend(ports)
    _debug(ports)
    ports.set_defaults(run=_ports)

    listen = commands.add_parser(
        "listen",
        help="judge what is played at a keyboard, as it is played",
        description=(
            "Listen to MIDI keyboards or a sequencer and say at once what a harp could not do."
            " Everything is recorded; at the end it is saved as a MIDI file."
        ),
        epilog=(
            "Keys: k keeps the passage as a file, t taps the tempo in quarters, s sets the pedals, p changes the"
            " player, space pauses, r starts afresh, h shows the passages, i the input, q or Ctrl-C ends."
        ),
        allow_abbrev=False,
    )
    listen.add_argument(
        "--port",
        action="append",
        default=[],
        metavar="NAME",
        help="input, or a part of its name; may be given again",
    )
    listen.add_argument(
        "--virtual", action="store_true", help="make an input named livepedal that a sequencer can send to"
    )
    _backend(listen)
    listen.add_argument(
        "--channel",
        action="append",
        default=[],
        type=int,
        metavar="N",
        help="hear this MIDI channel alone, 1 to 16 (default: all but 10, the drums); may be given again",
    )
    listen.add_argument("--tempo", type=float, metavar="BPM", help="quarters a minute, for bars and beats")
    listen.add_argument(
        "--meter", default=None, metavar="N/M", help="time signature, such as 3/4 (default 4/4)"
    )
    listen.add_argument(
        "--rest",
        type=float,
        metavar="SECONDS",
        help="silence that ends a passage (default: from the figures, 1.5)",
    )
    listen.add_argument("--out", metavar="DIR", help="folder for the journal and the saved MIDI files")
    listen.add_argument("--forget", action="store_true", help="forget which input was chosen the last time")
    harp_options(listen)
    listen.add_argument("--plain", action="store_true", help="one line a finding instead of the dashboard")
    listen.set_defaults(run=_listen)

    recover = commands.add_parser(
        "recover",
        help="make MIDI files of sessions that were not ended properly",
        description=(
            "Make MIDI files of the journals of sessions that ended in a crash or a power cut."
            " Without JOURNAL, of all there are in livepedal's own folder."
        ),
        epilog="Exit code: 0, all of them were recovered; 2, one could not be.",
        allow_abbrev=False,
    )
    recover.add_argument("journals", nargs="*", metavar="JOURNAL", help="journal, or folder of them")
    recover.add_argument("--list", action="store_true", help="only say which journals there are")
    recover.add_argument(
        "--out", metavar="DIR", help="folder for the MIDI files (default: beside the journal)"
    )
    recover.add_argument(
        "--figures", metavar="FILE", help="figures to judge with instead of those of the session"
    )
    recover.add_argument(
        "--delete",
        action="store_true",
        help="delete the journals whose music has been saved, instead of recovering",
    )
    _debug(recover)
    recover.set_defaults(run=_recover)


def _backend(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--backend",
        metavar="NAME",
        help="MIDI system: alsa, jack, coremidi or winmm (default: the first that answers)",
    )


def _debug(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--debug", action="store_true", help="show tracebacks")


# -- ports ---------------------------------------------------------------------------------------------------


def _ports(options: argparse.Namespace) -> int:
    from livepedal.cli.output import Output
    from livepedal.sources.ports import ELSEWHERE, Inputs, quiet
    from livepedal.sources.text import clean
    from livepedal.views.lines import Tone, line

    with quiet():
        inputs = Inputs(options.backend)
        try:
            names = inputs.names()
        finally:
            inputs.close()
    out = Output(sys.stdout, True)
    if not names:
        raise LivepedalError(
            f"{inputs.backend.label} answers, but there is no MIDI input: plug in a keyboard"
            f"{', or use livepedal listen --virtual' if inputs.backend.virtual else ''}; {ELSEWHERE}."
        )
    out.write([line(f"MIDI inputs ({inputs.backend.label}):")])
    out.write([line(f"  {number}. {clean(name)}") for number, name in enumerate(names, start=1)])
    out.write([line(("Listen to one with: livepedal listen --port NAME", Tone.FAINT))])
    return 0


# -- listen --------------------------------------------------------------------------------------------------


def _listen(options: argparse.Namespace) -> int:
    from livepedal.cli.output import Output
    from livepedal.live.listen import Listener
    from livepedal.live.recover import setup_of
    from livepedal.sources.journal import JournalWriter
    from livepedal.sources.ports import Inputs, quiet

    header = _header(options)
    setup = setup_of(header)
    folder = Path(options.out).absolute() if options.out else state_folder()
    if options.forget:
        _forget()
    out = Output(sys.stdout, options.plain)
    left_behind = _left_behind(folder, options.out is not None)
    out.write(left_behind)
    with quiet():
        inputs = Inputs(options.backend)
        try:
            names = _choose(inputs, options)
            journal = JournalWriter(_new_journal(folder, header), header)
            listener = Listener(
                setup, journal, header.started, folder, inputs=inputs, signs=out.signs, advises=True
            )
            for source, name in enumerate(names):
                if name is None:
                    inputs.open_virtual(source, listener.receiver(source))
                    listener.name(source, "livepedal (virtual port)")
                else:
                    inputs.open(source, name, listener.receiver(source))
                    listener.name(source, name)
        except BaseException:
            inputs.close()
            raise
        number = 0
        try:
            listener.start()
            if out.screen is None:
                number = _lines_until_ended(listener, out, _announcement(listener, header, lines=True))
            else:
                from livepedal.views import terminal

                out.write(_announcement(listener, header))
                if left_behind:
                    listener.remind("an earlier session was not ended properly: livepedal recover saves it")
                number = terminal.run(listener, out.screen)
        finally:
            listener.end()
    with last_words(number):
        out.write(_summary(listener, header))
    if listener.fault is not None:
        if options.debug:
            raise listener.fault
        raise LivepedalError(
            f"Judging failed ({type(listener.fault).__name__}: {listener.fault}), but everything played is in"
            f" {journal.path}; please report it with that file."
        )
    return 128 + number if number not in (0, signal.SIGINT) else 0


def _header(options: argparse.Namespace) -> Header:
    """What was asked for, checked as far as it can be without a port."""
    from livepedal.harp import Setting, load_figures, octave_shift
    from livepedal.live.grid import FASTEST, SLOWEST
    from livepedal.live.session import check_channels
    from livepedal.model.findings import layers_named
    from livepedal.sources.journal import Header

    octave_shift(options.middle_c)
    figures = load_figures(Path(options.figures) if options.figures else None)
    figures.player(options.player)
    figures.instrument(options.harp)
    channels = frozenset(options.channel)
    check_channels(channels)
    tempo = None
    if options.tempo is not None:
        tempo = round(_BEAT / options.tempo) if options.tempo > 0 else 0
        if not FASTEST <= tempo <= SLOWEST:
            raise LivepedalError(
                f"The tempo {options.tempo:g} makes no sense; give 10 to 500 quarters a minute."
            )
    rest = figures.passage_rest
    if options.rest is not None:
        if not 0.1 <= options.rest <= 3600:
            raise LivepedalError(f"The rest {options.rest:g} makes no sense; give 0.1 to 3600 seconds.")
        rest = round(options.rest * 1_000_000)
    names = [name.strip().lower() for asked in options.only for name in asked.split(",") if name.strip()]
    return Header(
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        player=options.player,
        harp=options.harp,
        figures=str(Path(options.figures).absolute()) if options.figures else "",
        tempo=tempo,
        metre=_metre(options.meter),
        start=str(Setting.parse(options.start)) if options.start else "",
        channels=tuple(sorted(channels)),
        rest=rest,
        only=tuple(layer.value for layer in layers_named(names)),
        middle_c=options.middle_c.strip().upper(),
    )


def _metre(text: str | None) -> tuple[int, int]:
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


def state_folder() -> Path:
    """Where journals and saved files go unless told otherwise: the state folder of the platform."""
    from platformdirs import user_state_path

    return user_state_path("livepedal", appauthor=False) / "sessions"


def _new_journal(folder: Path, header: Header) -> Path:
    from livepedal.live.recover import stem_of
    from livepedal.sources.journal import names

    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
    for path in names(folder, stem_of(header.started, 1)):
        try:
            # Made at once, so that of two that start in the same second each has its own.
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        except FileExistsError:
            continue
        except OSError:
            pass  # whoever writes it says what is wrong
        return path
    raise AssertionError("there is always another name")


def _choose(inputs: Inputs, options: argparse.Namespace) -> list[str | None]:
    """The names of the inputs to open; None stands for a port of our own."""
    from livepedal.sources.ports import chosen, same_port

    names = inputs.names()
    if options.port or options.virtual:
        found: list[str | None] = list(dict.fromkeys(chosen(names, asked) for asked in options.port))
        if options.port:
            _remember([name for name in found if name is not None])
        return [*found, None] if options.virtual else found
    real = [name for name in names if not name.startswith("Midi Through")]  # ALSA's own loop, not a keyboard
    if len(real) == 1:
        return [real[0]]
    remembered = [name for name in names for known in _remembered() if same_port(name, known)]
    if remembered:
        return list(dict.fromkeys(remembered))
    if not real:
        virtual = ", or let a sequencer send to livepedal listen --virtual" if inputs.backend.virtual else ""
        raise LivepedalError(
            f"{inputs.backend.label} answers, but there is no MIDI input: plug in a keyboard{virtual}."
        )
    if sys.stdin is None or not sys.stdin.isatty():
        raise LivepedalError(f"There are several MIDI inputs: {'; '.join(real)}; choose with --port NAME.")
    name = _asked_for(real)
    _remember([name])
    return [name]


def _asked_for(names: Sequence[str]) -> str:
    from livepedal.sources.text import clean

    for number, name in enumerate(names, start=1):
        print(f"  {number}. {clean(name)}")
    while True:
        # Not by way of input(), which writes its question to standard error, where nothing is shown (`quiet`).
        print(f"Which one, 1 to {len(names)}? ", end="", flush=True)
        answer = sys.stdin.readline()
        if not answer:
            raise LivepedalError("No MIDI input was chosen; choose with --port NAME.")
        answer = answer.strip()
        if answer.isascii() and answer.isdigit() and 1 <= int(answer) <= len(names):
            return names[int(answer) - 1]


def _choice_file() -> Path:
    from platformdirs import user_config_path

    return user_config_path("livepedal", appauthor=False) / "last-ports.json"


def _remember(names: Sequence[str]) -> None:
    # Not being able to remember is no reason not to listen.
    with contextlib.suppress(OSError):
        path = _choice_file()
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(list(names)), "utf-8")


def _remembered() -> list[str]:
    try:
        known = json.loads(_choice_file().read_text("utf-8"))
    except (OSError, ValueError):
        return []
    return [name for name in known if isinstance(name, str)] if isinstance(known, list) else []


def _forget() -> None:
    with contextlib.suppress(OSError):
        _choice_file().unlink()


def _left_behind(folder: Path, elsewhere: bool) -> list[Line]:
    """What to say about sessions that were not ended properly."""
    from livepedal.sources.journal import unfinished
    from livepedal.views.lines import line

    paths = unfinished(folder)
    if not paths:
        return []
    where = f" {shlex.quote(str(folder))}" if elsewhere else ""
    what = "An earlier session was" if len(paths) == 1 else f"{len(paths)} earlier sessions were"
    listed = ", ".join(path.name for path in paths[:3]) + (", ..." if len(paths) > 3 else "")
    return [line(f"{what} not ended properly ({listed}); livepedal recover{where} makes a MIDI file of it.")]


def _announcement(listener: Listener, header: Header, lines: bool = False) -> list[Line]:
    """What is said before anything is heard. lines: in line mode, where keys wait for Return."""
    from livepedal.views.lines import Tone, line

    keys = "Keys work once Return is pressed after them: q and Return ends; Ctrl-C does too."
    text = f"Listening to {listener.title()} for the {header.player} player; middle C is {listener.middle_c}."
    return [
        line(listener.signs.write(text)),
        line((listener.signs.write(f"Everything is recorded in {listener.journal.path}"), Tone.FAINT)),
        *([line((keys, Tone.FAINT))] if lines else []),
    ]


def _lines_until_ended(listener: Listener, out: Output, announcement: list[Line]) -> int:
    """Line mode: each finding in a line of its own, once its attack is over. Returns the signal that ended
    it.
    """
    from livepedal.views.plain import wrapped

    ended = 0

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal ended
        ended = number

    with _handled(note):
        out.write(wrapped(announcement, out.width))
        sys.stdout.flush()
        keys = _TypedKeys()
        going = True
        while going and not ended:
            news = listener.news_lines()
            try:
                out.write(wrapped(news, out.width))
                sys.stdout.flush()
            except OSError:
                if not ended:  # else it is a terminal that was closed
                    raise
            for key in keys.wait(_LINE_MODE_REST):
                going = going and listener.key(key)
        listener.end()
        with last_words(ended):
            out.write(wrapped(listener.news_lines(), out.width))
    return ended


class _TypedKeys:
    """Keys in line mode: whatever is typed, or comes down a pipe, each character a key, once Return is
    pressed.
    """

    def __init__(self) -> None:
        self._input: int | None = None
        if os.name != "nt" and sys.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                self._input = sys.stdin.fileno()

    def wait(self, seconds: float) -> str:
        """Wait so long, or until something was typed; what was."""
        number = self._input
        # A job in the background that reads from the terminal would be stopped by it.
        if number is None or (os.isatty(number) and os.tcgetpgrp(number) != os.getpgrp()):
            time.sleep(seconds)
            return ""
        ready, _, _ = select.select([number], [], [], seconds)
        if not ready:
            return ""
        try:
            typed = os.read(number, 256)
        except OSError:
            typed = b""
        if not typed:
            self._input = None  # nothing more will come; never mind, the music goes on
        return typed.decode("utf-8", "replace").replace("\n", "")


@contextlib.contextmanager
def _handled(note: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Signals that end a program only end the listening, in an orderly way."""
    before = {}
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            before[number] = signal.signal(number, note)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler if handler is not None else signal.SIG_DFL)


def _summary(listener: Listener, header: Header) -> list[Line]:
    """What was saved, and how to check it."""
    from livepedal.views.lines import Tone, line

    lines: list[Line] = []
    for one in listener.written:
        lines += _saved_lines(one, header)
    for sentence in listener.failed:
        lines.append(line(sentence))
    if not listener.written and not listener.failed:
        lines.append(line("Nothing was played, so there is nothing to save."))
    ignored = listener.session.ignored
    if ignored:
        kinds = ", ".join(f"{kind} {number}" for kind, number in ignored.most_common())
        lines.append(line((f"Not judged: {kinds}.", Tone.FAINT)))
    if listener.journal.waiting or listener.journal.lost:
        lines.append(line(f"The journal {listener.journal.path} is not complete, since the disk was full."))
    elif listener.failed:
        lines.append(
            line(f"The music is in {listener.journal.path}; livepedal recover makes a MIDI file of it.")
        )
    return [tuple((listener.signs.write(text), tone) for text, tone in one) for one in lines]


def _saved_lines(one: Written, header: Header) -> list[Line]:
    from livepedal.views.lines import Tone, line
    from livepedal.views.words import counted

    saved = one.saved
    what = f"passage {one.passage + 1}" if one.passage is not None else f"take {one.take}"
    command = ["livepedal", "check", str(one.path)]
    if saved.player != "working":
        command += ["--player", saved.player]
    if header.harp != "47":
        command += ["--harp", header.harp]
    if header.figures:
        command += ["--figures", header.figures]
    if saved.start:
        command += ["--start", saved.start]
    for layer in header.only:
        command += ["--only", layer]
    if saved.first_bar != 1:
        command += ["--first-bar", str(saved.first_bar)]
    return [
        line(
            f"Saved {one.path} ({what}: {counted(saved.notes, 'note')}, {counted(saved.findings, 'finding')})"
        ),
        line((f"  {shlex.join(command)}", Tone.FAINT)),
    ]


# -- recover -------------------------------------------------------------------------------------------------


def _recover(options: argparse.Namespace) -> int:
    from livepedal.cli.output import Output, complain
    from livepedal.live.recover import recover
    from livepedal.sources.journal import ENDING, read_journal, unfinished
    from livepedal.views.lines import line

    out = Output(sys.stdout, True)
    paths: list[Path] = []
    for name in options.journals or [str(state_folder())]:
        path = Path(name)
        if not path.is_dir():
            if options.journals or path.exists():
                paths.append(path)
        elif options.delete or options.list:
            paths += sorted(path.glob(f"*{ENDING}"))
        else:
            paths += unfinished(path)
    if not paths:
        out.write([line("There is nothing to recover.")])
        return 0
    code = 0
    for path in paths:
        try:
            journal = read_journal(path)
            if options.list:
                out.write([line(_listed(journal))])
            elif options.delete:
                out.write([line(_deleted(journal))])
            else:
                folder = Path(options.out) if options.out else path.parent
                figures = Path(options.figures) if options.figures else None
                written = recover(journal, folder, figures)
                for fault in journal.faults:
                    out.write([line(f"{path.name}: {fault}.")])
                for one in written:
                    out.write(_saved_lines(one, journal.header))
        except LivepedalError as error:
            complain(error)
            code = 2
        sys.stdout.flush()
    return code


def _listed(journal: Journal) -> str:
    from livepedal.views.words import counted

    state = "saved" if journal.ended else "not ended properly"
    size = counted(len(journal.records), "record")
    return f"{journal.path}: {journal.header.started}, {size}, {state}"


def _deleted(journal: Journal) -> str:
    if not journal.ended:
        return f"{journal.path}: kept, since its music has not been saved; recover it first."
    try:
        os.unlink(journal.path)
    except OSError as error:
        raise LivepedalError(f"{journal.path} cannot be deleted ({error.strerror}).") from None
    return f"{journal.path}: deleted."
