"""Nothing is opened outside the comparison's folder, and nothing that could wait or lead elsewhere."""

from __future__ import annotations

import os
import socket
from contextlib import suppress
from pathlib import Path

import pytest

from generator.readers.folder import DiskFolder, FolderError, MemoryFolder, SteadyFolder, split_path


@pytest.fixture
def folder(tmp_path: Path) -> DiskFolder:
    root = tmp_path / "plates"
    (root / "runs").mkdir(parents=True)
    (root / "runs.csv").write_bytes(b"held\n")
    (root / "runs" / "first.csv").write_bytes(b"lost\n")
    (tmp_path / "secret.txt").write_bytes(b"secret")
    (root / "link.csv").symlink_to(root / "runs.csv")
    (root / "out.csv").symlink_to(tmp_path / "secret.txt")
    (root / "linked").symlink_to(tmp_path)
    (root / "gone.csv").symlink_to(root / "nowhere")
    os.mkfifo(root / "pipe.csv")
    return DiskFolder(root, "plates")


def refusal(folder: DiskFolder | MemoryFolder, path: str, limit: int = 100) -> FolderError:
    with pytest.raises(FolderError) as raised:
        folder.read(path, limit)
    assert raised.value.message and raised.value.fix
    return raised.value


def test_files_and_files_below_are_read(folder: DiskFolder) -> None:
    assert folder.read("runs.csv", 100) == b"held\n"
    assert folder.read("runs/first.csv", 100) == b"lost\n"
    assert folder.check("runs.csv", 5) == 5


@pytest.mark.parametrize(
    ("path", "code"),
    [
        ("link.csv", "path-link"),
        ("out.csv", "path-link"),
        ("gone.csv", "path-link"),
        ("linked/secret.txt", "path-link"),
        ("linked", "path-link"),
        ("pipe.csv", "path-kind"),
        ("runs", "path-kind"),
        ("runs.csv/first.csv", "file-missing"),
        ("none.csv", "file-missing"),
        ("RUNS.csv", "file-missing"),
        ("../secret.txt", "path-leaves"),
        ("runs/../../secret.txt", "path-leaves"),
        ("/etc/hostname", "path-leaves"),
        ("~/x", "path-leaves"),
        ("C:/x", "path-leaves"),
        ("", "path-name"),
        ("./runs.csv", "path-name"),
        ("runs//first.csv", "path-name"),
        ("runs/", "path-name"),
        (".hidden", "path-name"),
        ("runs\\first.csv", "path-name"),
        ("a\x00b", "path-name"),
        ("a\nb", "path-name"),
        ("con.csv", "path-name"),
        ("NUL", "path-name"),
        ("end.", "path-name"),
        ("end ", "path-name"),
        ("<b>.csv", "path-name"),
        ("x" * 300, "path-name"),
        ("a\u202eb.csv", "path-name"),
    ],
)
def test_paths_that_lead_elsewhere_are_refused(folder: DiskFolder, path: str, code: str) -> None:
    assert refusal(folder, path).code == code


def test_devices_and_sockets_are_refused(tmp_path: Path) -> None:
    assert refusal(DiskFolder("/dev"), "null").code == "path-kind"
    assert refusal(DiskFolder("/dev"), "zero").code == "path-kind"
    place = tmp_path / "socket.csv"
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(place))

        assert refusal(DiskFolder(tmp_path), "socket.csv").code == "path-kind"


def test_a_folder_that_is_itself_a_link_is_refused(tmp_path: Path, folder: DiskFolder) -> None:
    link = tmp_path / "other"
    link.symlink_to(folder.path)

    assert refusal(DiskFolder(link), "runs.csv").code == "path-link"
    assert refusal(DiskFolder(f"{link}/"), "runs.csv").code == "path-link"


def test_a_file_exchanged_for_a_link_after_the_check_is_still_refused(
    folder: DiskFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def exchange(path: str, flags: int, *args: object, **kwargs: object) -> int:
        if path == "runs.csv":
            os.unlink(f"{folder.path}/runs.csv")
            os.symlink("../secret.txt", f"{folder.path}/runs.csv")
        return real(path, flags, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr("generator.readers.folder.os.open", exchange)

    assert refusal(folder, "runs.csv").code == "file-unreadable"


def test_a_file_exchanged_for_a_pipe_after_the_check_is_still_refused(
    folder: DiskFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def exchange(path: str, flags: int, *args: object, **kwargs: object) -> int:
        if path == "runs.csv":
            os.unlink(f"{folder.path}/runs.csv")
            os.mkfifo(f"{folder.path}/runs.csv")
        return real(path, flags, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr("generator.readers.folder.os.open", exchange)

    assert refusal(folder, "runs.csv").code == "path-kind"


def test_too_large_a_file_is_not_read(folder: DiskFolder) -> None:
    error = refusal(folder, "runs.csv", 4)

    assert error.code == "file-large"
    assert "5 bytes" in error.message


def test_a_missing_file_names_the_nearest_one(folder: DiskFolder) -> None:
    assert 'there is "runs.csv"' in refusal(folder, "run.csv").fix


def test_no_file_stays_open(folder: DiskFolder) -> None:
    before = len(os.listdir("/proc/self/fd"))
    for path in ("runs.csv", "runs/first.csv", "link.csv", "pipe.csv", "none.csv", "runs", "linked/secret.txt"):
        for limit in (1, 100):
            with suppress(FolderError):
                folder.read(path, limit)

    assert len(os.listdir("/proc/self/fd")) == before


def test_memory_refuses_the_same_names_as_a_disk() -> None:
    memory = MemoryFolder({"runs.csv": b"held\n", "../x": b""})

    assert memory.read("runs.csv", 100) == b"held\n"
    assert refusal(memory, "../x").code == "path-leaves"
    assert refusal(memory, "run.csv").code == "file-missing"
    assert refusal(memory, "runs.csv", 1).code == "file-large"


def test_a_path_is_split_at_its_slashes() -> None:
    assert split_path("runs/first series/räder-1.csv") == ("runs", "first series", "räder-1.csv")


def test_a_steady_folder_reads_what_stays(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(b"held\n")
    folder = SteadyFolder(tmp_path)

    assert folder.read("a.csv", 100) == b"held\n"
    (tmp_path / "a.csv").write_bytes(b"held\n")
    assert folder.read("a.csv", 100) == b"held\n"
    assert refusal(folder, "b.csv").code == "file-missing"
    assert refusal(folder, "b.csv").code == "file-missing"
    with pytest.raises(FolderError):
        folder.read("a.csv", 2)


@pytest.mark.parametrize(("before", "after"), [(b"28\n", b"33\n"), (b"28\n", None), (None, b"28\n")])
def test_a_steady_folder_refuses_what_changed(tmp_path: Path, before: bytes | None, after: bytes | None) -> None:
    folder = SteadyFolder(tmp_path)

    def put(content: bytes | None) -> None:
        (tmp_path / "a.csv").unlink(missing_ok=True)
        if content is not None:
            (tmp_path / "a.csv").write_bytes(content)

    put(before)
    with suppress(FolderError):
        folder.read("a.csv", 100)
    put(after)

    error = refusal(folder, "a.csv")
    assert (error.code, error.fix) == ("file-changed", "the site is as it was; build again")
    put(before)
    with suppress(FolderError):
        assert folder.read("a.csv", 100) == before
