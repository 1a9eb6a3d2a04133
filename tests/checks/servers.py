"""Three unrelated static servers, each a process of its own on a free port of the loopback interface."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PACKAGE = "sirv-cli"
VERSION = "3.0.1"
"""A small static file server from the npm registry."""

NGINX = """
daemon off; master_process off; pid {folder}/nginx.pid; error_log stderr;
events {{ worker_connections 64; }}
http {{
  include /etc/nginx/mime.types; default_type application/octet-stream; access_log off;
  gzip on; gzip_types text/css text/javascript application/javascript application/json image/svg+xml;
  client_body_temp_path {folder}/body; proxy_temp_path {folder}/proxy; fastcgi_temp_path {folder}/fastcgi;
  uwsgi_temp_path {folder}/uwsgi; scgi_temp_path {folder}/scgi;
  server {{ listen 127.0.0.1:{port}; root {root}; index index.html; }}
}}
"""


def python_server(root: Path, port: int, folder: Path) -> list[str]:
    """The server of Python's library."""
    return [sys.executable, "-m", "http.server", str(port), "--bind", "127.0.0.1", "--directory", str(root)]


def nginx(root: Path, port: int, folder: Path) -> list[str]:
    """nginx with a configuration of its own, as an ordinary user's process."""
    program = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin:/usr/local/sbin")
    assert program, "nginx is missing: apt-get install nginx-light, or run tests/run.sh, which brings it"
    (folder / "nginx.conf").write_text(NGINX.format(folder=folder, port=port, root=root))
    return [program, "-p", str(folder), "-c", str(folder / "nginx.conf"), "-e", "stderr"]


def npm_server(root: Path, port: int, folder: Path, kept: Path) -> list[str]:
    """A static server from the npm registry, installed below ``kept`` once."""
    node, npm = shutil.which("node"), shutil.which("npm")
    assert node and npm, "node or npm is missing: apt-get install nodejs npm, or run tests/run.sh, which brings them"
    program = kept / "node_modules" / PACKAGE / "bin.js"
    if not program.is_file():
        options = ["--no-audit", "--no-fund", "--ignore-scripts", "--loglevel", "error"]
        subprocess.run([npm, "install", "--prefix", str(kept), *options, f"{PACKAGE}@{VERSION}"], check=True)
    return [node, str(program), str(root), "--host", "127.0.0.1", "--port", str(port), "--quiet"]


def find_port() -> int:
    """A port that is free now."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def serve(command: list[str], port: int, folder: Path) -> Iterator[str]:
    """Run a server until the block ends; yields its address once it answers."""
    with (folder / "server.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=folder, stdout=log, stderr=log)
    try:
        address = f"http://127.0.0.1:{port}"
        _wait(address, process, folder / "server.log")
        yield address
    finally:
        process.terminate()
        process.wait(20)


def _wait(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(300):
        assert process.poll() is None, log.read_text(errors="replace")
        try:
            with urllib.request.urlopen(address, timeout=5):
                return
        except urllib.error.HTTPError as answer:
            answer.close()
            return
        except OSError:
            time.sleep(0.1)
    raise AssertionError(f"{address} never answered: {log.read_text(errors='replace')}")
