"""What each command does, between the parser and the layers that do it: clock in, lines of text out.

Every function takes the parsed arguments and returns an exit code; heavy imports wait inside.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import re
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from generator.errors import Problem, SiteProblem, UsageError

if TYPE_CHECKING:
    from generator.archive.store import Archive
    from generator.build import Report, Settings
    from generator.readers.limits import Limits
    from generator.shared import SharedPages

SLUG = re.compile(r"[a-z][a-z0-9-]{0,39}")
PATIENCE = 1.0
"""Seconds of work after which progress is shown."""


# --- writing --------------------------------------------------------------------------------------------------------


def begin(arguments: argparse.Namespace) -> int:
    """Copy the starter comparison into a new folder."""
    from generator.pages.templates import find_templates

    name, target = arguments.name, arguments.comparisons / arguments.name
    if not SLUG.fullmatch(name):
        raise UsageError(f"{name!r} is no folder name for a comparison", "a lower-case letter, then letters, digits "
                         "and hyphens, at most 40 characters, e.g. two-pulleys")  # fmt: skip
    if target.exists():
        raise SiteProblem(f"{target} is there already", "choose another name")
    words = {"{{slug}}": name, "{{title}}": name.replace("-", " ").capitalize(), "{{date}}": today().isoformat()}
    files = {}
    for source in sorted((find_templates() / "starter").iterdir()):
        files[source.name] = source.read_text(encoding="utf-8")
        for mark, word in words.items():
            files[source.name] = files[source.name].replace(mark, word)
    with say_refusal(target):
        target.mkdir(parents=True)
        for file, text in files.items():
            (target / file).write_text(text, encoding="utf-8")
    print(f"{target / 'comparison.yaml'} is yours to edit; stallmark preview shows it as you go")
    return 0


def check(arguments: argparse.Namespace) -> int:
    """Read every comparison, or one, and say what is wrong or missing."""
    from generator.checking import check_folder

    findings = check_folder(arguments.comparisons, parse_limits(arguments.limit), arguments.slug)
    errors = [problem for problem in findings.problems if problem.severity == "error"]
    if arguments.format == "json":
        print(json.dumps({
            "problems": [asdict(problem) for problem in findings.problems],
            "missing": findings.missing,
            "comparisons": findings.slugs,
        }, indent=2, ensure_ascii=False))  # fmt: skip
        return 1 if errors else 0
    for problem in findings.problems:
        if problem.severity != "error":
            print(problem)
    _print_missing(findings.missing, put_off=bool(errors))
    for problem in errors:
        print(problem)
    print(
        count_problems(findings.problems)
        if findings.problems
        else f"{plural(len(findings.slugs), 'comparison')}, nothing wrong"
    )
    return 1 if errors else 0


def _print_missing(missing: Mapping[str, Sequence[str]], put_off: bool) -> None:
    """What reports lack; while there are errors to mend, only how much that is."""
    if put_off:
        count = sum(map(len, missing.values()))
        if count:
            print(f"{plural(count, 'note')} on what a test report usually carries; told when the errors are gone")
        return
    for slug, sentences in missing.items():
        if sentences:
            print(f"{slug}: what a test report usually carries and this one does not:")
            print("".join(f"  {sentence}\n" for sentence in sentences), end="")


def values(arguments: argparse.Namespace) -> int:
    """List every value that prose can quote, with its current text."""
    from generator.pages.values import list_values

    for reference, text in list_values(_results(arguments)).items():
        print(f"{{value: {reference}}}  {text}")
    return 0


def bench_sheet(arguments: argparse.Namespace) -> int:
    """Write the sheet for the bench, the CSVs to fill in and, on request, the move lists."""
    from generator.pages.bench_sheet import render_bench_sheet
    from generator.sheets import write_csvs, write_files, write_moves

    results = _with_derating(arguments, _results(arguments))
    moves = write_moves(results, arguments.line) if arguments.line is not None else {}
    page = render_bench_sheet(results, shared_pages(arguments).context)
    sheet = {f"{arguments.slug}-bench-sheet.html": page.text}
    with say_refusal(arguments.to):
        written = write_files(arguments.to, {**sheet, **write_csvs(results), **moves})
    for path in written:
        print(path)
    return 0


def _with_derating(arguments: argparse.Namespace, results: dict[str, Any]) -> dict[str, Any]:
    """The results with their bench sheet planned anew, where earlier comparisons of the machine showed a derating."""
    from generator.archive.store import Archive
    from generator.evaluation.derating import find_derating, plan_with_derating
    from generator.readers.comparison import read_comparison
    from generator.readers.folder import DiskFolder

    archive = Archive(arguments.site)
    newest = archive.read_newest()
    slugs = newest.comparisons if newest else ()
    published = (_read_published(archive, f"comparisons/{slug}/results.json") for slug in slugs)
    derating = find_derating(results, (other for other in published if other and "withdrawn" not in other))
    if derating is None:
        return results
    folder = DiskFolder(arguments.comparisons / arguments.slug)
    limits = parse_limits(arguments.limit)
    comparison = read_comparison(folder, arguments.slug, limits).comparison
    assert comparison is not None
    print(f"torque taken as {derating.factor:.2f} of the stated one, as {', '.join(derating.comparisons)} showed")
    plan = plan_with_derating(comparison, derating, limits.draws)
    return results | {"bench_sheet": plan, "derating": asdict(derating)}


def _read_published(archive: Archive, path: str) -> dict[str, Any] | None:
    """Results as the site holds them; what cannot be read is said and done without."""
    try:
        results: dict[str, Any] = json.loads(archive.read(path))
    except (OSError, ValueError) as error:
        print(f"{path} of the site is left out, since it cannot be read ({error}); a build mends it", file=sys.stderr)
        return None
    return results


def _results(arguments: argparse.Namespace) -> dict[str, Any]:
    """The results object of one comparison, from its files as they are."""
    from generator.build import find_cache
    from generator.checking import evaluate_one

    cache = find_cache(make_settings(arguments, Path("site")))
    return evaluate_one(arguments.comparisons, arguments.slug, parse_limits(arguments.limit), cache)


# --- building -------------------------------------------------------------------------------------------------------


def build(arguments: argparse.Namespace) -> int:
    """Build the site and say what came of it."""
    from generator.build import build as build_site

    settings = make_settings(arguments, arguments.site)
    settings = replace(
        settings,
        only=arguments.only,
        address=arguments.address,
        recheck=arguments.recheck,
        vault=arguments.vault,
        cluster=arguments.cluster,
        compress=arguments.compress,
    )
    progress = Progress(arguments.quiet)
    report = build_site(settings, progress.say)
    progress.end()
    say_leftover(report.published.leftover)
    if not arguments.quiet:
        _print_report(report, settings)
    return 0


def _print_report(report: Report, settings: Settings) -> None:
    for problem in report.warnings:
        print(problem, file=sys.stderr)
    published = report.published
    if published.build is None:
        print(f"nothing changed; {settings.site} is as it was")
    else:
        size = (
            f"{published.new_bytes / 1e6:.1f} MB"
            if published.new_bytes > 1e5
            else f"{published.new_bytes / 1e3:.0f} kB"
        )
        print(f"build {published.build}: {report.made} made, {report.carried} carried over, "
              f"{published.new_files} new files, {size}")  # fmt: skip
        print(f"open {settings.site / 'index.html'}")
    if published.kept:
        print(f"kept, not ours: {', '.join(published.kept)}")
    for path in (*published.mended, *published.held_back):
        print(f"mended or held back: {path}")


def preview(arguments: argparse.Namespace) -> int:
    """Build into a temporary folder, serve it, and rebuild on change."""
    from generator import preview as server
    from generator.build import build as build_site

    folder = Path(tempfile.mkdtemp(prefix="stallmark-preview-"))
    site = folder / "site"

    def build_into(target: Path) -> None:
        build_site(make_settings(arguments, target))

    state = server.State(site)
    stop = threading.Event()
    try:
        listening = _listen(server, state, arguments.port)
        port = listening.server_address[1]
        thread = threading.Thread(target=listening.serve_forever, daemon=True)
        thread.start()
        print(f"building; then see http://{server.LOOPBACK}:{port}/  (Ctrl-C ends)", flush=True)
        watched = [arguments.comparisons, *([arguments.templates] if arguments.templates else [])]
        server.watch(watched, lambda: _rebuild(server, state, build_into), stop)
    except KeyboardInterrupt:
        print("preview ended")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    return 0


def _listen(server: Any, state: Any, port: int) -> Any:
    """The server on its port, or the problem that the system does not give the port."""
    try:
        return server.make_server(state, port)
    except OSError as error:
        raise SiteProblem(f"cannot serve on port {port}: {error.strerror}", "choose another with --port") from error


def _rebuild(server: Any, state: Any, build_into: Any) -> None:
    server.build_once(state, build_into)
    print(state.error or f"built at {time.strftime('%H:%M:%S')}", flush=True)


def say_leftover(leftover: str) -> None:
    """Say what is left of an old site, if anything: the new one stands all the same."""
    if leftover:
        print(leftover, file=sys.stderr)


@contextmanager
def say_refusal(folder: Path) -> Iterator[None]:
    """Turn the disk's refusal to write into a problem that names the folder."""
    try:
        yield
    except OSError as error:
        message = f"cannot write {error.filename or folder}: {error.strerror}"
        raise SiteProblem(message, "name a folder that you may write to") from error


# --- arguments and clock --------------------------------------------------------------------------------------------


def make_settings(arguments: argparse.Namespace, site: Path) -> Settings:
    """Settings that build and preview share."""
    from generator.build import Settings

    return Settings(
        comparisons=arguments.comparisons,
        site=site,
        date=today().isoformat(),
        templates=find_own_templates(arguments),
        cache=arguments.cache,
        workers=getattr(arguments, "workers", 1),
        limits=parse_limits(arguments.limit),
    )


def find_own_templates(arguments: argparse.Namespace) -> Path | None:
    """The folder whose templates replace single ones, where the command takes one and it is given."""
    folder: Path | None = getattr(arguments, "templates", None)
    if folder is not None and not folder.is_dir():
        raise UsageError(f"there is no folder {folder}", "name a folder of templates")
    return folder


def shared_pages(arguments: argparse.Namespace) -> SharedPages:
    """How pages look that belong to no comparison, with the facts of the site where its comparisons lie beside it."""
    from generator.pages.templates import template_dirs
    from generator.readers.folder import DiskFolder
    from generator.readers.site import read_site
    from generator.records.comparison import Site
    from generator.shared import SharedPages
    from generator.versions import find_templates_digest

    folder: Path = arguments.comparisons
    site = read_site(DiskFolder(folder))[0] if folder.is_dir() else Site()
    folders = template_dirs(find_own_templates(arguments))
    limits = parse_limits(getattr(arguments, "limit", ()))
    return SharedPages(site, folders, find_templates_digest(folders), limits.template_steps)


def parse_limits(texts: Sequence[str]) -> Limits:
    """``NAME=NUMBER`` pairs as changed safety limits."""
    from generator.readers.limits import Limits

    limits = Limits()
    for text in texts:
        name, _, number = text.partition("=")
        if name not in asdict(limits) or not number.isdecimal() or int(number) == 0:
            known = ", ".join(asdict(limits))
            raise UsageError(f"--limit {text} is not understood", f"write NAME=NUMBER with one of: {known}")
        limits = replace(limits, **{name: int(number)})
    return limits


def today() -> datetime.date:
    """The date of this build: SOURCE_DATE_EPOCH where set, else the clock's, both in UTC."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH")
    if epoch is None:
        return datetime.datetime.now(datetime.UTC).date()
    try:
        return datetime.datetime.fromtimestamp(int(epoch), datetime.UTC).date()
    except (ValueError, OverflowError, OSError) as error:
        raise UsageError(f"SOURCE_DATE_EPOCH={epoch} is no time", "seconds since 1970, e.g. 1790000000") from error


class Progress:
    """A line on the terminal while work takes more than a second; silent elsewhere."""

    def __init__(self, quiet: bool) -> None:
        self.active = not quiet and sys.stderr.isatty()
        self.started = time.monotonic()
        self.shown = False

    def say(self, text: str) -> None:
        """Show a step."""
        if self.active and time.monotonic() - self.started > PATIENCE:
            print(f"\r\x1b[K{text}", end="", file=sys.stderr, flush=True)
            self.shown = True

    def end(self) -> None:
        """Clear the line."""
        if self.shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def count_problems(problems: Sequence[Problem]) -> str:
    """``2 errors, 1 warning``."""
    errors = sum(problem.severity == "error" for problem in problems)
    warnings = len(problems) - errors
    parts = [plural(errors, "error")] if errors else []
    return ", ".join(parts + ([plural(warnings, "warning")] if warnings else []))


def plural(count: int, noun: str, several: str = "") -> str:
    """``1 error``, ``2 errors``."""
    return f"{count} {noun if count == 1 else several or noun + 's'}"
