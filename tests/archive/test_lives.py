"""Random lives of a site: edits, builds, crashes, slimming, withdrawing and damage, with what must always hold."""

from __future__ import annotations

import hashlib
import io
import shutil
import signal
import tempfile
import zipfile
from pathlib import Path

from crashes import run_killed
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from made_up import build, list_beside, look, make_asset, make_makers

from generator.archive import names
from generator.archive.auditing import audit_site
from generator.archive.recovering import adopt_site
from generator.archive.slimming import slim_site
from generator.archive.store import Archive
from generator.archive.withdrawing import withdraw_content
from generator.archive.workfolder import open_archive

SLUGS = st.sampled_from(["plotter", "feeder", "loom"])
WORDS = st.sampled_from(["one", "two", "three", "four"])


class SiteLife(RuleBasedStateMachine):
    """A site beside a plain model of it: words by slug, what was withdrawn, digests that must not move."""

    def __init__(self) -> None:
        super().__init__()
        memory = Path("/dev/shm")
        self.folder = Path(tempfile.mkdtemp(dir=memory if memory.is_dir() else None))
        self.site = self.folder / "site"
        self.day = 0
        self.withdrawn: list[bytes] = []
        self.manifests: dict[str, str] = {}
        self.first_dates: dict[str, str] = {}
        self.known: set[str] = set()

    @initialize(words=WORDS)
    def begin(self, words: str) -> None:
        self.state = {"plotter": words}
        self.published = dict(self.state)
        build(self.site, self.state, self.find_date())

    def find_date(self) -> str:
        self.day += 1
        return f"2026-01-{self.day:02d}"

    @rule(slug=SLUGS, words=WORDS)
    def edit(self, slug: str, words: str) -> None:
        self.state[slug] = words

    @rule(slug=SLUGS)
    def remove(self, slug: str) -> None:
        self.state.pop(slug, None)
        if not self.state:
            self.state = {slug: "one"}

    @rule()
    def build(self) -> None:
        before, unchanged = look(self.site), self.state == self.published
        result = build(self.site, self.state, self.find_date())
        assert (result.build is None) == unchanged
        if unchanged:
            assert look(self.site) == before
        self.published = dict(self.state)

    @rule(at=st.integers(0, 250), exchange=st.booleans())
    def crash(self, at: int, exchange: bool) -> None:
        count, date = len(Archive(self.site).list_ids()), self.find_date()
        code = run_killed(lambda: build(self.site, self.state, date), at, exchange)
        assert code in (0, -signal.SIGKILL)
        if len(open_archive(self.site).list_ids()) > count:
            self.published = dict(self.state)

    @rule(last=st.integers(1, 3))
    def slim(self, last: int) -> None:
        slim_site(self.site, last, self.find_date(), make_makers())

    @rule(slug=SLUGS, words=WORDS, what=st.sampled_from(["chart", "source"]))
    def withdraw(self, slug: str, words: str, what: str) -> None:
        content = f"<svg>{slug} {words}</svg>" if what == "chart" else f"held [m/s²]\n{words}\n"
        digest = hashlib.sha256(content.encode()).hexdigest()
        place = names.find_source_file("x.csv", digest) if what == "source" else make_asset(content.encode()).address
        if (self.site / place).is_file() and content.encode() not in self.withdrawn:
            withdraw_content(self.site, digest, "a name", self.find_date(), make_makers())
            self.withdrawn.append(content.encode())

    @rule(slug=SLUGS)
    def damage_and_mend(self, slug: str) -> None:
        page = self.site / "comparisons" / slug / "index.html"
        if page.exists() and self.state == self.published:
            before = look(self.site)
            page.unlink()
            assert [finding.kind for finding in audit_site(self.site).findings] == ["missing"]
            build(self.site, self.state, self.find_date())
            assert look(self.site) == before

    @rule()
    def move_house(self) -> None:
        """Go on from a copy in a new place."""
        before = look(self.site)
        shutil.copytree(self.site, self.folder / "copy")
        shutil.rmtree(self.site)
        adopt_site(self.site, self.folder / "copy")
        shutil.rmtree(self.folder / "copy")
        assert look(self.site) == before

    @invariant()
    def audits_clean(self) -> None:
        if self.site.exists():
            report = audit_site(self.site)
            assert report.findings == ()
            assert report.kept == ()
            assert list_beside(self.site) == []

    @invariant()
    def shows_what_was_published(self) -> None:
        if self.site.exists():
            home = (self.site / "index.html").read_text()
            assert f"<p>{' '.join(sorted(self.published))} ./</p>" == home
            for slug, words in self.published.items():
                assert words in (self.site / "comparisons" / slug / "index.html").read_text()

    @invariant()
    def answers_at_every_address_that_a_cited_page_links_to(self) -> None:
        if self.site.exists():
            self.known |= set(self.published)
            for slug in self.known:
                for name in ("index.html", "versions.html", "sources.zip"):
                    assert (self.site / "comparisons" / slug / name).is_file()

    @invariant()
    def never_rewrites_a_manifest_or_a_first_date(self) -> None:
        if self.site.exists():
            records = [path for kind in ("builds", "entries") for path in self.site.glob(f"archive/{kind}/*.json")]
            now = {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in records}
            assert self.manifests.items() <= now.items()
            self.manifests = now
            for slug in ("plotter", "feeder", "loom"):
                for version, date in Archive(self.site).read_history(f"comparisons/{slug}"):
                    assert self.first_dates.setdefault(version, date) == date

    @invariant()
    def holds_nothing_withdrawn(self) -> None:
        for content in self.withdrawn:
            for path in self.site.rglob("*"):
                if path.suffix == ".zip":
                    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
                        assert content not in [archive.read(member) for member in archive.infolist()]
                elif path.is_file():
                    assert path.read_bytes() != content

    def teardown(self) -> None:
        shutil.rmtree(self.folder)


TestSiteLife = SiteLife.TestCase
TestSiteLife.settings = settings(
    max_examples=25, stateful_step_count=16, deadline=None, suppress_health_check=list(HealthCheck)
)
