"""The command line: understand what is asked, have it judged, write it down.

A module for each command or for a few that belong together. Starting quickly matters in scripts and in the hand, so
whatever a command does not need is imported where it is needed.

Exit codes: 0, the chosen player can play it all; 1, not; 2, something could not be judged or was asked for
wrongly. Ended by a signal it is 128 and the signal's number, as usual. Every fault ends in one sentence on
standard error; tracebacks are for those who ask with --debug.
"""

from __future__ import annotations

import errno
import signal
import sys
from collections.abc import Sequence

from livepedal.cli import output
from livepedal.cli.streams import give_up_output, known_to_python, open_closed, unwritable
from livepedal.errors import LivepedalError

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run livepedal with these arguments (default: the process's own).

    Returns:
        The exit code.
    """
    arguments = sys.argv[1:] if argv is None else list(argv)
    open_closed()
    output.begin(arguments)
    try:
        known_to_python(sys.stdout)
        from livepedal.cli import parsing  # so late that Ctrl-C meanwhile ends it in order, too

        code = parsing.run(arguments)
        sys.stdout.flush()
        return code
    except LivepedalError as error:
        output.complain(error)
        return 2
    except BrokenPipeError:
        # The reader of the output has seen enough.
        give_up_output()
        return 128 + getattr(signal, "SIGPIPE", 13)
    except KeyboardInterrupt:
        return 128 + signal.SIGINT
    except Exception as error:
        if isinstance(error, OSError) and error.errno in (errno.EMFILE, errno.ENFILE):
            output.say("the system allows no more open files; use fewer --jobs, or allow more (ulimit -n).")
            return 2
        full = unwritable(error) if isinstance(error, OSError) else None
        if full is not None:
            give_up_output()
            output.say(full)
            return 2
        if "--debug" in arguments:
            raise
        output.say(
            f"something went wrong inside livepedal ({type(error).__name__}: {error}); please report it with"
            " the file and the command; --debug shows the details."
        )
        return 2
