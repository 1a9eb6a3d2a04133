"""Nothing private enters a site: every byte of whole sites is scanned, zips, gz files and packed texts unpacked."""

from __future__ import annotations

import getpass
import hashlib
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from hostile import FEW
from places_of_trust import PLAIN
from private import FORMS, MAKERS, SECTIONS
from scanning import list_files, list_layers

from generator.archive.recovering import recover_build
from generator.archive.store import Archive
from generator.build import Settings, build
from generator.cli import main
from generator.errors import FileProblems

ROOT = Path(__file__).parents[2]
ZONE = "Pacific/Chatham"
ZONE_TRACES = (b"Chatham", b"+12:45", b"+13:45", b"+1245", b"+1345")
NAMES = ("privateuser9", "privatehome9", "privatefolder9")
SOUNDS = {"wav", "flac", "ogg", "mp3", "opus", "m4a"}
PICTURES = {"jpg", "jpeg", "png", "webp", "avif"}


def write_comparison(root: Path, end: str = "") -> Path:
    """A comparison whose photos and sound hold the marker everywhere."""
    folder = root / "plain"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "comparison.yaml").write_text(PLAIN + SECTIONS + end, encoding="utf-8")
    (folder / "runs.csv").write_text("held [m/s²],lost [m/s²]\n42,43\n43,44\n", encoding="utf-8")
    for name, make in MAKERS.items():
        (folder / name).write_bytes(make())
    return folder


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site built by the command, by a user, in a home, a folder and a time zone that would be known again."""
    place = tmp_path_factory.mktemp("privatefolder9")
    write_comparison(place / "comparisons", "publish: {audio: true}\n")
    home = place / "privatehome9"
    home.mkdir()
    surroundings = {**os.environ, "HOME": str(home), "USER": "privateuser9", "LOGNAME": "privateuser9", "TZ": ZONE}
    surroundings.pop("SOURCE_DATE_EPOCH", None)
    command = [sys.executable, "-m", "generator", "build", "--workers", "1", "--compress", "--limit", "draws=200"]
    for option in ("comparisons", "site", "cache"):
        command += [f"--{option}", str(place / option)]
    surroundings["PYTHONPATH"] = str(ROOT)
    done = subprocess.run(command, cwd=home, env=surroundings, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return place


def layers_of(site: Path) -> list[tuple[str, bytes]]:
    """Every file and all that is packed in it."""
    return [layer for address in list_files(site) for layer in list_layers(address, (site / address).read_bytes())]


def test_markers_were_there_and_are_gone(place: Path) -> None:
    before = [name for name, make in MAKERS.items() if any(form in make() for form in FORMS)]
    after = [name for name, content in layers_of(place / "site") if any(form in content for form in FORMS)]

    assert before == list(MAKERS)
    assert after == []
    assert any(name.endswith("sources.zip!plain/plate.jpg") for name, _ in layers_of(place / "site"))


def test_no_trace_of_machine_user_or_time_zone(place: Path) -> None:
    traces = [str(place).encode(), str(ROOT).encode() + b"/", sys.prefix.encode(), *ZONE_TRACES]
    traces += [name.encode() for name in NAMES]
    traces += [word.encode() for word in (socket.gethostname(), getpass.getuser()) if len(word) > 4]

    found = [(name, trace) for name, content in layers_of(place / "site") for trace in traces if trace in content]

    assert found == []


def test_packed_files_bear_no_time_or_owner(place: Path) -> None:
    packed = [a for a in list_files(place / "site") if a.endswith(".gz")]

    assert packed
    for address in packed:
        head = (place / "site" / address).read_bytes()[:10]
        assert head[3] & 0x18 == 0, f"{address} bears a name or a comment"
        assert head[4:8] == bytes(4), f"{address} bears a time"


def test_what_is_recovered_is_clean(place: Path, tmp_path: Path) -> None:
    recover_build(place / "site", "0001", tmp_path / "back")
    back = {path.name: path.read_bytes() for path in (tmp_path / "back").rglob("*") if path.is_file()}

    assert set(MAKERS) <= set(back)
    assert [name for name, content in back.items() if any(form in content for form in FORMS)] == []


def test_what_cannot_be_cleaned_is_refused(tmp_path: Path) -> None:
    from PIL import Image

    folder = write_comparison(tmp_path / "comparisons")
    Image.new("L", (600, 160)).save(folder / "plate.tiff")
    text = (folder / "comparison.yaml").read_text(encoding="utf-8").replace("plate.webp", "plate.tiff")
    (folder / "comparison.yaml").write_text(text, encoding="utf-8")

    with pytest.raises(FileProblems) as caught:
        build(Settings(folder.parent, tmp_path / "site", "2026-10-01", cache=tmp_path / "c", limits=FEW))

    assert [problem.code for problem in caught.value.problems] == ["not-cleanable"]


def suffixes(site: Path) -> set[str]:
    """Kinds of all files, those in zips too."""
    return {name.rpartition(".")[2] for name, _ in layers_of(site)}


def built(tmp_path: Path, publish: str) -> Path:
    """A site of the comparison with these switches."""
    folder = write_comparison(tmp_path / "comparisons", f"publish: {publish}\n")
    settings = Settings(
        folder.parent, tmp_path / "site", "2026-10-01", cache=tmp_path / "c", vault=tmp_path / "vault", limits=FEW
    )
    build(settings)
    return tmp_path / "site"


def test_without_photos_no_picture_enters_the_site(tmp_path: Path) -> None:
    site = built(tmp_path, "{photos: false, audio: true}")

    assert not suffixes(site) & PICTURES
    assert "wav" in suffixes(site) and "csv" in suffixes(site)


def test_without_audio_no_sound_enters_the_site(tmp_path: Path) -> None:
    site = built(tmp_path, "{audio: false}")

    assert not suffixes(site) & SOUNDS
    assert {"jpg", "webp"} <= suffixes(site)


def test_without_sources_no_input_enters_the_site(tmp_path: Path) -> None:
    site = built(tmp_path, "{sources: false}")
    inputs = {hashlib.sha256((tmp_path / "comparisons/plain" / name).read_bytes()).hexdigest(): name
              for name in ("comparison.yaml", "runs.csv")}  # fmt: skip
    found = [
        inputs[digest] for _, content in layers_of(site) if (digest := hashlib.sha256(content).hexdigest()) in inputs
    ]

    assert found == []
    assert not [a for a in list_files(site) if a.endswith(".zip") or a.startswith("archive/sources/plain")]
    assert {p.read_bytes() for p in (tmp_path / "vault").rglob("*") if p.is_file()} >= {
        (tmp_path / "comparisons/plain/runs.csv").read_bytes()
    }


def test_a_withdrawn_file_is_gone_from_every_layer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write_comparison(tmp_path / "comparisons")
    site = tmp_path / "site"
    settings = Settings(folder.parent, site, "2026-10-01", cache=tmp_path / "c", compress=True, limits=FEW)
    build(settings)
    jpeg = next(content for name, content in layers_of(site) if name.endswith("!plain/plate.jpg"))
    digest = hashlib.sha256(jpeg).hexdigest()

    code = main(["builds", "--site", str(site), "withdraw", digest, "--reason", "shows a face",
                 "--comparisons", str(folder.parent)])  # fmt: skip
    after = layers_of(site)
    build(settings)
    again = layers_of(site)

    assert code == 0, capsys.readouterr()
    for layers in (after, again):
        assert [name for name, content in layers if hashlib.sha256(content).hexdigest() == digest] == []
        assert [name for name, content in layers if jpeg[200:1200] in content] == []
    assert main(["builds", "--site", str(site), "audit"]) == 0
    recover_build(site, "0001", tmp_path / "back")
    assert jpeg not in {path.read_bytes() for path in (tmp_path / "back").rglob("*") if path.is_file()}


@pytest.mark.parametrize("named", ["the source", "one of its sizes"])
def test_a_photo_goes_in_all_its_sizes_whichever_is_named(tmp_path: Path, named: str) -> None:
    site = built(tmp_path, "{audio: true}")
    archive = Archive(site)
    newest = archive.read_newest()
    assert newest is not None
    entry = archive.read_entry(newest.entries["plain"].entry)
    source = next(item.digest for item in entry.inputs if item.path == "plate.jpg")
    sizes = {path: (site / path).read_bytes() for path in entry.shown["plate.jpg"]}
    others = {
        path: (site / path).read_bytes() for file, own in entry.shown.items() if file != "plate.jpg" for path in own
    }
    assert {path.rpartition(".")[2] for path in sizes} == {"jpeg", "webp"} and others.keys() - sizes.keys()
    assert set(entry.shown) > {"plate.jpg"}, "other photos, and the excerpt of a recording"
    digest = source if named == "the source" else hashlib.sha256(next(iter(sizes.values()))).hexdigest()

    task = ["builds", "--site", str(site), "withdraw", digest, "--reason", "shows a face"]
    assert main([*task, "--comparisons", str(tmp_path / "comparisons")]) == 0

    gone = {source, *(hashlib.sha256(content).hexdigest() for content in sizes.values())}
    assert {hashlib.sha256(content).hexdigest() for _, content in layers_of(site)} & gone == set()
    assert all((site / path).read_bytes() == content for path, content in others.items() if path not in sizes)
    assert main(["builds", "--site", str(site), "audit"]) == 0
