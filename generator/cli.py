"""The command line: arguments, clock, printing, progress and exit codes. Heavy imports wait until they are needed.

The one place that catches the project's own errors. Exit codes: 0 fine, 1 a problem in the user's files or site,
2 wrong use.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from generator import __version__, archive_commands, commands
from generator.errors import FileProblems, StallmarkError

Command = Callable[[argparse.Namespace], int]


class _Parser(argparse.ArgumentParser):
    """Exits with 2 and a short message on wrong use, as argparse does, with the command's own example."""

    def __init__(self, *args: object, example: str = "", **kwargs: object) -> None:
        kwargs.setdefault("formatter_class", argparse.RawDescriptionHelpFormatter)
        if example:
            kwargs["epilog"] = f"example:\n  {example}"
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]


def run() -> None:
    """Entry point of the installed command."""
    sys.exit(main())


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; argparse's own exits (help, wrong use) pass through as codes."""
    try:
        arguments = _parser().parse_args(argv)
    except SystemExit as end:
        return int(end.code or 0)
    try:
        return arguments.run(arguments)
    except StallmarkError as error:
        print(error, file=sys.stderr)
        if isinstance(error, FileProblems):
            print(commands.count_problems(error.problems), file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt as stop:
        notes = getattr(stop, "__notes__", ["the site is as it was"])
        print("; ".join(["interrupted", *notes]), file=sys.stderr)
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


# --- the parser ---------------------------------------------------------------------------------------------------


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="stallmark",
        description="Builds a static site of hardware comparisons: prediction beside measurement, and an archive.",
        example="stallmark build && stallmark preview",
    )
    parser.add_argument("--version", action="version", version=f"stallmark {__version__}")
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND", required=True, parser_class=_Parser)
    for add in (_add_begin, _add_check, _add_build, _add_preview, _add_values, _add_bench_sheet, _add_builds):
        add(subparsers)
    return parser


def _add_command(subparsers: argparse._SubParsersAction, name: str, run: Command, about: str, example: str) -> _Parser:
    parser: _Parser = subparsers.add_parser(name, help=about, description=about, example=example)
    parser.set_defaults(run=run)
    return parser


def _add_folders(parser: argparse.ArgumentParser, templates: bool = True) -> None:
    parser.add_argument("--comparisons", metavar="DIR", type=Path, default=Path("comparisons"),
                        help="folder of comparisons (default: comparisons)")  # fmt: skip
    if templates:
        parser.add_argument("--templates", metavar="DIR", type=Path, help="folder whose templates replace single ones")
    parser.add_argument("--cache", metavar="DIR", type=Path, help="where kept results lie (default: the user's cache)")
    parser.add_argument("--limit", metavar="NAME=NUMBER", action="append", default=[],
                        help="change a safety limit, e.g. runs=2000 (listed in comparisons/README.md)")  # fmt: skip
    parser.add_argument("--quiet", action="store_true", help="no progress")


def _add_site(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--site", metavar="DIR", type=Path, default=Path("site"), help="the site folder (default: site)"
    )


def _add_workers(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--workers", metavar="N", type=_positive, default=os.cpu_count() or 1,
                        help="processes to use (default: one a core)")  # fmt: skip


def _add_vault(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--vault", metavar="DIR", type=Path, help="where unpublished inputs are kept, outside the site")


def _add_looks(parser: argparse.ArgumentParser) -> None:
    """What the archive's own pages need to look like the rest."""
    parser.add_argument("--comparisons", metavar="DIR", type=Path, default=Path("comparisons"))
    parser.add_argument("--templates", metavar="DIR", type=Path)


def _add_begin(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "begin", commands.begin,
                          "write a commented starter comparison that builds as it stands",
                          "stallmark begin two-pulleys")  # fmt: skip
    parser.add_argument("name", metavar="NAME", help="folder name: lower-case letters, digits, hyphens")
    parser.add_argument("--comparisons", metavar="DIR", type=Path, default=Path("comparisons"))


def _add_check(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "check", commands.check, "read every comparison and say what is wrong or missing",
                          "stallmark check two-pulleys")  # fmt: skip
    parser.add_argument("slug", metavar="SLUG", nargs="?", help="read this comparison alone (default: all)")
    parser.add_argument("--format", choices=("text", "json"), default="text")
    parser.add_argument("--comparisons", metavar="DIR", type=Path, default=Path("comparisons"))
    parser.add_argument("--limit", metavar="NAME=NUMBER", action="append", default=[], help="change a safety limit")


def _add_build(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "build", commands.build, "build the site and add to its archive what changed",
                          "stallmark build --only two-pulleys")  # fmt: skip
    _add_folders(parser)
    _add_site(parser)
    _add_workers(parser)
    parser.add_argument("--only", metavar="SLUG", help="build this comparison; carry the others over")
    parser.add_argument("--address", metavar="URL", help="the site's public base address")
    parser.add_argument("--recheck", action="store_true", help="hash every input instead of trusting size and time")
    _add_vault(parser)
    parser.add_argument("--cluster", metavar="ADDRESS", help="spread the work over a Dask cluster (extra: cluster)")
    parser.add_argument("--compress", action="store_true", help="write .gz copies beside text files")


def _add_preview(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "preview", commands.preview,
                          "serve a build in a temporary folder on 127.0.0.1 and rebuild on change",
                          "stallmark preview --port 8321")  # fmt: skip
    _add_folders(parser)
    _add_workers(parser)
    parser.add_argument("--port", metavar="N", type=_port, default=8321, help="port on 127.0.0.1 (default: 8321)")


def _add_values(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "values", commands.values,
                          "list every value that the prose of a comparison can quote",
                          "stallmark values braille-plate-plotter")  # fmt: skip
    parser.add_argument("slug", metavar="SLUG")
    _add_folders(parser, templates=False)


def _add_bench_sheet(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "bench-sheet", commands.bench_sheet,
                          "write the sheet for the bench: a page for print and a CSV to fill in",
                          "stallmark bench-sheet tile-engraver --to sheets")  # fmt: skip
    parser.add_argument("slug", metavar="SLUG")
    parser.add_argument(
        "--to", metavar="DIR", type=Path, default=Path("."), help="folder to write into (default: here)"
    )
    parser.add_argument("--line", metavar="TEMPLATE",
                        help="also write a move list, one line a move, through this Jinja template")  # fmt: skip
    _add_folders(parser)
    _add_site(parser)


def _add_builds(subparsers: argparse._SubParsersAction) -> None:
    parser = _add_command(subparsers, "builds", archive_commands.list_builds,
                          "list, audit and tend the archive of builds",
                          "stallmark builds audit")  # fmt: skip
    _add_site(parser)
    tasks = parser.add_subparsers(title="tasks", metavar="TASK", parser_class=_Parser)

    def add(name: str, run: Command, about: str, example: str) -> _Parser:
        task = _add_command(tasks, name, run, about, example)
        task.add_argument("--site", metavar="DIR", type=Path, default=argparse.SUPPRESS, help="the site folder")
        return task

    add("audit", archive_commands.audit, "re-hash everything and name what changed, is missing or foreign",
        "stallmark builds audit")  # fmt: skip
    compare = add("compare", archive_commands.compare, "say at the level of figures what changed between two builds",
                  "stallmark builds compare 0001 0002")  # fmt: skip
    compare.add_argument("first", metavar="A")
    compare.add_argument("second", metavar="B")
    compare.add_argument("--all", action="store_true", help="every figure that moved, not the first forty")
    recover = add("recover", archive_commands.recover, "write the published inputs of a build into a folder",
                  "stallmark builds recover 0001 --to old")  # fmt: skip
    recover.add_argument("build", metavar="ID")
    _add_vault(recover)
    recover.add_argument("--to", metavar="DIR", type=Path, required=True)
    slim = add("slim", archive_commands.slim, "drop page copies of older builds; citations go on answering",
               "stallmark builds slim --last 10")  # fmt: skip
    _add_looks(slim)
    slim.add_argument("--last", metavar="N", type=_positive, required=True)
    withdraw = add("withdraw", archive_commands.withdraw, "remove one file from the whole archive, leaving a tombstone",
                   'stallmark builds withdraw 3f2a… --reason "shows a face"')  # fmt: skip
    withdraw.add_argument("digest", metavar="DIGEST")
    _add_looks(withdraw)
    _add_vault(withdraw)
    withdraw.add_argument("--reason", metavar="TEXT", required=True)
    adopt = add("adopt", archive_commands.adopt, "go on from a site that was published earlier",
                "stallmark builds adopt downloaded-site")  # fmt: skip
    adopt.add_argument("folder", metavar="DIR", type=Path)


def _positive(text: str) -> int:
    return _whole(text, 1, None, "a whole number from 1 up")


def _port(text: str) -> int:
    return _whole(text, 0, 65535, "a port from 0 (any that is free) to 65535, such as 8321,")


def _whole(text: str, least: int, most: int | None, wanted: str) -> int:
    """A whole number within its ends; argparse's error that says what is wanted."""
    number = int(text) if text.isdecimal() else -1
    if number < least or (most is not None and number > most):
        raise argparse.ArgumentTypeError(f"{wanted} is wanted, got {text!r}")
    return number
