"""The commands that list, audit and tend the archive: records of the archive layer as lines of text."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from generator.commands import plural, say_leftover, shared_pages, today

if TYPE_CHECKING:
    from generator.archive.comparing import BuildDifference, ComparisonDifference

MOST_FIGURES = 40
"""Figures listed per comparison; the page of the build lists them all."""
FIRST = ("answer", "verdict", "contrasts", "measurements", "predictions", "agreement")
"""Sections whose figures are listed before all others."""


def list_builds(arguments: argparse.Namespace) -> int:
    """One line a build, oldest first."""
    from generator.archive.workfolder import open_archive

    for build in open_archive(arguments.site).list_builds():
        changes = [(build.added, "added"), (build.changed, "changed"), (build.removed, "removed")]
        words = [f"{word} {_few(slugs)}" for slugs, word in changes if slugs]
        said = "; ".join(words) or build.note or "pages only"
        print(f"{build.id}  {build.date}  {build.kind:<8}  {plural(build.comparisons, 'comparison')}  {said}")
    return 0


def _few(slugs: Sequence[str], most: int = 5) -> str:
    more = f" and {len(slugs) - most} more" if len(slugs) > most else ""
    return ", ".join(slugs[:most]) + more


def audit(arguments: argparse.Namespace) -> int:
    """Every fault by name; exit code 1 where there is one."""
    from generator.archive.auditing import audit_site

    report = audit_site(arguments.site)
    for finding in report.findings:
        print(f"{finding.kind}: {finding.path} {finding.message}")
    for stone in report.withdrawn:
        print(f"withdrawn on {stone.date}: {stone.digest[:12]} ({stone.reason})")
    if report.kept:
        print(f"kept, not ours: {', '.join(report.kept)}")
    counts = f"{plural(report.builds, 'build')}, {plural(report.files, 'file')}, {report.size / 1e6:.1f} MB read"
    print(f"{counts}: {plural(len(report.findings), 'fault') if report.findings else 'everything as it was recorded'}")
    return 1 if report.findings else 0


def compare(arguments: argparse.Namespace) -> int:
    """What changed between two builds, figure by figure, and what caused it."""
    from generator.archive.comparing import compare_builds
    from generator.archive.workfolder import open_archive

    difference = compare_builds(open_archive(arguments.site), arguments.first, arguments.second)
    print_difference(difference, None if arguments.all else MOST_FIGURES)
    return 0


def print_difference(difference: BuildDifference, most: int | None = None) -> None:
    """A difference as text, with that many figures of each comparison or all."""
    before = difference.before.id if difference.before else "nothing"
    print(f"from {before} to {difference.after.id}")
    for name, old, new in difference.made_with:
        print(f"  {name}: {old} → {new}")
    for comparison in difference.comparisons:
        _print_comparison(comparison, most)
    if not difference.comparisons:
        print("  no comparison changed")


def _print_comparison(comparison: ComparisonDifference, most: int | None) -> None:
    causes = f" (cause: {', '.join(comparison.causes)})" if comparison.causes else ""
    print(f"{comparison.slug}: {comparison.state}{causes}")
    for file in comparison.inputs:
        print(f"  file {file.path}: {file.state}")
    figures = sorted(comparison.figures, key=lambda change: change.section not in FIRST)
    for change in figures[:most]:
        moved = f"{_value(change.before, change.unit)} → {_value(change.after, change.unit)}"
        print(f"  {change.section} {change.item} {change.figure}: {moved} ({change.cause})")
    if most is not None and len(figures) > most:
        print(f"  and {len(figures) - most} more figures, which --all lists too")
    if comparison.note:
        print(f"  {comparison.note}")


def _value(value: Any, unit: str) -> str:
    if value is None:
        return "nothing"
    return f"{value:.6g} {unit}".rstrip() if isinstance(value, float) else str(value)


def recover(arguments: argparse.Namespace) -> int:
    """The inputs of a build, written as folders to build from again."""
    from generator.archive.recovering import recover_build

    found = recover_build(arguments.site, arguments.build, arguments.to, arguments.vault)
    print(
        f"build {found.build.id} of {found.build.date}: {plural(len(found.written), 'file')} written to {arguments.to}"
    )
    for absent in found.absent:
        print(f"not there: {absent.path} ({absent.why})")
    return 0


def slim(arguments: argparse.Namespace) -> int:
    """Drop page copies and assets that the last builds do not use."""
    from generator.archive.slimming import slim_site

    done = slim_site(arguments.site, arguments.last, today().isoformat(), shared_pages(arguments).makers())
    if done.build is None:
        print(f"nothing to drop: everything belongs to the last {plural(arguments.last, 'build')}")
    else:
        print(f"build {done.build}: dropped {plural(done.pages, 'page copy', 'page copies')} and "
              f"{plural(done.assets, 'asset')}, {done.freed / 1e6:.1f} MB; whole from {done.kept_from} on")  # fmt: skip
    say_leftover(done.leftover)
    return 0


def withdraw(arguments: argparse.Namespace) -> int:
    """Take one content out of every build."""
    from generator.archive.withdrawing import withdraw_content

    done = withdraw_content(
        arguments.site,
        arguments.digest,
        arguments.reason,
        today().isoformat(),
        shared_pages(arguments).makers(),
        arguments.vault,
    )
    print(f"build {done.build}: withdrawn from {plural(len(done.places), 'place')}")
    for place in done.places:
        print(f"  {place}")
    for copy in done.copies:
        print(f"left alone, not ours: {copy} holds the same content")
    print("copies on hosts, in comparison folders, in a repository's history and in the cache are not reached: "
          "remove them there")  # fmt: skip
    say_leftover(done.leftover)
    return 1 if done.leftover else 0


def adopt(arguments: argparse.Namespace) -> int:
    """Go on from a site that was published earlier."""
    from generator.archive.recovering import adopt_site

    done = adopt_site(arguments.site, arguments.folder)
    counts = f"{plural(done.builds, 'build')}, {plural(done.files, 'file')}"
    print(f"{arguments.site} goes on from build {done.newest}: {counts}")
    say_leftover(done.leftover)
    return 0
