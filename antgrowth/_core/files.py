"""Files that are written whole or not at all, and never over what somebody else wrote."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from antgrowth.errors import AntgrowthError

Own = Callable[[bytes], bool]
"""Whether what a file holds was written by this package, so that it may be replaced."""


def as_path(given: str | os.PathLike[str]) -> Path:
    """Take an argument as a path; ~ is the home of the user."""
    try:
        return Path(given).expanduser()
    except RuntimeError:
        return Path(given)  # of a user who is not known: a name like others


def read_raw(path: Path) -> bytes:
    """All bytes of a file; an `AntgrowthError` if it cannot be read."""
    try:
        return path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise AntgrowthError(
            f"{path}: cannot be read ({why}). Give the path of a file that you may read."
        ) from None


def write_whole(path: str | os.PathLike[str], content: str | bytes, own: Own | None = None) -> None:
    """Write a file so that at any moment the old one is there or the new one, never a part of it.

    Text is written as UTF-8. `own` tells a file that may be replaced; without it any may. Where it
    may not, or cannot be written, an `AntgrowthError` says so and the old one stays.
    """
    target = Path(path)
    with _told(target):
        if target.exists() and not target.is_file():
            raise AntgrowthError(
                f"{target}: this is a folder or a device. Give the name of a file."
            )
    if own is not None:
        check_replaceable(target, own)
    with _told(target), _beside(target, content) as written:
        os.replace(written, target)


def write_new(texts: Mapping[Path, str]) -> None:
    """Write files that are not there yet: all of them, or none.

    If there is such a file by now, or one cannot be written, those written before are removed.
    """
    made: list[Path] = []
    try:
        for path, text in texts.items():
            with _told(path), path.open("x", encoding="utf-8", newline="") as file:
                made.append(path)
                file.write(text)
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        raise


def make_folder(path: Path) -> None:
    """Make a folder, and those it lies in."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise AntgrowthError(
            f"{path}: no folder can be made there ({why}). Give another place."
        ) from None


def check_replaceable(path: Path, own: Own) -> None:
    """Refuse to write over a file that this package did not write."""
    with _told(path):
        if path.is_file() and not own(path.read_bytes()):
            raise AntgrowthError(
                f"{path}: there is a file of that name which antgrowth did not write, so "
                "it is left "
                "as it is. Rename or move it, or have the new one written elsewhere."
            )


@contextlib.contextmanager
def _beside(target: Path, content: str | bytes) -> Iterator[str]:
    """The content in a file of another name in the same folder; gone afterwards, whatever comes."""
    raw = content.encode("utf-8") if isinstance(content, str) else content
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".part", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())  # a full disk may tell only now
        # A file of its own may be read by its writer alone; one that stays is as any other.
        os.chmod(name, _usual_mode(target))
        yield name
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(name)


def _usual_mode(target: Path) -> int:
    """Permissions of the file that is replaced, or else those of a new one."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


@contextlib.contextmanager
def _told(target: Path) -> Iterator[None]:
    """What the system says of a file, in a sentence."""
    try:
        yield
    except (OSError, ValueError) as error:
        if isinstance(error, AntgrowthError):
            raise
        why = getattr(error, "strerror", None) or str(error)
        raise AntgrowthError(
            f"{target}: cannot be written ({why}); what was there is as it was. Give a place that "
            "can be written to and has room."
        ) from None
