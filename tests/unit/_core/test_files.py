"""Files are whole or not there: on a full disk, in a locked folder, killed, or two at once."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from antgrowth._core.files import write_new, write_whole
from antgrowth.errors import AntgrowthError

OLD, NEW = b"old " * 50_000, b"new " * 2_000_000

WRITER = """
import sys
from antgrowth._core.files import write_whole
print("ready", flush=True)
for _ in range(1000):
    write_whole(sys.argv[1], b"new " * 2_000_000)
"""


def left(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def target(tmp_path) -> Path:
    path = tmp_path / "report.html"
    path.write_bytes(OLD)
    return path


def test_a_file_is_replaced_and_nothing_else_is_left(target):
    os.chmod(target, 0o640)
    write_whole(target, "now ä")
    assert target.read_bytes() == "now ä".encode() and left(target.parent) == ["report.html"]
    assert target.stat().st_mode & 0o777 == 0o640


def test_a_new_file_is_read_by_others_as_any_other(tmp_path):
    mask = os.umask(0o022)
    try:
        write_whole(tmp_path / "new", "x")
    finally:
        os.umask(mask)
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o644


@pytest.mark.parametrize("after", [0.0, 0.002, 0.01, 0.03, 0.1])
def test_killed_at_any_moment(target, after):
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(target)], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None and writer.stdout.readline() == "ready\n"
    time.sleep(after)
    writer.send_signal(signal.SIGKILL)
    writer.wait()
    writer.stdout.close()
    assert target.read_bytes() in (OLD, NEW)
    # What a killed process leaves has another name, which no page and no calendar has.
    assert all(
        name == target.name or name.startswith(".report.html.") for name in left(target.parent)
    )


@pytest.fixture
def small_disk(tmp_path) -> Path:
    """A real file system of a megabyte."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(disk)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip(f"no file system can be mounted here: {mounted.stderr.decode().strip()}")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def test_a_full_disk(small_disk):
    target = small_disk / "report.html"
    target.write_bytes(OLD)
    with pytest.raises(AntgrowthError, match="No space left on device.*has room"):
        write_whole(target, NEW)
    assert target.read_bytes() == OLD and left(small_disk) == ["report.html"]


def test_a_full_disk_leaves_no_part_of_a_new_folder(small_disk):
    texts = {small_disk / "colony.toml": "a", small_disk / "counts.csv": "b" * 2_000_000}
    with pytest.raises(AntgrowthError, match="No space left on device"):
        write_new(texts)
    assert left(small_disk) == []


def test_a_folder_that_is_locked(target):
    if os.getuid() == 0:
        pytest.skip("root may write everywhere; see the test of a file system that is read-only")
    os.chmod(target.parent, 0o500)
    try:
        with pytest.raises(AntgrowthError, match="Permission denied"):
            write_whole(target, NEW)
    finally:
        os.chmod(target.parent, 0o700)
    assert target.read_bytes() == OLD


def test_a_file_system_that_is_read_only(small_disk):
    target = small_disk / "report.html"
    target.write_bytes(OLD)
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(AntgrowthError, match="Read-only file system"):
        write_whole(target, NEW)
    with pytest.raises(AntgrowthError, match="Read-only file system"):
        write_new({small_disk / "counts.csv": "x"})
    assert target.read_bytes() == OLD and left(small_disk) == ["report.html"]


def _write(path: Path, letter: bytes) -> None:
    for _ in range(30):
        write_whole(path, letter * 300_000)


def test_two_at_once(target):
    start = multiprocessing.get_context("spawn").Process
    writers = [start(target=_write, args=(target, letter)) for letter in (b"a", b"b")]
    for writer in writers:
        writer.start()
    seen = set()
    while any(writer.is_alive() for writer in writers):
        raw = target.read_bytes()
        assert raw == OLD or (len(raw) == 300_000 and raw == raw[:1] * 300_000)
        seen.add(raw[:1])
    assert [writer.exitcode for writer in writers] == [0, 0]
    assert len(seen) > 1 and left(target.parent) == ["report.html"]


def test_what_somebody_else_wrote_is_left(target):
    with pytest.raises(AntgrowthError, match="which antgrowth did not write, so it is left as it"):
        write_whole(target, NEW, own=lambda raw: raw.startswith(b"new"))
    write_whole(target, NEW, own=lambda raw: raw.startswith(b"old"))
    assert target.read_bytes() == NEW


def test_folders_and_devices_are_no_files(tmp_path):
    for path in (tmp_path, Path("/dev/null")):
        with pytest.raises(AntgrowthError, match="this is a folder or a device"):
            write_whole(path, "x")


def test_new_files_are_all_written_or_none(tmp_path):
    (tmp_path / "second").write_text("mine", encoding="utf-8")
    with pytest.raises(AntgrowthError, match="second: cannot be written"):
        write_new({tmp_path / "first": "1", tmp_path / "second": "2"})
    assert left(tmp_path) == ["second"]
    assert (tmp_path / "second").read_text(encoding="utf-8") == "mine"
