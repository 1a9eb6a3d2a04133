"""The preview server: loopback only, its own host only, reading only, and the last good page under an error."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from generator import preview
from generator.cli import main
from generator.errors import FileProblems, Problem


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[preview.State, int]]:
    folder = tmp_path / "site"
    (folder / "methods").mkdir(parents=True)
    (folder / "index.html").write_text("<!doctype html><title>t</title><body class=x><p>home")
    (folder / "404.html").write_text("<!doctype html><title>t</title><body><p>nothing here")
    (folder / "methods" / "index.html").write_text("<!doctype html><title>t</title><body><p>methods")
    (tmp_path / "secret.txt").write_text("secret")
    (folder / "way-out").symlink_to(tmp_path)
    state = preview.State(folder)
    server = preview.make_server(state, 0)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield state, server.server_address[1]
    server.shutdown()
    thread.join()
    server.server_close()


def ask(port: int, path: str, method: str = "GET", host: str | None = None) -> tuple[int, str, dict[str, str]]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    connection.putrequest(method, path, skip_host=True)
    connection.putheader("Host", host or f"127.0.0.1:{port}")
    connection.endheaders()
    answer = connection.getresponse()
    text = answer.read().decode()
    connection.close()
    return answer.status, text, dict(answer.getheaders())


def test_serves_pages_and_redirects_to_the_slash(served: tuple[preview.State, int]) -> None:
    _, port = served

    assert "home" in ask(port, "/")[1]
    assert "methods" in ask(port, "/methods/")[1]
    status, _, heads = ask(port, "/methods")
    assert (status, heads["Location"]) == (301, "/methods/")
    assert ask(port, "/none")[0] == 404
    assert "nothing here" in ask(port, "/none")[1]
    assert ask(port, "/", method="HEAD")[1] == ""


def test_binds_to_the_loopback_address_only(served: tuple[preview.State, int]) -> None:
    state, _ = served
    server = preview.make_server(state, 0)

    assert server.server_address[0] == "127.0.0.1"
    server.server_close()


def test_a_port_that_is_taken_is_said(served: tuple[preview.State, int], capsys: pytest.CaptureFixture[str]) -> None:
    _, port = served

    assert main(["preview", "--port", str(port)]) == 1
    said = capsys.readouterr().err
    assert f"cannot serve on port {port}: Address already in use" in said and "another with --port" in said


def test_only_the_port_is_blamed_on_the_port(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def watch(*_: object) -> None:
        raise FileNotFoundError("what nobody thought of")

    monkeypatch.setattr(preview, "watch", watch)
    with pytest.raises(FileNotFoundError, match="what nobody thought of"):
        main(["preview", "--port", "0", "--comparisons", str(tmp_path)])


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:1", "127.0.0.1.evil.example:80"])
def test_refuses_a_foreign_host(served: tuple[preview.State, int], host: str) -> None:
    _, port = served

    status, text, _ = ask(port, "/", host=host)
    assert status == 403
    assert "home" not in text


@pytest.mark.parametrize(
    "path",
    ["/../secret.txt", "/%2e%2e/secret.txt", "/way-out/secret.txt", "//etc/passwd", "/..%5csecret.txt", "/a%00b"],
)
def test_never_leaves_the_folder(served: tuple[preview.State, int], path: str) -> None:
    _, port = served

    status, text, _ = ask(port, path)
    assert status == 404
    assert "secret" not in text and "root:" not in text


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_has_no_write_path(served: tuple[preview.State, int], method: str) -> None:
    _, port = served

    assert ask(port, "/index.html", method=method)[0] == 501


def test_an_error_stands_above_the_last_good_page_and_cannot_inject(served: tuple[preview.State, int]) -> None:
    state, port = served
    problem = Problem("a/comparison.yaml", 14, 7, "title", "bad-unit", "found <script>alert(1)</script>", "mend it")

    def fail(folder: Path) -> None:
        raise FileProblems([problem])

    before = ask(port, preview.STATE_PATH)[1]
    preview.build_once(state, fail)
    text = ask(port, "/")[1]
    assert "a/comparison.yaml:14:7" in text and "home" in text
    assert "<script>alert" not in text
    assert ask(port, preview.STATE_PATH)[1] != before

    preview.build_once(state, lambda folder: None)
    assert "comparison.yaml" not in ask(port, "/")[1]


def test_a_fault_of_the_program_leaves_the_last_good_page_too(
    served: tuple[preview.State, int], capsys: pytest.CaptureFixture[str]
) -> None:
    state, _ = served

    def fail(folder: Path) -> None:
        raise ZeroDivisionError("what nobody thought of")

    preview.build_once(state, fail)

    assert state.error is not None and "what nobody thought of" in state.error
    assert "Traceback" in capsys.readouterr().err


def test_watch_builds_at_once_and_sees_new_changed_and_gone_files(tmp_path: Path) -> None:
    stop, seen = threading.Event(), threading.Semaphore(0)
    watcher = threading.Thread(target=preview.watch, args=([tmp_path], seen.release, stop, 0.02))
    watcher.start()
    try:
        assert seen.acquire(timeout=5)
        for change in (
            lambda: (tmp_path / "a").write_text("1"),
            lambda: (tmp_path / "a").write_text("22"),
            lambda: (tmp_path / "a").unlink(),
        ):
            threading.Event().wait(0.1)
            change()
            assert seen.acquire(timeout=5)
    finally:
        stop.set()
        watcher.join()


def test_watch_does_not_miss_a_change_while_it_builds(tmp_path: Path) -> None:
    stop, seen = threading.Event(), []

    def build() -> None:
        seen.append(sorted(path.name for path in tmp_path.iterdir()))
        (tmp_path / "late").touch()
        if len(seen) == 2:
            stop.set()

    preview.watch([tmp_path], build, stop, 0.02)
    assert seen == [[], ["late"]]


def test_the_page_reloads_and_shows_the_error_in_a_real_browser(served: tuple[preview.State, int]) -> None:
    from playwright.sync_api import sync_playwright

    state, port = served
    policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:"
    page_text = (
        f'<!doctype html><html lang=en><meta http-equiv="Content-Security-Policy" content="{policy}"><title>t</title>'
    )
    (state.folder / "index.html").write_text(page_text + "<link rel=icon href='data:,'><body><p>last good page")
    said: list[str] = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path="/usr/bin/chromium",
            args=["--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        page = browser.new_page()
        page.on("console", lambda message: said.append(message.text))
        page.goto(f"http://127.0.0.1:{port}/")

        state.record("two-pulleys/comparison.yaml:41:19: expected a unit of H")
        alert = page.get_by_role("alert")
        alert.wait_for(timeout=10_000)
        assert "comparison.yaml:41:19" in alert.inner_text()
        assert page.get_by_text("last good page", exact=True).is_visible()
        assert alert.evaluate("box => getComputedStyle(box).backgroundColor") == "rgb(122, 0, 25)"

        state.record(None)
        alert.wait_for(state="detached", timeout=10_000)
        browser.close()
    assert not said
