"""MIDI outputs: the options that name them, and opening them."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from livepedal.live.outgoing import Outs
    from livepedal.sources.ports.sender import Sender

_PORT = 'part of its name, or "virtual" for one of livepedal\'s own'


def again_option(parser: argparse.ArgumentParser) -> None:
    """The output that a passage can be heard from."""
    parser.add_argument(
        "--output", metavar="PORT", help=f"MIDI output on which the key a plays a passage again: {_PORT}"
    )


def live_options(parser: argparse.ArgumentParser) -> None:
    """The outputs of a live session."""
    parser.add_argument(
        "--through", metavar="PORT", help=f"pass on everything you play to this MIDI output: {_PORT}"
    )
    parser.add_argument(
        "--answer",
        metavar="PORT",
        help="send a message to this MIDI output when an attack becomes unplayable, and another when a passage has"
        f" gone well: {_PORT}",
    )
    parser.add_argument(
        "--bell", action="store_true", help="ring the terminal's bell when an attack becomes unplayable"
    )
    again_option(parser)


@contextmanager
def opened(options: argparse.Namespace, backend: str | None) -> Iterator[Outs]:
    """The outputs that were asked for; each is opened once, whatever it is for. backend: name of the MIDI system.

    Raises LivepedalError where one cannot be opened.
    """
    from livepedal.live.outgoing import Outs
    from livepedal.sources.ports.outputs import VIRTUAL
    from livepedal.sources.ports.sender import Sender

    known: dict[str, Sender] = {}

    def one(role: str) -> Sender | None:
        asked: str | None = getattr(options, role, None)
        if asked is None:
            return None
        name = asked.strip().casefold()
        name += f" {role}" * (name == VIRTUAL)
        if name not in known:
            known[name] = Sender(asked, role, backend)
        return known[name]

    try:
        yield Outs(one("through"), one("answer"), one("output"))
    finally:
        for sender in known.values():
            sender.end()
