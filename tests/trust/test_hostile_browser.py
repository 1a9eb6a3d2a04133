"""The hostile site in a real browser: no dialog, no message, no request elsewhere, no page wider than a phone."""

from __future__ import annotations

import functools
import threading
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
import scanning
from hostile import MARK
from playwright.sync_api import Browser, sync_playwright

ARGUMENTS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
             "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
PHONE = {"width": 360, "height": 740}
WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def server(hostile_site: Path) -> Iterator[str]:
    class Quiet(SimpleHTTPRequestHandler):
        def log_message(self, format: str, *args: Any) -> None:
            """Say nothing."""

    handler = functools.partial(Quiet, directory=str(hostile_site))
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as served:
        threading.Thread(target=served.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{served.server_address[1]}/"
        served.shutdown()


def test_every_page_with_an_attempt_stays_quiet_and_narrow(browser: Browser, server: str, hostile_site: Path) -> None:
    pages = [a for a in scanning.list_files(hostile_site) if a.endswith(".html") and touched(hostile_site / a)]
    context = browser.new_context(viewport=PHONE)
    page = context.new_page()
    heard: list[str] = []
    page.on("console", lambda message: heard.append(f"{page.url} console: {message.text}"))
    page.on("pageerror", lambda error: heard.append(f"{page.url} error: {error}"))
    page.on("dialog", lambda dialog: (heard.append(f"{page.url} dialog: {dialog.message}"), dialog.dismiss()))
    page.on("request", lambda request: heard.extend([] if request.url.startswith(server) else [request.url]))

    for address in pages:
        page.goto(server + address)
        page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
        wide = page.evaluate(WIDE)
        heard.extend([f"{address} is {wide} px too wide"] if wide else [])
    context.close()

    assert heard == []
    assert len(pages) >= 8


def test_drawings_opened_by_themselves_run_nothing(browser: Browser, server: str, hostile_site: Path) -> None:
    drawings = [a for a in scanning.list_files(hostile_site) if a.endswith(".svg") and touched(hostile_site / a)]
    page = browser.new_page()
    page.route("**/favicon.ico", lambda route: route.fulfill(status=204))
    heard: list[str] = []
    page.on("console", lambda message: heard.append(message.text))
    page.on("dialog", lambda dialog: (heard.append(dialog.message), dialog.dismiss()))

    for address in drawings:
        page.goto(server + address)
    page.close()

    assert heard == []
    assert drawings


def touched(path: Path) -> bool:
    """Whether an attempt stands in the file."""
    return MARK.encode() in path.read_bytes()
