"""A new file that a command will write. A path that will not do is refused before anything is judged."""

from __future__ import annotations

from pathlib import Path

from livepedal.sources.writing import check_target, write_new


class NewFile:
    """A file that is written once, after its source has been judged. path: where it goes."""

    def __init__(self, target: str, source: str, force: bool, option: str = "-o") -> None:
        """Check where it goes.

        Args:
            target: its path.
            source: the file that is read, which is never overwritten; - for standard input.
            force: replace a file that is there already.
            option: what its path was given with.

        Raises:
            LivepedalError: it cannot go there.
        """
        self.path = Path(target)
        self._inputs = [] if source == "-" else [Path(source)]
        self._force = force
        self._option = option
        check_target(self.path, self._inputs, force, option)

    def write(self, data: bytes) -> None:
        """Write it, whole. Raises LivepedalError, and leaves nothing behind, where that cannot be done."""
        write_new(self.path, data, self._inputs, self._force, self._option)
