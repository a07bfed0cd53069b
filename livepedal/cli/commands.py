"""Every command with its options: one table, from which the parser is made.

What a command does stands in a module of its own, which is imported only when it is asked for.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import import_module
from typing import Any

from livepedal.cli.completion import completer
from livepedal.cli.files import folder_of
from livepedal.cli.options import (
    ACCEPT,
    AS_MARKED,
    BACKEND,
    DEBUG,
    FAIL_ON,
    FILE,
    FIRST_BAR,
    FORCE,
    FROM,
    HARP,
    JSON,
    NOTES,
    OUTPUT,
    PLAIN,
    PLAIN_LINES,
    PORT,
    SPELLING,
    Option,
    flag,
)
from livepedal.cli.project import NAME, Project

# The pages, in a good order for a first reading.
PAGES = {
    "dashboard": "the screen of listen and replay, and its keys",
    "files": "judging a file: options, choice of tracks, the HTML page",
    "scores": "written scores (MusicXML)",
    "findings": "what each kind of finding means, and what usually helps",
    "remedies": "what would make it playable; whether a revision helped",
    "spelling": "asking for a spelling; the spelling sheet",
    "harps": "one part on two harps, two parts on one",
    "listening": "MIDI inputs, the journal, recovering",
    "many": "folders of exports, watching, marks for the sequencer",
    "figures": "every figure and its source; your own players and harps",
    "json": "the fields of the JSON",
    "scripting": "using it from Python; completion with the Tab key",
    "words": "what the words mean",
}
SHELLS = ("bash", "zsh", "fish", "powershell")
_DEFAULTS = flag("--show-defaults", f"only show what {NAME} sets, in this folder or one above it")
_JUDGED = (*HARP, DEBUG, *NOTES, FIRST_BAR)
_TARGET = (
    Option("-o/--output", "the new MIDI file", "OUT.mid", more={"required": True}),
    replace(FORCE, help="replace the new file if it exists"),
)
_ADVICE = (
    flag("--remedies", "say what would make it playable: the best remedy for each place"),
    flag("--all", "show every finding and every remedy"),
    flag(
        "--sheet",
        "only the setting and the pedal changes, as text or with --page; with --json, add the spelling sheet",
    ),
    FROM,
)
# At most one of these.
_FORM = (
    JSON,
    flag("--jsonl", "the same as JSON lines: one line for each file as soon as it is judged"),
    flag("--csv", "write a row for each attack that a finding concerns, as comma-separated values"),
    flag("--full", "the whole report for each of several files, not one line"),
)
_RUN = (
    Option("--jobs", "use N processes (0: one per core; default 1)", "N", int, 1),
    FAIL_ON,
    ACCEPT,
    flag("--quiet", "only one line for each file that fails"),
)
_NEW_FILES = (
    Option(
        "--marked",
        "write the same music with markers at the findings and the pedal changes as texts; for a score,"
        " OUT.musicxml or OUT.mxl with the pedal changes printed",
        "OUT.mid",
    ),
    Option(
        "--changes-as", "with --marked: write the pedal changes as texts (default), markers or lyrics", "WHAT"
    ),
    Option(
        "--pedals", "with --marked of a score: write each pedal change as words (default) or diagrams", "HOW"
    ),
    flag(
        "--findings",
        "with --marked of a score: show the findings too, as words above the stave and coloured notes",
    ),
    FORCE,
    Option("--page", "write the report as one HTML page, with a timeline of the part", "OUT.html"),
)
_OUTPUTS = (
    Option("--through", f"pass on everything you play to this MIDI output: {PORT}", "PORT"),
    Option(
        "--answer",
        "send a message to this MIDI output when an attack becomes unplayable, and another when a passage has"
        f" gone well: {PORT}",
        "PORT",
    ),
    flag("--bell", "ring the terminal's bell when an attack becomes unplayable"),
    OUTPUT,
)
# What `check` alone can be asked for, and any command that judges goes without.
_UNASKED = {option.key: option.unset for option in (*SPELLING, AS_MARKED, *_ADVICE)}


@dataclass(frozen=True, slots=True)
class Subcommand:
    """One command.

    Attributes:
        run: the module in this package and its function, which takes the options and returns the exit code.
        about: what its help begins with, and end: ends with.
        options: of those in a tuple inside, at most one can be given.
        folder: of a command that heeds a livepedal.toml, where the search for it begins.
    """

    name: str
    run: str
    help: str
    about: str
    options: tuple[Option | tuple[Option, ...], ...]
    end: str | None = None
    folder: Callable[[argparse.Namespace], str] | None = None

    def __call__(self, options: argparse.Namespace) -> int:
        """Do it."""
        module, function = self.run.split(".")
        code: int = getattr(import_module(f"livepedal.cli.{module}"), function)(options)
        return code

    def add(self, commands: argparse._SubParsersAction[Any]) -> None:
        """Add its parser."""
        parser = commands.add_parser(
            self.name, help=self.help, description=self.about, epilog=self.end, allow_abbrev=False
        )
        parser.set_defaults(run=self, parser=parser, project=Project(), **_UNASKED)
        for item in self.options:
            one_of = parser.add_mutually_exclusive_group() if isinstance(item, tuple) else parser
            for option in item if isinstance(item, tuple) else (item,):
                action = option.add(one_of)
                if (words := completer(option)) is not None:
                    action.completer = words  # type: ignore[attr-defined]


COMMANDS = (
    Subcommand(
        "check",
        "checking.check",
        "judge MIDI files",
        "Judge MIDI files: what a harpist cannot play, why, and how to set the pedals.",
        (
            Option(
                "files",
                "MIDI file, folder (with its subfolders), pattern, or - for standard input",
                "FILE",
                more={"nargs": "*"},
            ),
            *_JUDGED,
            *SPELLING,
            AS_MARKED,
            *_ADVICE,
            _FORM,
            *_RUN,
            *_NEW_FILES,
            PLAIN,
            _DEFAULTS,
        ),
        "Exit code: 0, the chosen player can play it all, or nothing is as bad as --fail-on says; 1, otherwise;"
        " 2, something could not be judged.",
        lambda options: folder_of(options.files[0]) if options.files else ".",
    ),
    Subcommand(
        "schema",
        "manual.schema",
        "print the JSON Schema of a command's --json output",
        "Print the JSON Schema (draft 2020-12) of a command's --json output.",
        (
            Option(
                "of",
                "the command (default: check; also for each line of its --jsonl)",
                default="check",
                more={"nargs": "?", "choices": ("check", "tracks", "spell", "compare", "share", "combine")},
            ),
        ),
    ),
    Subcommand(
        "replay",
        "replaying.replay",
        "play a MIDI file in real time into the dashboard",
        "Play a MIDI file in real time, without sound unless an --output is named, and watch the harp follow it."
        " Without FILE: a recording that comes with livepedal.",
        (
            Option("file", "MIDI file, - for standard input, or a recording's name", "FILE", more={"nargs": "?"}),
            Option(
                "--speed", "play X times as fast; the verdicts are still those of speed 1", "X", default="1"
            ),
            OUTPUT,
            BACKEND,
            *_JUDGED,
            PLAIN_LINES,
        ),
        "Space pauses and continues, a plays a passage again, q or Ctrl-C ends."
        " Exit code: 0; 130, ended by Ctrl-C; 2, the file cannot be read or judged.",
    ),
    Subcommand(
        "tracks",
        "tracks.tracks",
        "show which tracks of a file are judged, and why",
        "Show the tracks of a MIDI file: which are judged as a harp's, which are not, and why.",
        (FILE, *_JUDGED, flag("--json", "write it as JSON (format livepedal-tracks)"), PLAIN),
        "Exit code: 0; 2, it is not clear which track is the harp's, or the file cannot be read.",
    ),
    Subcommand(
        "watch",
        "watching.watch",
        "judge each export in a folder as it is written",
        "Watch a folder and its subfolders: judge each MIDI file as it is written, one line each,"
        " and say what changed since the last export of the same cue.",
        (
            Option("folder", "the folder that the sequencer exports to", "FOLDER"),
            *_JUDGED,
            flag("--jsonl", "write each export as a JSON line, as check --jsonl does"),
            PLAIN,
            _DEFAULTS,
        ),
        "Ctrl-C ends it. Exit code: 0; 2, the folder cannot be watched.",
        lambda options: str(options.folder),
    ),
    Subcommand(
        "spell",
        "spelling.spell",
        "write out the spelling: every note as the harp plays it",
        "Write out, bar by bar, every note as the harp plays it (string and position), the settings and the"
        " pedal changes, where that differs from ordinary spelling, and whether another written key would help.",
        (
            FILE,
            *_JUDGED,
            *SPELLING,
            AS_MARKED,
            flag("--json", "write it as JSON (format livepedal-spelling)"),
            Option(
                "--musicxml",
                "also write the part as a score, if its notes lie on a grid",
                "OUT.musicxml",
            ),
            replace(FORCE, help="replace the score if it exists"),
            PLAIN,
        ),
        "Exit code: 0; 2, something could not be judged.",
    ),
    Subcommand(
        "share",
        "sharing.share",
        "share one part between two harps",
        "Share a part between two players so that each can play their notes, with few hand-overs, and write"
        " it as a new MIDI file with two tracks.",
        (
            FILE,
            *_TARGET,
            flag("--double", "the resting player doubles the other in octaves, for more weight"),
            *_JUDGED,
            flag("--json", "write the result as JSON (format livepedal-share)"),
            PLAIN,
        ),
        "Exit code: 0, two players can play it all; 1, not even two can; 2, it could not be judged.",
    ),
    Subcommand(
        "combine",
        "sharing.combine",
        "combine two harp parts into one",
        "Combine two harp parts into one for one player. The first leads and keeps every note; of the second"
        " as little as possible is dropped, and each note dropped is listed.",
        (
            FILE,
            *_TARGET,
            *_JUDGED,
            flag("--json", "write the result as JSON (format livepedal-combine)"),
            PLAIN,
        ),
        "Exit code: 0, one player can play both; 1, not everywhere; 2, something could not be judged.",
    ),
    Subcommand(
        "compare",
        "comparing.compare",
        "compare two versions of a part: did the revision help?",
        "Judge two versions of a part, line up their bars, and say what got better or worse.",
        (
            Option("before", "MIDI file or score", "BEFORE"),
            Option("after", "the revision", "AFTER"),
            *_JUDGED,
            flag("--json", "write the comparison as JSON (format livepedal-compare)"),
            PLAIN,
        ),
        "Exit code: 0, nothing got worse; 1, something did; 2, something could not be judged.",
    ),
    Subcommand(
        "ports",
        "ports.ports",
        "list the MIDI inputs and outputs",
        "List the MIDI inputs that livepedal listen can open, and the outputs that it can send to.",
        (BACKEND, DEBUG),
    ),
    Subcommand(
        "listen",
        "listening.listen",
        "judge what is played at a keyboard, as it is played",
        "Listen to MIDI keyboards or a sequencer and say at once what a harp cannot play."
        " Everything is recorded; at the end it is saved as a MIDI file.",
        (
            Option("--port", "the input, or part of its name; may be repeated", "NAME", repeats=True),
            flag("--virtual", "make a port named livepedal that a sequencer can send to"),
            BACKEND,
            Option(
                "--channel",
                "hear only this MIDI channel, 1 to 16 (default: all but 10, the drums); may be repeated",
                "N",
                int,
                repeats=True,
            ),
            Option("--tempo", "crotchets a minute, for bars and beats", "BPM", float),
            Option("--meter", "time signature, such as 3/4 (default 4/4)", "N/M"),
            Option(
                "--rest", "silence that ends a passage (default: from the figures, 1.5)", "SECONDS", float
            ),
            *_OUTPUTS,
            Option("--out", "folder for the journal and the saved MIDI files", "DIR"),
            flag("--forget", "forget which input was chosen last time"),
            *HARP,
            DEBUG,
            _DEFAULTS,
            PLAIN_LINES,
        ),
        "Keys: k keeps the passage as a file, a plays a passage again, t taps the tempo in crotchets, s sets the"
        " pedals or a key to stay in, p changes the player, space pauses, r starts again, h shows the passages,"
        " i the input, q or Ctrl-C ends.",
        lambda options: ".",
    ),
    Subcommand(
        "recover",
        "recovering.recover",
        "save the music of sessions that did not end properly",
        "Make MIDI files from the journals of sessions that ended in a crash or a power cut."
        " What was played while paused becomes a file of its own."
        " Without JOURNAL: from all journals in livepedal's own folder.",
        (
            Option("journals", "a journal, or a folder of journals", "JOURNAL", more={"nargs": "*"}),
            (
                flag("--list", "only list the journals"),
                flag("--paused", "only what was played while paused, which no session saves on its own"),
                flag("--delete", "only delete the journals whose music has been saved"),
            ),
            Option("--out", "folder for the MIDI files (default: beside the journal)", "DIR"),
            Option("--figures", "judge with these figures instead of those of the session", "FILE"),
            DEBUG,
        ),
        "Exit code: 0, all were recovered; 2, one could not be.",
    ),
    Subcommand(
        "manual",
        "manual.manual",
        "read the manual",
        "Show a page of the manual; without PAGE, a list of its pages.",
        (Option("page", ", ".join(PAGES), "PAGE", more={"nargs": "?"}), PLAIN),
    ),
    Subcommand(
        "explain",
        "manual.explain",
        "explain a kind of finding",
        "Explain a kind of finding: what it means, which figures decide it, and what usually helps."
        " Without KIND, list the kinds.",
        (Option("kind", "as the report names it, such as pedal-time", "KIND", more={"nargs": "?"}), PLAIN),
    ),
    Subcommand(
        "completion",
        "completion.completion",
        "print the shell completion for livepedal",
        "Print the shell code that completes livepedal's commands, options and files with the Tab key.",
        (Option("shell", ", ".join(SHELLS), "SHELL", more={"choices": SHELLS}),),
        'bash, zsh: eval "$(livepedal completion bash)" in ~/.bashrc or ~/.zshrc;'
        " fish: livepedal completion fish > ~/.config/fish/completions/livepedal.fish",
    ),
)
