"""A real Chromium on a real desk: one process a test module, one fresh episode a test."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests import review_scene

CHROMIUM = next((p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser")
                 if Path(p).exists()), None)  # fmt: skip
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--no-first-run",
         "--autoplay-policy=no-user-gesture-required"]  # fmt: skip


def pytest_collection_modifyitems(items):
    """A browser on a busy computer may lose a race that says nothing of ours: three tries, told."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.flaky(reruns=2))


class Running:
    """`launchside review` on an episode."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.process: subprocess.Popen[str] | None = None
        self.url = ""
        self.start()

    def start(self) -> None:
        """Start (again); the address holds a fresh token."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "studio.cli.main", "review", str(self.folder), "--no-browser"],
            stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/\?token=\S+", line)
        assert found, f"no address: {line!r}"
        self.url = found.group(0)

    def stop(self, how=signal.SIGINT) -> int:
        """End the process that this object started."""
        assert self.process is not None
        self.process.send_signal(how)
        code = self.process.wait(15)
        assert self.process.stdout is not None
        self.process.stdout.close()
        return code

    def corrections(self) -> str:
        """The file as it is on disk."""
        path = self.folder / "corrections.toml"
        return path.read_text() if path.exists() else ""


@pytest.fixture(scope="package")  # its loop must end before other tests start theirs
def chromium():
    """The browser; skipped, loudly, where there is none and none was promised."""
    if CHROMIUM is None:
        missing = pytest.fail if os.environ.get("NEED_CHROMIUM") else pytest.skip
        missing("NO CHROMIUM: the desk's page was NOT tested (apt-get install chromium)")
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="NO PLAYWRIGHT: pip install .[dev]"
    )
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    """An episode to copy."""
    return review_scene.build(tmp_path_factory.mktemp("made") / "episode")


@pytest.fixture
def running(made, tmp_path):
    """A desk on a fresh copy."""
    folder = tmp_path / "episode"
    shutil.copytree(made, folder)
    desk = Running(folder)
    yield desk
    if desk.process is not None and desk.process.poll() is None:
        desk.stop()


@pytest.fixture
def context(chromium):
    """A browser profile of its own, that notes every request and every error of the page."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    yield context
    context.close()


def until(page, expression, timeout_s=20.0):
    """Wait until an expression holds; the page's policy forbids Playwright's own way."""
    end = time.monotonic() + timeout_s
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"never came true: {expression}"
        page.wait_for_timeout(40)


def enter(context, url):
    """Open the page and wait until it is ready; any script error fails the test."""
    page = context.new_page()
    page.requested = []
    page.troubles = []
    page.on("request", lambda request: page.requested.append(request.url))
    page.on("pageerror", lambda error: page.troubles.append(str(error)))
    page.on("console", lambda m: page.troubles.append(m.text) if m.type == "error" else None)
    page.goto(url)
    page.wait_for_selector("body[data-ready]")
    return page


@pytest.fixture
def page(context, running):
    """The desk's page."""
    page = enter(context, running.url)
    yield page
    assert page.troubles == []
