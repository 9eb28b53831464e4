"""What the disk is asked for, on a real one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from journal.output import OutputError
from journal.output.disk import Disk, explain_os_errors


def test_a_folder_that_is_there_will_do_and_a_file_will_not(tmp_path: Path) -> None:
    disk = Disk()
    for _ in range(2):
        disk.make_folder(str(tmp_path / "folder"))
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileExistsError):
        disk.make_folder(str(tmp_path / "file"))


def test_a_link_is_copied_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to("nowhere/at all")
    Disk().copy(str(tmp_path / "link"), str(tmp_path / "copy"))
    assert os.readlink(tmp_path / "copy") == "nowhere/at all"


def test_a_file_is_copied_whole_and_over_nothing(tmp_path: Path) -> None:
    data = os.urandom(3_000_000)
    (tmp_path / "one").write_bytes(data)
    Disk().copy(str(tmp_path / "one"), str(tmp_path / "two"))
    assert (tmp_path / "two").read_bytes() == data
    with pytest.raises(FileExistsError):
        Disk().copy(str(tmp_path / "one"), str(tmp_path / "two"))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes here")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="Neither a file nor a folder"):
        Disk().copy(str(tmp_path / "pipe"), str(tmp_path / "copy"))
    assert not (tmp_path / "copy").exists()


def test_a_failure_without_a_number_is_said_in_its_own_words() -> None:
    with pytest.raises(OutputError, match="the drawer is stuck"), explain_os_errors("notebook"):
        raise OSError("the drawer is stuck")
