"""The start of the command, and `python -m antgrowth`, where the command is not on the path.

Little is loaded before Ctrl-C is told in a line: on a slow disk the rest takes seconds.
"""

import sys

from antgrowth._core.stopped import tell_stopped


def main() -> int:
    """Run the command; see `antgrowth.cli.main`."""
    came = []

    def stop(*signal_and_frame: object) -> None:
        came.append(True)
        raise KeyboardInterrupt

    try:
        import signal

        # Not where Ctrl-C is to be ignored, as under nohup.
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            signal.signal(signal.SIGINT, stop)
        from antgrowth.cli import main as command

        return command()
    except KeyboardInterrupt:
        return tell_stopped()
    except Exception:
        # Where Ctrl-C meets compiled code that loads a module, it may say that there is none.
        if came:
            return tell_stopped()
        raise


if __name__ == "__main__":
    sys.exit(main())
