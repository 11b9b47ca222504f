"""A command that Ctrl-C has stopped: told in a line, and by what the command returns."""

import sys

STOPPED = 130
"""What such a command returns: 128, and the number of the signal."""


def tell_stopped() -> int:
    """Say that the command was stopped, and give what it returns."""
    # Python remembers an interrupt within code that was made of text, as dataclasses are, and dies
    # of it at its end; any other such code makes it forget.
    exec("")
    print("\nantgrowth: stopped; files are as they were or whole", file=sys.stderr)
    return STOPPED
