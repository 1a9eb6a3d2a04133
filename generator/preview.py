"""Serve a build in a temporary folder on the loopback address, rebuild on change, keep the last good page.

Never writes into the project's site: every build goes into a folder of its own that is removed at the end.
The server has no write path: it answers GET and HEAD for files of that folder, and refuses a foreign Host header,
so a page elsewhere cannot read a draft through the reader's browser.
"""

from __future__ import annotations

import html
import mimetypes
import posixpath
import re
import threading
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote, urlsplit

from generator.errors import StallmarkError

LOOPBACK = "127.0.0.1"
STATE_PATH = "/~preview/state"
SCRIPT_PATH = "/~preview/reload.js"
Snapshot = dict[Path, tuple[int, int]]

_SCRIPT = f"""const shown = document.currentScript.dataset.shown;
setInterval(async () => {{
  const now = await fetch("{STATE_PATH}").then(answer => answer.text()).catch(() => null);
  if (now !== null && now !== shown) location.reload();
}}, 1000);
"""

_ERROR_BOX = (
    '<section role="alert" aria-label="Problems in the files" '
    'style="margin:0;padding:1rem;background:#7a0019;color:#fff">'
    "<strong>Not built: below is the last good page.</strong>"
    '<pre style="white-space:pre-wrap;margin:.5rem 0 0;font:1rem/1.4 monospace;color:#fff;background:none">{}</pre>'
    "</section>"
)


_POLICY = re.compile(rb'<meta http-equiv="Content-Security-Policy"[^>]*>\s*')


@dataclass
class State:
    """What the server shows: the folder of the last good build, a count of attempts, and the last error's text."""

    folder: Path
    attempts: int = 0
    error: str | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    def record(self, error: str | None) -> None:
        """Note the outcome of one more build."""
        with self.lock:
            self.attempts += 1
            self.error = error


def build_once(state: State, build: Callable[[Path], None]) -> None:
    """Run ``build`` into the served folder and record its outcome; a failed build leaves the folder as it was."""
    try:
        build(state.folder)
    except StallmarkError as error:
        state.record(str(error))
    except Exception as error:  # a bug: its traceback goes to the terminal, and the last good page stays
        traceback.print_exc()
        state.record(f"the build failed through a fault of the program: {error!r}; the terminal shows where")
    else:
        state.record(None)


def make_server(state: State, port: int) -> ThreadingHTTPServer:
    """A server for ``state`` on the loopback address; port 0 takes a free one. Raises OSError when it is taken."""
    server = ThreadingHTTPServer((LOOPBACK, port), type("Handler", (_Handler,), {"state": state}))
    server.daemon_threads = True
    return server


def watch(paths: Iterable[Path], build: Callable[[], None], stop: threading.Event, pause: float = 0.5) -> None:
    """Call ``build``, and again whenever a file under ``paths`` is new, gone or different, until ``stop`` is set.

    What is there is noted before each call, so that a change while ``build`` runs is not missed.
    """
    folders = list(paths)
    seen: Snapshot | None = None
    while True:
        now = _snapshot(folders)
        if now != seen:
            seen = now
            build()
        if stop.wait(pause):
            return


def _snapshot(folders: Iterable[Path]) -> Snapshot:
    found = {}
    for folder in folders:
        for path in folder.rglob("*"):
            try:
                status = path.lstat()
            except OSError:
                continue
            found[path] = (status.st_mtime_ns, status.st_size)
    return found


class _Handler(BaseHTTPRequestHandler):
    """GET and HEAD for files of the served folder."""

    state: State
    server_version = "preview"
    sys_version = ""

    def do_GET(self) -> None:
        self._answer(body=True)

    def do_HEAD(self) -> None:
        self._answer(body=False)

    def log_message(self, format: str, *args: object) -> None:
        """Requests are not worth a line each."""

    def _answer(self, body: bool) -> None:
        if not self._host_is_ours():
            self._send(
                HTTPStatus.FORBIDDEN, "text/plain; charset=utf-8", b"This server answers its own host only.\n", body
            )
            return
        path = unquote(urlsplit(self.path).path)
        if path == STATE_PATH:
            self._send(HTTPStatus.OK, "text/plain; charset=utf-8", str(self.state.attempts).encode(), body)
        elif path == SCRIPT_PATH:
            self._send(HTTPStatus.OK, "text/javascript; charset=utf-8", _SCRIPT.encode(), body)
        else:
            self._send_file(path, body)

    def _host_is_ours(self) -> bool:
        port = self.connection.getsockname()[1]
        return self.headers.get("Host", "") in {f"{LOOPBACK}:{port}", f"localhost:{port}"}

    def _send_file(self, path: str, body: bool) -> None:
        target = find_file(self.state.folder, path)
        if target is not None and target.is_dir():
            self.send_response(HTTPStatus.MOVED_PERMANENTLY)
            self.send_header("Location", posixpath.join(urlsplit(self.path).path, ""))
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        status = HTTPStatus.OK if target is not None else HTTPStatus.NOT_FOUND
        content = self._read(target or self.state.folder / "404.html")
        kind = mimetypes.guess_type((target or Path("404.html")).name)[0] or "application/octet-stream"
        if kind == "text/html":
            content = self._with_state(content)
        if kind.startswith("text/") or kind.endswith(("json", "xml", "javascript")):
            kind += "; charset=utf-8"
        self._send(status, kind, content, body)

    @staticmethod
    def _read(path: Path) -> bytes:
        try:
            return path.read_bytes()
        except OSError:
            return b"<!doctype html><html lang=en><title>Nothing built yet</title><body><p>Nothing built yet.</p>"

    def _with_state(self, content: bytes) -> bytes:
        """The page with the last error above it and the reload script, which the published policy would refuse."""
        content = _POLICY.sub(b"", content)
        with self.state.lock:
            error, shown = self.state.error, self.state.attempts
        box = _ERROR_BOX.format(html.escape(error)).encode() if error else b""
        start = content.find(b"<body")
        end = content.find(b">", start) + 1 if start >= 0 else 0
        script = f'<script src="{SCRIPT_PATH}" data-shown="{shown}" defer></script>'.encode()
        return content[:end] + box + script + content[end:]

    def _send(self, status: HTTPStatus, kind: str, content: bytes, body: bool) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Cache-Control", "no-store")
        self.send_header("X-Content-Type-Options", "nosniff")
        self.end_headers()
        if body:
            self.wfile.write(content)


def find_file(folder: Path, path: str) -> Path | None:
    """The file (or folder, where the address lacks its slash) that ``path`` names inside ``folder``, or None.

    Refuses anything that leaves the folder, links included.
    """
    parts = [part for part in path.split("/") if part not in ("", ".")]
    if ".." in parts or "\x00" in path or any("\\" in part for part in parts):
        return None
    target = folder
    for part in parts:
        target = target / part
        if target.is_symlink():
            return None
    if target.is_dir():
        if path and not path.endswith("/"):
            return target
        target = target / "index.html"
    return target if target.is_file() and not target.is_symlink() else None
