"""The pipeline from top to bottom: comparisons in, site out. The only file that knows all stages."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from generator import __version__
from generator.archive.entries import Contents, InputFile
from generator.archive.manifests import Entry
from generator.archive.publisher import Publisher, PublishResult, open_site
from generator.errors import FileProblems, Problem, UsageError
from generator.inputs import Inputs
from generator.pages.templates import template_dirs
from generator.readers.comparison import find_comparisons
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.report import find_errors
from generator.readers.site import read_site
from generator.records.comparison import Site
from generator.shared import SharedPages
from generator.versions import find_code_digest, find_made_with, find_templates_digest
from generator.workers import run_tasks

if TYPE_CHECKING:
    from generator.making import Made

Say = Callable[[str], None]


@dataclass(frozen=True)
class Settings:
    """What a build is asked for; date is how pages and manifests print today."""

    comparisons: Path
    site: Path
    date: str
    templates: Path | None = None
    cache: Path | None = None
    workers: int = 1
    cluster: str | None = None
    only: str | None = None
    address: str | None = None
    recheck: bool = False
    vault: Path | None = None
    compress: bool = False
    limits: Limits = DEFAULT_LIMITS


@dataclass(frozen=True)
class Report:
    """What a build did: the archive's account, warnings, and how many comparisons were made and carried over."""

    published: PublishResult
    warnings: tuple[Problem, ...]
    made: int
    carried: int


def build(settings: Settings, say: Say = lambda text: None) -> Report:
    """Build the site and add to its archive what changed.

    Raises
    ------
    FileProblems
        All problems of all files, before any model runs; or a file was changed before the build was done with it. The
        last good site is untouched.
    SiteProblem, UsageError
        The site cannot be written, or what was asked for makes no sense.
    """
    inputs = Inputs(settings.comparisons, find_cache(settings), settings.limits, settings.recheck)
    site, slugs = read_folder(settings, inputs)
    folders = template_dirs(settings.templates)
    made_with = find_made_with()
    look = find_templates_digest(folders)
    shared = SharedPages(site, folders, look, settings.limits.template_steps)
    with open_site(
        settings.site, settings.date, vault=settings.vault, makers=shared.makers(), compress=settings.compress
    ) as publisher:
        plan = _plan(settings, site, slugs, publisher, inputs, look)
        for slug in plan.carry:
            publisher.carry(slug)
        summaries = dict(plan.carry)
        for count, one in enumerate(_make(settings, site, plan, inputs, folders, look, say), 1):
            shared.learn([one.summary])  # its title heads the list of its versions
            _add(publisher, one, plan, inputs)
            summaries[one.slug] = one.summary
            say(f"{count} of {len(plan.make)}: {one.slug}")
        shared.add(publisher, [summaries[slug] for slug in slugs], inputs.read_site_file())
        published = publisher.publish(made_with)
        inputs.save()
    return Report(published, tuple(plan.warnings), len(plan.make), len(plan.carry))


def read_folder(settings: Settings, inputs: Inputs) -> tuple[Site, tuple[str, ...]]:
    """The site's facts and the slugs of its comparisons, in order."""
    if not settings.comparisons.is_dir():
        raise UsageError(f"there is no folder {settings.comparisons}", "name one with --comparisons, or run begin")
    site, problems = read_site(inputs.folder, settings.limits)
    if errors := find_errors(problems):
        raise FileProblems(errors)
    slugs = find_comparisons(settings.comparisons)
    if settings.only is not None and settings.only not in slugs:
        raise UsageError(f"there is no comparison {settings.only}", f"there are: {', '.join(slugs) or 'none'}")
    return replace(site, address=settings.address or site.address), slugs


def find_cache(settings: Settings) -> Path:
    """Where kept results lie: as asked for, else the user's cache folder."""
    if settings.cache is not None:
        return settings.cache
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "stallmark"


# --- what to make ---------------------------------------------------------------------------------------------------


@dataclass
class _Plan:
    """Slugs to make with the key of their output, slugs to carry over with their summary, warnings on the way."""

    make: dict[str, str] = field(default_factory=dict)
    carry: dict[str, Any] = field(default_factory=dict)
    warnings: list[Problem] = field(default_factory=list)


def _plan(
    settings: Settings, site: Site, slugs: tuple[str, ...], publisher: Publisher, inputs: Inputs, templates: str
) -> _Plan:
    """Carry over what the newest build made of the same inputs; check everything else before any model runs."""
    plan, errors = _Plan(), []
    around = [find_code_digest(), templates, site, settings.limits.draws]
    known = publisher.list_names()
    if settings.only is not None and not known:
        raise UsageError("--only carries the other comparisons over from the newest build, and there is none yet",
                         "build everything once")  # fmt: skip
    for slug in slugs:
        entry = publisher.entry(slug)
        if entry is not None and _may_carry(settings, slug, entry, inputs, around):
            plan.carry[slug] = entry.summary
            continue
        _, problems = inputs.check(slug)
        errors += find_errors(problems)
        plan.warnings += problems
        if not errors:
            plan.make[slug] = inputs.find_key(slug, around)
    if errors:
        raise FileProblems(errors)
    return plan


def _may_carry(settings: Settings, slug: str, entry: Entry, inputs: Inputs, around: list[Any]) -> bool:
    if settings.only is not None and settings.only != slug:
        return True
    return entry.key == inputs.find_known_key(slug, entry, around)


def _make(
    settings: Settings, site: Site, plan: _Plan, inputs: Inputs, folders: tuple[Path, ...], look: str, say: Say
) -> Iterator[Made]:
    """Make what is to be made, wherever it is to run; each comparison's files are read as its turn comes."""
    if not plan.make:
        return
    from generator.making import Task, make_comparison  # models and drawing, which carrying over does not need

    tasks = (
        Task(
            slug=slug,
            files=inputs.read(slug),
            site=site,
            templates=tuple(str(folder) for folder in folders),
            look=look,
            made_with=f"Stallmark {__version__}",
            cache=str(find_cache(settings)),
            limits=settings.limits,
        )
        for slug in plan.make
    )
    yield from run_tasks(make_comparison, tasks, min(settings.workers, len(plan.make)), settings.cluster, say)


def _add(publisher: Publisher, made: Made, plan: _Plan, inputs: Inputs) -> None:
    files = [InputFile(path, content, published) for path, content, published in inputs.list_files(made.slug)]
    contents = Contents(inputs=files, pages=made.pages, assets=made.assets, files=made.files, shown=made.shown)
    publisher.add(made.slug, plan.make[made.slug], made.summary, contents)
