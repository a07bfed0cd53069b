"""The command line: understand what is asked, have it judged, write it down.

A module for each command or for a few that belong together.
"""

from livepedal.cli.main import main

__all__ = ["main"]
