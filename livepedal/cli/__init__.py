"""The command line: understand what is asked, have it judged, write it down. A module for each group of
commands.
"""

from livepedal.cli.main import main

__all__ = ["main"]
