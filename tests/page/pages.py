"""A page opened in a browser, with all that it asked for and complained of."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser


class Opened:
    """A page in a context of its own. told: console lines and errors; asked: addresses of all requests."""

    def __init__(self, browser: Browser, address: str, **options: Any) -> None:
        self.context = browser.new_context(accept_downloads=True, **options)
        self.page = self.context.new_page()
        self.told: list[str] = []
        self.closed = False
        self.asked: list[str] = []
        self.page.on("console", lambda line: self.told.append(f"{line.type}: {line.text}"))
        self.page.on("pageerror", lambda error: self.told.append(f"error: {error}"))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.set_default_timeout(8000)
        self.page.goto(address)
        self.origin = urlsplit(address)

    def press(self, *keys: str) -> None:
        """Keys one after the other."""
        for key in keys:
            self.page.keyboard.press(key)

    def text(self, selector: str) -> str:
        """The text of what a selector finds."""
        return self.page.locator(selector).inner_text()

    def current(self) -> dict[str, Any]:
        """The decision that is looked at: its id, and what is chosen."""
        return self.page.evaluate("""() => {
            const one = document.querySelector('.card[aria-current]');
            const state = one && one.querySelector('.state').textContent;
            return one && {id: one.id, choice: one.dataset.choice, state};
        }""")

    def violations(self) -> list[str]:
        """What axe finds against WCAG 2.2 A and AA, and its best practices."""
        found = Axe().run(self.page).response["violations"]
        return [f"{one['id']}: {one['nodes'][0]['html'][:160]} ({len(one['nodes'])})" for one in found]

    def close(self) -> None:
        """End it. Fails for any complaint, and for any request that left the origin."""
        if self.closed:
            return
        self.closed = True
        self.context.close()
        assert self.told == [], self.told
        own = (self.origin.scheme, self.origin.netloc)
        asked = [urlsplit(url) for url in self.asked]
        outside = [url for url in asked if url.scheme not in ("data", "blob")]
        assert [url for url in outside if (url.scheme, url.netloc) != own] == []
        if self.origin.scheme == "file":
            assert len(outside) == 1
