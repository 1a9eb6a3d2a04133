"""Kept results come back whole or not at all, within their limit, from many processes at once."""

from __future__ import annotations

import errno
import hashlib
import os
import random
import signal
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator import cache as cache_module
from generator.cache import Cache, FileIndex


def find_entries(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def find_size(folder: Path) -> int:
    return sum(path.stat().st_size for path in find_entries(folder))


@pytest.mark.parametrize("key", ["plain", "with/slash", "../../up", "", "ü" * 500, "\x00"])
def test_what_was_put_comes_back(tmp_path: Path, key: str) -> None:
    cache = Cache(tmp_path / "cache", 10**6)

    assert cache.get(key) is None
    cache.put(key, b"content")

    assert cache.get(key) == b"content"
    assert Cache(tmp_path / "cache", 10**6).get(key) == b"content"
    assert all(tmp_path / "cache" in path.parents for path in find_entries(tmp_path))


def test_empty_and_large_contents(tmp_path: Path) -> None:
    cache = Cache(tmp_path, 10**7)
    for content in (b"", bytes(10**6)):
        cache.put("key", content)
        assert cache.get("key") == content


@given(st.binary(min_size=1, max_size=60), st.data())
@settings(max_examples=80, deadline=None)
def test_any_damage_counts_as_absent_and_is_removed(
    tmp_path_factory: pytest.TempPathFactory, content: bytes, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("cache")
    cache = Cache(folder, 10**6)
    cache.put("key", content)
    (path,) = find_entries(folder)
    entry = bytearray(path.read_bytes())
    place = data.draw(st.integers(0, len(entry) - 1))
    if data.draw(st.booleans()):
        entry[place] ^= data.draw(st.integers(1, 255))
    else:
        del entry[place:]
    path.write_bytes(entry)

    assert cache.get("key") is None
    assert not path.exists()
    cache.put("key", content)
    assert cache.get("key") == content


def test_an_entry_moved_to_another_key_is_still_its_own_content_only(tmp_path: Path) -> None:
    """The digest covers the key too: a file under a wrong name is damage."""
    cache = Cache(tmp_path, 10**6)
    cache.put("one", b"content of one")
    (first,) = find_entries(tmp_path)
    cache.put("two", b"content of two")
    (second,) = set(find_entries(tmp_path)) - {first}
    os.replace(first, second)

    assert cache.get("two") is None


def test_the_limit_holds_and_the_least_recently_used_go_first(tmp_path: Path) -> None:
    cache = Cache(tmp_path, 100_000)
    for number in range(40):
        cache.put(f"old {number}", bytes(2000))
        os.utime(cache._find_path(f"old {number}"), (number, number))
    assert cache.get("old 3") is not None

    for number in range(30):
        cache.put(f"new {number}", bytes(2000))
    cache.trim()

    assert find_size(tmp_path) <= 100_000
    assert cache.get("old 3") is not None
    assert cache.get("old 4") is None
    assert cache.get("new 29") is not None


def test_what_exceeds_the_limit_alone_is_not_kept(tmp_path: Path) -> None:
    cache = Cache(tmp_path, 1000)
    cache.put("small", b"x")
    cache.put("large", bytes(2000))

    assert cache.get("large") is None
    assert cache.get("small") == b"x"


def test_deleting_it_loses_nothing_but_time(tmp_path: Path) -> None:
    import shutil

    cache = Cache(tmp_path / "cache", 10**6)
    cache.put("key", b"x")
    shutil.rmtree(tmp_path / "cache")

    assert cache.get("key") is None
    cache.put("key", b"x")
    assert cache.get("key") == b"x"


def test_a_disk_that_refuses_is_let_be(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = Cache(tmp_path, 10**6)

    def refuse(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(cache_module.os, "replace", refuse)
    cache.put("key", b"x")
    FileIndex(tmp_path / "index.json").save()

    assert cache.get("key") is None
    assert find_entries(tmp_path) == []


def _hammer(folder: Path, seed: int) -> None:
    """Put and get at random; every content must fit its key."""
    cache, chance = Cache(folder, 200_000), random.Random(seed)
    for _ in range(300):
        key = str(chance.randrange(60))
        content = hashlib.shake_256(key.encode()).digest(5000)
        if chance.random() < 0.5:
            cache.put(key, content)
        else:
            assert cache.get(key) in (None, content)


def test_many_processes_at_once_even_killed_ones(tmp_path: Path) -> None:
    children = []
    for seed in range(6):
        child = os.fork()
        if child == 0:
            try:
                _hammer(tmp_path, seed)
                os._exit(0)
            except BaseException:
                os._exit(1)
        children.append(child)
    time.sleep(0.05)
    os.kill(children[0], signal.SIGKILL)
    codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]

    assert codes[0] in (0, -signal.SIGKILL)
    assert codes[1:] == [0] * 5
    _hammer(tmp_path, 99)
    Cache(tmp_path, 200_000).trim()
    assert find_size(tmp_path) <= 200_000


def save_late(index: FileIndex) -> None:
    """Save an index as if some time had gone by since the files were written."""
    index.save()
    later = time.time_ns() + 10 * 10**9
    os.utime(index.path, ns=(later, later))


def count_reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    reads: list[str] = []
    real = hashlib.file_digest

    def read(file: object, kind: str) -> object:
        reads.append(getattr(file, "name", ""))
        return real(file, kind)  # type: ignore[arg-type]

    monkeypatch.setattr(cache_module.hashlib, "file_digest", read)
    return reads


def test_unchanged_files_are_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.csv"
    file.write_text("held\n1\n")
    reads = count_reads(monkeypatch)
    first = FileIndex(tmp_path / "index.json")
    digest = first.find_digest(file)
    save_late(first)

    again = FileIndex(tmp_path / "index.json").find_digest(file)

    assert digest == again == hashlib.sha256(b"held\n1\n").hexdigest()
    assert len(reads) == 1
    assert FileIndex(tmp_path / "index.json", recheck=True).find_digest(file) == digest
    assert len(reads) == 2


@pytest.mark.parametrize("keeps_time", [False, True])
def test_changed_files_are_read_again(tmp_path: Path, keeps_time: bool) -> None:
    """Even where size and modification time are made the same: the change time is the kernel's."""
    file = tmp_path / "a.csv"
    file.write_text("held\n1\n")
    before = file.stat()
    index = FileIndex(tmp_path / "index.json")
    index.find_digest(file)
    save_late(index)

    file.write_text("held\n2\n")
    if keeps_time:
        os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))

    assert FileIndex(index.path).find_digest(file) == hashlib.sha256(b"held\n2\n").hexdigest()


def test_a_file_replaced_by_another_is_read_again(tmp_path: Path) -> None:
    file, other = tmp_path / "a.csv", tmp_path / "b.csv"
    file.write_text("one")
    index = FileIndex(tmp_path / "index.json")
    index.find_digest(file)
    save_late(index)
    other.write_text("two")
    os.utime(other, ns=(file.stat().st_atime_ns, file.stat().st_mtime_ns))
    os.replace(other, file)

    assert FileIndex(index.path).find_digest(file) == hashlib.sha256(b"two").hexdigest()


def test_a_file_changed_just_before_saving_is_doubted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "a.csv"
    file.write_text("held\n1\n")
    index = FileIndex(tmp_path / "index.json")
    index.find_digest(file)
    index.save()
    reads = count_reads(monkeypatch)

    FileIndex(index.path).find_digest(file)

    assert len(reads) == 1


@pytest.mark.parametrize("text", ["", "{", "[]", '{"a": 3}', '{"a": ["x", "y", "z", 1, 2]}', "null", "\x00"])
def test_a_damaged_index_knows_nothing(tmp_path: Path, text: str) -> None:
    path, file = tmp_path / "index.json", tmp_path / "a.csv"
    path.write_text(text)
    file.write_text("x")

    assert FileIndex(path).find_digest(file) == hashlib.sha256(b"x").hexdigest()


def test_files_that_are_gone_leave_the_index_and_others_stay(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("a", "b", "c")]
    index = FileIndex(tmp_path / "index.json")
    for file in files:
        file.write_text(file.name)
        index.find_digest(file)
    save_late(index)
    files[0].unlink()

    later = FileIndex(index.path)
    later.find_digest(files[1])
    later.save()

    text = index.path.read_text()
    assert str(files[0]) not in text
    assert str(files[1]) in text and str(files[2]) in text


def test_a_file_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        FileIndex(tmp_path / "index.json").find_digest(tmp_path / "nothing")
