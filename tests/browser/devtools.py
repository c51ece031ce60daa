"""A small client of Chromium's DevTools protocol over its pipe: standard library only, no port is opened.

Messages are JSON, each ended by a zero byte; the browser reads them from descriptor 3 and writes to 4
(`--remote-debugging-pipe`).
"""

import base64
import contextlib
import fcntl
import json
import os
import shutil
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import Any

Message = dict[str, Any]

_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
_ABOVE_STANDARD = 10


class Browser:
    """A running browser; `open_browser` starts and ends one."""

    def __init__(self, to_browser: int, from_browser: int) -> None:
        self._to = os.fdopen(to_browser, "wb", buffering=0)
        self._from = os.fdopen(from_browser, "rb", buffering=0)
        self._rest = b""
        self._last = 0
        self.events: list[Message] = []

    def send(self, method: str, session: str | None = None, **params: object) -> Message:
        """Send a command and return its result; what happens meanwhile is kept in `events`."""
        self._last += 1
        message: Message = {"id": self._last, "method": method, "params": params}
        if session:
            message["sessionId"] = session
        self._to.write(json.dumps(message).encode() + b"\0")
        while (answer := self._next()).get("id") != self._last:
            self.events.append(answer)
        if "error" in answer:
            raise RuntimeError(f"{method}: {answer['error']}")
        result: Message = answer["result"]
        return result

    def wait_for(self, method: str) -> Message:
        """Return the next event of a kind, seen already or to come."""
        while not (found := [event for event in self.events if event.get("method") == method]):
            self.events.append(self._next())
        return found[0]

    def close(self) -> None:
        """Close the pipe."""
        self._to.close()
        self._from.close()

    def _next(self) -> Message:
        while b"\0" not in self._rest:
            if not (more := self._from.read(1 << 20)):
                raise RuntimeError("the browser has ended")
            self._rest += more
        text, self._rest = self._rest.split(b"\0", 1)
        message: Message = json.loads(text)
        return message


class Tab:
    """A page as a visitor sees it, at a size and in a colour scheme."""

    def __init__(self, browser: Browser, *, width_px: int, dark: bool, media: str = "") -> None:
        self._browser = browser
        target = browser.send("Target.createTarget", url="about:blank")["targetId"]
        self._session = browser.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        self._target = target
        browser.events.clear()
        for domain in ("Page", "Network", "Runtime", "Log"):
            self._send(f"{domain}.enable")
        self._send(
            "Emulation.setDeviceMetricsOverride",
            width=width_px,
            height=900,
            deviceScaleFactor=1,
            mobile=width_px < 600,
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        # Where no medium is named the page is shown as on a screen and printed as on paper.
        self._send("Emulation.setEmulatedMedia", media=media, features=[scheme])

    def open(self, path: Path) -> None:
        """Load a file and wait until it has loaded."""
        self._browser.events.clear()
        answer = self._send("Page.navigate", url=path.resolve().as_uri())
        if "errorText" in answer:
            raise RuntimeError(f"{path}: {answer['errorText']}")
        self._browser.wait_for("Page.loadEventFired")

    def evaluate(self, expression: str) -> Any:  # noqa: ANN401 - whatever the page answers
        """Return the value of a JavaScript expression in the page."""
        answer = self._send("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(str(answer["exceptionDetails"]))
        return answer["result"].get("value")

    def events(self, method: str) -> list[Message]:
        """Return the parameters of what has happened since the page was opened."""
        self.evaluate("new Promise(done => requestAnimationFrame(() => setTimeout(done, 50)))")
        return [event["params"] for event in self._browser.events if event.get("method") == method]

    def screenshot(self) -> bytes:
        """Return the whole page as a PNG file."""
        size = self._send("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        shot = self._send("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        return base64.b64decode(shot["data"])

    def pdf(self, *, paper_in: tuple[float, float]) -> bytes:
        """Print the page as a PDF file, with the page's own margins."""
        width, height = paper_in
        printed = self._send(
            "Page.printToPDF",
            paperWidth=width,
            paperHeight=height,
            printBackground=True,
            preferCSSPageSize=False,
            marginTop=0.4,
            marginBottom=0.4,
            marginLeft=0.4,
            marginRight=0.4,
        )
        return base64.b64decode(printed["data"])

    def close(self) -> None:
        """Close the tab."""
        self._browser.send("Target.closeTarget", targetId=self._target)

    def _send(self, method: str, **params: object) -> Message:
        return self._browser.send(method, self._session, **params)


@contextlib.contextmanager
def open_browser(profile: Path) -> Iterator[Browser]:
    """Start Chromium with an empty profile and end it again.

    Raises
    ------
    FileNotFoundError
        There is no Chromium.
    """
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        raise FileNotFoundError("these tests need chromium: apt-get install chromium")
    commands, answers = os.pipe(), os.pipe()
    # Out of the way of 3 and 4, which the child's ends become.
    child_in, child_out = (
        fcntl.fcntl(fd, fcntl.F_DUPFD, _ABOVE_STANDARD) for fd in (commands[0], answers[1])
    )
    log = os.open(profile.parent / "chromium.log", os.O_WRONLY | os.O_CREAT, 0o600)
    pid = os.posix_spawn(
        program,
        [program, *_FLAGS, f"--user-data-dir={profile}", "about:blank"],
        os.environ,
        file_actions=[
            (os.POSIX_SPAWN_DUP2, log, 1),
            (os.POSIX_SPAWN_DUP2, log, 2),
            (os.POSIX_SPAWN_DUP2, child_in, 3),
            (os.POSIX_SPAWN_DUP2, child_out, 4),
        ],
    )
    for fd in (commands[0], answers[1], child_in, child_out, log):
        os.close(fd)
    browser = Browser(commands[1], answers[0])
    try:
        yield browser
        browser.send("Browser.close")
    except BaseException:
        os.kill(pid, signal.SIGTERM)
        raise
    finally:
        os.waitpid(pid, 0)
        browser.close()
