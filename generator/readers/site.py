"""Reads the facts of the site from site.yaml, which stands beside the comparisons."""

from __future__ import annotations

from generator.errors import FileProblems, Problem
from generator.readers.folder import Folder, FolderError
from generator.readers.limits import DEFAULT_LIMITS, Limits
from generator.readers.nodes import parse_nodes
from generator.readers.report import Report
from generator.readers.schema import SITE
from generator.readers.walk import walk
from generator.records.comparison import Site

FILE = "site.yaml"


def read_site(folder: Folder, limits: Limits = DEFAULT_LIMITS) -> tuple[Site, tuple[Problem, ...]]:
    """Facts of the site; its defaults where the file is not there or is faulty.

    Parameters
    ----------
    folder
        The folder that holds the comparisons.
    limits
        Sizes and counts that are accepted.
    """
    report = Report(f"{folder.label}/{FILE}", limits)
    try:
        node = parse_nodes(folder.read(FILE, limits.bytes_for("site")), report.file, limits)
    except FolderError as error:
        if error.code != "file-missing":
            report.add_error(error, None, "")
        return Site(), report.problems()
    except FileProblems as error:
        report.add_all(error.problems)
        return Site(), report.problems()
    root = walk(node, SITE, "", report)
    if root is None or report.failed:
        return Site(), report.problems()
    return Site(**{key: entry.value for key, entry in root.items() if entry.value != ""}), report.problems()
