"""Digests and addresses: what a thing is called in the site. Touches no file."""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from collections.abc import Iterable
from typing import Any

from generator.errors import SiteProblem

BUILDS = "archive/builds"
ENTRIES = "archive/entries"
SOURCES = "archive/sources"
ASSETS = "archive/assets"
PAGES = "archive/pages"
SHARED = "shared/"
BUILDS_PAGE = "builds/"
REMOVED = "removed/"
BUILD_ID = re.compile(r"\d{4,}-[0-9a-f]{8}")
SUFFIX = re.compile(r"\.[a-z0-9]{1,8}")
UNSAFE = re.compile(r'[\x00-\x1f\x7f\\:*?"<>|\ud800-\udfff]')


def find_digest(content: bytes) -> str:
    """SHA-256 of bytes as 64 hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def render_json(value: Any) -> str:
    """A value as JSON on one line: keys sorted, no spare spaces, never NaN."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def find_text_digest(value: Any) -> str:
    """Digest of a JSON-ready value."""
    return find_digest(render_json(value).encode())


def check_address(path: str) -> str:
    """The path itself if it is a plain relative one that every system and zip reader takes; else SiteProblem."""
    parts = path.split("/")
    if not path or UNSAFE.search(path) or any(part in ("", ".", "..") or part[-1] in ". " for part in parts):
        raise SiteProblem(f"{path!r} is no address for a file in the site", "use plain names, divided by /")
    return path


def is_frozen(page_path: str) -> bool:
    """Whether a page keeps frozen copies: all with a folder of their own do; one named like 404.html does not."""
    return "." not in posixpath.basename(page_path)


def find_page_file(page_path: str) -> str:
    """Where a page stands: "" is index.html, comparisons/x is comparisons/x/index.html, 404.html is itself."""
    return posixpath.join(page_path, "index.html") if is_frozen(page_path) else page_path


def find_frozen_file(page_path: str, version: str) -> str:
    """Where the frozen copy of one version of a page stands."""
    return posixpath.join(PAGES, page_path, f"{version[:12]}.html")


def find_history_file(page_path: str) -> str:
    """Where the list of a page's versions stands."""
    return posixpath.join(PAGES, page_path, "versions.json")


def find_versions_file(page_path: str) -> str:
    """Where the readable list of a page's versions stands, beside the page."""
    return posixpath.join(page_path, "versions.html")


def find_source_file(path: str, digest: str) -> str:
    """Where a cleaned input stands: named by content, with the suffix of its path if that is a plain one."""
    suffix = posixpath.splitext(path)[1].lower()
    return f"{SOURCES}/{digest[:16]}{suffix if SUFFIX.fullmatch(suffix) else ''}"


def is_comparison(name: str) -> bool:
    """Whether an entry of this name is a comparison, named by its slug; all others have a slash in theirs."""
    return "/" not in name


def find_sources_zip(slug: str) -> str:
    """Where a comparison's sources stand as one zip."""
    return f"comparisons/{slug}/sources.zip"


def find_build_file(build_id: str) -> str:
    """Where the manifest of a build stands."""
    return f"{BUILDS}/{build_id}.json"


def find_entry_file(digest: str) -> str:
    """Where the manifest of one entry stands."""
    return f"{ENTRIES}/{digest[:16]}.json"


def find_folders(paths: Iterable[str]) -> set[str]:
    """All folders that hold some paths, folders of folders too, but not the root."""
    folders: set[str] = set()
    for path in paths:
        while (path := posixpath.dirname(path)) and path not in folders:
            folders.add(path)
    return folders


def find_root(file: str) -> str:
    """The relative path from a file's folder to the site's root, with a slash at its end."""
    return "../" * file.count("/") or "./"
