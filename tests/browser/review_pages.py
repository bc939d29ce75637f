"""Pages for the browser to open, and what the tests ask of any page."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

import corpus
from arrange.cli import main

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SCORES = Path(corpus.__file__).parent
HOSTILE = "</script><script>window.hacked=1</script><img src=x onerror='window.hacked=1'>"


@dataclass
class Opened:
    """A browser, and what its pages complained of."""

    browser: Browser
    complaints: list[str] = field(default_factory=list)

    def page(self, file: Path, *, width: int = 1440, is_dark: bool = False) -> Page:
        """A page in a window of its own, opened from disk, its first systems drawn."""
        shown = self.browser.new_page(
            viewport={"width": width, "height": 900},
            color_scheme="dark" if is_dark else "light",
            reduced_motion="reduce",
        )
        shown.on("console", lambda message: self.complaints.append(message.text))
        shown.on("pageerror", lambda error: self.complaints.append(str(error)))
        shown.on("request", self._asked)
        shown.goto(file.as_uri())
        shown.locator(".system svg").first.wait_for()
        return shown

    def _asked(self, request: object) -> None:
        url = str(getattr(request, "url", ""))
        if not url.startswith(("file:", "blob:", "data:")):
            self.complaints.append(f"asks for {url}")


@contextmanager
def opened() -> Iterator[Opened]:
    """A browser for all tests of a module; its pages must not complain."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        found = Opened(browser)
        yield found
        browser.close()
    assert found.complaints == []


def converted(source: Path, *options: str) -> Path:
    """Convert a score with its review page; the page's file."""
    out = source.with_name(f"{source.stem}.lever.musicxml")
    assert main(["convert", str(source), "-o", str(out), "--review", *options]) in (0, 3)
    return source.with_name(f"{source.stem}.lever.review.html")


def hostile_score(folder: Path) -> Path:
    """A score whose every text tries to get out of its place."""
    spelled = HOSTILE.replace("<", "&lt;").replace(">", "&gt;")
    text = (SCORES / "chorale-evening-bell.musicxml").read_text("utf-8")
    title = text[text.index("<work-title>") : text.index("</work-title>")]
    text = text.replace(title, f"<work-title>{spelled}", 1)
    words = (
        '<direction placement="above"><direction-type>'
        f'<words xml:lang="&quot;&gt;&lt;script&gt;">{spelled}</words>'
        f"</direction-type></direction>"
    )
    text = text.replace("<note", f"{words}<note", 1)
    lyric = f'<lyric number="1"><text>{spelled}</text></lyric>'
    text = text.replace("</note>", f"{lyric}</note>", 1)
    file = folder / "a' onclick='hacked=1' \"><b>&amp;.musicxml"
    file.write_text(text, "utf-8")
    return file
