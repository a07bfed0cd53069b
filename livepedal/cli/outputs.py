"""MIDI outputs: the options that name them, and opening them."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager

from livepedal.live.plugged import Outs
from livepedal.sources.ports.outputs import VIRTUAL
from livepedal.sources.ports.sender import Sender


@contextmanager
def opened(options: argparse.Namespace, backend: str | None) -> Iterator[Outs]:
    """The outputs that were asked for; each is opened once, whatever it is for. backend: name of the MIDI system.

    Raises LivepedalError where one cannot be opened.
    """
    known: dict[str, Sender] = {}

    def output_for(role: str) -> Sender | None:
        asked: str | None = getattr(options, role, None)
        if asked is None:
            return None
        name = asked.strip().casefold()
        name += f" {role}" * (name == VIRTUAL)
        if name not in known:
            known[name] = Sender(asked, role, backend)
        return known[name]

    try:
        yield Outs(output_for("through"), output_for("answer"), output_for("output"))
    finally:
        for sender in known.values():
            sender.end()
