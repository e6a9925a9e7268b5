"""One headless chromium for all pages of a run: started once, driven over a pipe by its own protocol.

Every page has a tab of its own, closed after it, and what it stored is cleared: nothing is left to the next. A window
of its own for each would cost as much as a start of the browser.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

PATIENCE = 180  # seconds without a word from the browser, after which it is taken for dead
BUDGET = 120_000  # virtual time that a page has [ms]: its timers run out at once, however busy the machine is
SWITCHES = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-extensions",
)  # fmt: skip


class Browser:
    """A running browser, and what was read of its pipe and belongs to nobody yet."""

    def __init__(self, program: str) -> None:
        """Starts it. program: the browser's file"""
        self._profile = tempfile.mkdtemp(prefix="pages-")
        hears, self._to = os.pipe()
        self._from, says = os.pipe()
        # The protocol is read at 3 and written at 4; a shell puts both there.
        script = f'exec "$@" 3<&{hears} 4>&{says}'
        self._process = subprocess.Popen(
            ["bash", "-c", script, "bash", program, *SWITCHES, "--allow-file-access-from-files",
             "--remote-debugging-pipe", f"--user-data-dir={self._profile}", "about:blank"],
            pass_fds=(hears, says), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(hears)
        os.close(says)
        self._read = b""
        self._number = 0
        self._told: list[dict[str, Any]] = []

    def end(self) -> None:
        """Closed, and its profile thrown away."""
        try:
            self.ask("Browser.close")
            self._process.wait(PATIENCE)
        finally:
            self._process.kill()
            shutil.rmtree(self._profile, ignore_errors=True)

    def ask(self, method: str, session: str = "", **given: Any) -> dict[str, Any]:
        """What a method of the protocol gives."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": given}
        if session:
            message["sessionId"] = session
        left = json.dumps(message).encode() + b"\0"
        while left:
            left = left[os.write(self._to, left) :]
        while True:
            heard = self._message()
            if heard.get("id") == self._number:
                assert "error" not in heard, f"{method}: {heard['error']}"
                found: dict[str, Any] = heard["result"]
                return found
            self._told.append(heard)

    def told(self, method: str, session: str) -> None:
        """Waits for an event of a page."""
        while True:
            for one in self._told:
                if one.get("method") == method and one.get("sessionId") == session:
                    self._told.remove(one)
                    return
            self._told.append(self._message())

    def _message(self) -> dict[str, Any]:
        while b"\0" not in self._read:
            ready, _, _ = select.select([self._from], [], [], PATIENCE)
            assert ready, "the browser says nothing any more"
            more = os.read(self._from, 1 << 20)
            assert more, "the browser has ended"
            self._read += more
        one, _, self._read = self._read.partition(b"\0")
        found: dict[str, Any] = json.loads(one)
        return found

    @contextmanager
    def page(self, width: int, height: int, dark: bool = False) -> Iterator[str]:
        """An empty page of this size [pixels] in this scheme, by the name of its session."""
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        try:
            session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
            self.ask("Emulation.setDeviceMetricsOverride", session, width=width, height=height, deviceScaleFactor=1,
                     mobile=False)  # fmt: skip
            scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
            self.ask("Emulation.setEmulatedMedia", session, features=scheme)
            self.ask("Page.enable", session)
            yield session
            self.ask("Storage.clearDataForOrigin", session, origin="file:///", storageTypes="all")
        finally:
            self.ask("Target.closeTarget", targetId=target)
            self._told.clear()

    def text_of(self, address: str, width: int, height: int, dark: bool = False) -> str:
        """The page at an address after its virtual time, as the browser would write it."""
        with self.page(width, height, dark) as session:
            self.ask("Page.navigate", session, url=address)
            self.told("Page.loadEventFired", session)
            self.ask("Emulation.setVirtualTimePolicy", session, policy="pauseIfNetworkFetchesPending", budget=BUDGET,
                     maxVirtualTimeTaskStarvationCount=9999)  # fmt: skip
            self.told("Emulation.virtualTimeBudgetExpired", session)
            found = self.ask("Runtime.evaluate", session, expression="document.documentElement.outerHTML")
            text: str = found["result"]["value"]
            return text

    def printed(self, address: str) -> bytes:
        """The page at an address on paper [PDF], of the size that it asks for itself."""
        with self.page(800, 600) as session:
            self.ask("Page.navigate", session, url=address)
            self.told("Page.loadEventFired", session)
            found = self.ask("Page.printToPDF", session, printBackground=True, preferCSSPageSize=True,
                             generateTaggedPDF=False)  # fmt: skip
            return base64.b64decode(found["data"])


_STARTED: list[Browser] = []


def browser(program: str) -> Browser:
    """The one of this process."""
    if not _STARTED:
        _STARTED.append(Browser(program))
    return _STARTED[0]


def ended() -> None:
    """The browser of this process, if one was started, is closed."""
    while _STARTED:
        _STARTED.pop().end()
