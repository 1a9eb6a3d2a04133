"""The vault keeps what is not published: whole, for several sites, and no longer than it is wanted."""

from __future__ import annotations

import errno
import hashlib
import os
from pathlib import Path
from typing import Any

import pytest
from crashes import record, run_apart, watch_disk
from made_up import DATE, LATER, build, look

from generator.archive import disk
from generator.archive.auditing import audit_site
from generator.archive.sources import find_vault_file, keep_in_vault
from generator.archive.withdrawing import withdraw_content
from generator.errors import SiteProblem, UsageError

SECRET = b"secret sound of plotter one"
DIGEST = hashlib.sha256(SECRET).hexdigest()


@pytest.fixture
def site(tmp_path: Path) -> Path:
    build(tmp_path / "site", {"plotter": "one"}, vault=tmp_path / "vault")
    return tmp_path / "site"


def refuse(operation: str, start: str) -> Any:
    """A watch that refuses an operation on paths that start so."""

    def watch(name: str, args: tuple[Any, ...]) -> None:
        if name == operation and str(args[0]).startswith(start):
            raise OSError(errno.EACCES, os.strerror(errno.EACCES), str(args[0]))

    return watch


def test_a_withdrawal_that_fails_leaves_the_vault_as_it_was(site: Path, tmp_path: Path) -> None:
    vault = tmp_path / "vault"
    before = look(site), look(vault)

    with watch_disk(refuse("swap", str(tmp_path))), pytest.raises(SiteProblem, match="Permission denied"):
        withdraw_content(site, DIGEST, "a voice", LATER, vault=vault)

    assert (look(site), look(vault)) == before
    withdrawal = withdraw_content(site, DIGEST, "a voice", LATER, vault=vault)
    assert withdrawal.places == (str(find_vault_file(vault, DIGEST)),)
    assert look(vault) == {}


def test_a_vault_that_refuses_is_said_and_cleared_by_the_next_try(site: Path, tmp_path: Path) -> None:
    vault = tmp_path / "vault"
    with (
        watch_disk(refuse("unlink", str(vault))),
        pytest.raises(SiteProblem, match="the site holds it no more, the vault still does"),
    ):
        withdraw_content(site, DIGEST, "a voice", LATER, vault=vault)
    assert [stone.digest for stone in audit_site(site).withdrawn] == [DIGEST]
    before = look(site)

    again = withdraw_content(site, DIGEST, "a voice", LATER, vault=vault)

    assert again.places == (str(find_vault_file(vault, DIGEST)),)
    assert again.build.startswith("0002-")
    assert look(vault) == {}
    assert look(site) == before
    with pytest.raises(SiteProblem, match=f"withdrawn before, on {LATER}"):
        withdraw_content(site, DIGEST, "a voice", LATER, vault=vault)


@pytest.mark.parametrize(
    "damage", [b"", SECRET[:9], SECRET[::-1], SECRET + b"!"], ids=["empty", "cut", "other", "long"]
)
def test_a_damaged_file_in_the_vault_is_put_right(tmp_path: Path, damage: bytes) -> None:
    vault = tmp_path / "vault"
    keep_in_vault(vault, SECRET)
    find_vault_file(vault, DIGEST).write_bytes(damage)

    build(tmp_path / "site", {"plotter": "one"}, vault=vault)

    assert find_vault_file(vault, DIGEST).read_bytes() == SECRET


def test_what_is_whole_is_not_written_again(tmp_path: Path) -> None:
    keep_in_vault(tmp_path, SECRET)
    assert record(lambda: keep_in_vault(tmp_path, SECRET)) == []


def test_a_link_in_the_vault_is_replaced_and_not_written_through(tmp_path: Path) -> None:
    outside, target = tmp_path / "outside", find_vault_file(tmp_path / "vault", DIGEST)
    outside.write_bytes(b"mine")
    target.parent.mkdir(parents=True)
    target.symlink_to(outside)

    keep_in_vault(tmp_path / "vault", SECRET)

    assert outside.read_bytes() == b"mine"
    assert target.read_bytes() == SECRET and not target.is_symlink()


def test_a_content_is_on_the_disk_before_it_has_its_name_and_the_name_after(tmp_path: Path) -> None:
    names = [step[0] for step in record(lambda: keep_in_vault(tmp_path / "vault", SECRET))]

    written, renamed = names.index("write"), names.index("rename")
    assert "sync names" in names[written:renamed]
    assert names[renamed + 1 :] == ["sync names", "sync names"]


def test_two_sites_that_share_a_vault_do_not_write_the_same_half(tmp_path: Path) -> None:
    """While one has half a file written, another writes it whole."""
    vault = tmp_path / "vault"
    turns: list[str] = []

    def watch(name: str, _: tuple[Any, ...]) -> None:
        if name == "rename" and not turns:
            turns.append(name)
            assert run_apart(lambda: keep_in_vault(vault, SECRET)) == 0

    with watch_disk(watch):
        keep_in_vault(vault, SECRET)

    assert look(vault) == {f"{DIGEST[:2]}/{DIGEST}": DIGEST}
    assert turns


def test_a_refusal_leaves_no_half_and_what_a_kill_leaves_is_withdrawn_too(site: Path, tmp_path: Path) -> None:
    vault = tmp_path / "vault"
    with watch_disk(refuse("rename", str(vault))), pytest.raises(PermissionError):
        keep_in_vault(vault, b"other")
    assert look(vault).keys() == {f"{DIGEST[:2]}/{DIGEST}"}
    half = find_vault_file(vault, DIGEST).with_suffix(".0.part")
    half.write_bytes(SECRET[:9])

    assert str(half) in withdraw_content(site, DIGEST, "a voice", LATER, vault=vault).places
    assert look(vault) == {}


@pytest.mark.parametrize("place", ["site", "site/vault", "site/archive/../vault", "link"])
def test_a_vault_in_the_site_would_be_published_and_is_refused(site: Path, tmp_path: Path, place: str) -> None:
    (tmp_path / "link").symlink_to(site / "hidden")
    before = look(site)

    with pytest.raises(UsageError, match="lies in the site"):
        build(site, {"plotter": "two"}, DATE, vault=tmp_path / place)

    assert look(site) == before
    assert not disk.is_folder(site / "vault")
