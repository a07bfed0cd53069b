"""The outputs of a session. Each has a process to itself (sources/ports/outputs.py), so none holds up the session."""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.sources.ports.sender import Sender


@dataclass(frozen=True, slots=True)
class Outs:
    """Where a session sends: what is played, as it comes (through); answers; a passage that is to be heard again."""

    through: Sender | None = None
    answer: Sender | None = None
    again: Sender | None = None

    @property
    def roles(self) -> dict[Sender, list[str]]:
        """What each output is for, in words."""
        roles: dict[Sender, list[str]] = {}
        told = {"through": self.through, "answers": self.answer, "passages again": self.again}
        for role, sender in told.items():
            if sender is not None:
                roles.setdefault(sender, []).append(role)
        return roles

    def end(self) -> None:
        """Nothing more is sent; what is on is switched off."""
        for sender in self.roles:
            sender.end()
