"""A headless Chromium driven over its own pipe, with nothing but the standard library.

`Browser` opens pages, presses keys and moves the pointer as a person would, and
keeps what the console said and which addresses were asked for.
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome")
PATIENCE = 30.0  # [s]
OPTIONS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--hide-scrollbars",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-extensions",
    "--remote-debugging-pipe",
)


def find_browser() -> str | None:
    """Path of a Chromium, or None."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One page in a headless Chromium of a given size. Use it as a context.

    Attributes
    ----------
    console : list of str
        Errors and warnings that the page raised or wrote.
    requests : list of str
        Addresses that the page asked for.
    """

    def __init__(self, path: str, width: int = 1200, height: int = 900):
        self.console: list[str] = []
        self.requests: list[str] = []
        self._folder = tempfile.mkdtemp(prefix="annulus-browser-")
        to_browser, self._write = os.pipe()
        self._read, from_browser = os.pipe()
        command = [path, *OPTIONS, f"--user-data-dir={self._folder}", f"--window-size={width},{height}", "about:blank"]

        def wire() -> None:  # the browser reads on 3 and writes on 4
            high_in, high_out = os.dup(to_browser), os.dup(from_browser)
            os.dup2(high_in, 3)
            os.dup2(high_out, 4)

        self._process = subprocess.Popen(
            command, preexec_fn=wire, close_fds=False, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        os.close(to_browser)
        os.close(from_browser)
        self._number, self._buffer = 0, b""
        self._waiting: list[dict[str, Any]] = []
        self._page: str | None = None
        targets = self.call("Target.getTargets")["targetInfos"]
        target = next(one["targetId"] for one in targets if one["type"] == "page")
        self._page = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for part in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{part}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._write)
        os.close(self._read)
        self._process.terminate()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(PATIENCE)
        shutil.rmtree(self._folder, ignore_errors=True)

    def call(self, method: str, **values: Any) -> dict[str, Any]:
        """One command of the DevTools protocol and its answer."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": values}
        if self._page is not None:
            message["sessionId"] = self._page
        os.write(self._write, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + PATIENCE
        while True:
            answer = self._next(until)
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise AssertionError(f"{method}: {answer['error']}")
                return answer["result"]
            self._notice(answer)

    def _next(self, until: float) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._read], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                raise AssertionError(f"the browser did not answer within {PATIENCE:g} s")
            more = os.read(self._read, 1 << 20)
            if not more:
                raise AssertionError("the browser has ended")
            self._buffer += more
        message, _, self._buffer = self._buffer.partition(b"\0")
        return json.loads(message)

    def _notice(self, event: dict[str, Any]) -> None:
        """Keep what a test asks about later."""
        method, values = event.get("method"), event.get("params", {})
        if method == "Runtime.exceptionThrown":
            self.console.append(json.dumps(values["exceptionDetails"].get("exception", values["exceptionDetails"])))
        elif method == "Runtime.consoleAPICalled" and values["type"] in ("error", "warning", "assert"):
            self.console.append(" ".join(str(one.get("value", one.get("description"))) for one in values["args"]))
        elif method == "Log.entryAdded" and values["entry"]["level"] in ("error", "warning"):
            self.console.append(values["entry"]["text"])
        elif method == "Network.requestWillBeSent":
            self.requests.append(values["request"]["url"])

    def open(self, address: str) -> None:
        """Go to a page and wait until it has loaded."""
        self.call("Page.navigate", url=address)
        self.wait(lambda: self.run("document.readyState") == "complete" and self.run("location.href") != "about:blank")

    def run(self, script: str) -> Any:
        """Value of an expression in the page."""
        answer = self.call("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise AssertionError(f"{script}: {answer['exceptionDetails']}")
        return answer["result"].get("value")

    def wait(self, holds: Callable[[], Any], patience: float = PATIENCE) -> float:
        """Wait until something holds; the seconds it took."""
        begun = time.monotonic()
        while not holds():
            if time.monotonic() - begun > patience:
                raise AssertionError(f"still not so after {patience:g} s")
            time.sleep(0.01)
        return time.monotonic() - begun

    def point(self, x: float, y: float, kind: str = "mouseMoved", **more: Any) -> None:
        """Move the pointer to a place in the window (or press, or release) [px]."""
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)

    def click(self, selector: str) -> None:
        """Bring an element into view and click it."""
        place = self.box(selector)
        x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
        for kind in ("mousePressed", "mouseReleased"):
            self.point(x, y, kind, button="left", clickCount=1)

    def box(self, selector: str) -> dict[str, float]:
        """Where an element stands in the window once it is scrolled into view. [px]"""
        return self.run(
            f"(() => {{ const e = document.querySelector({json.dumps(selector)});"
            " e.scrollIntoView({block: 'center'}); const b = e.getBoundingClientRect();"
            " return {x: b.x, y: b.y, width: b.width, height: b.height}; })()"
        )

    def press(self, key: str, **more: Any) -> None:
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=key, code=key, **more)

    def text(self, selector: str) -> str:
        """Text of an element."""
        return self.run(f"document.querySelector({json.dumps(selector)}).textContent")

    def photograph(self, path: Path, whole: bool = False) -> None:
        """Save what is seen as a PNG."""
        picture = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(picture["data"]))

    def print(self, path: Path) -> None:
        """Save the page as it would be printed, as PDF."""
        path.write_bytes(base64.b64decode(self.call("Page.printToPDF", printBackground=True)["data"]))
