"""Windows of a browser that tests use in turn: opening one takes four times as long as a page in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, ViewportSize

_STATE = """
() => [devicePixelRatio, navigator.maxTouchPoints, navigator.onLine, matchMedia("print").matches,
       matchMedia("(prefers-color-scheme: dark)").matches]
"""
"""What a test may have changed of a window that no new page puts back."""


@dataclass
class _Window:
    options: dict[str, Any]
    page: Page
    as_new: list[Any]
    complaints: list[str] = field(default_factory=list)
    lent: bool = False


class Windows:
    """Lends windows to one test at a time: empty, without cookies, and as they were when new."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._windows: list[_Window] = []

    def lend(self, viewport: ViewportSize, **options: Any) -> Page:
        """A window for this test alone.

        Parameters
        ----------
        viewport
            Its size, in CSS pixels.
        options
            As Playwright's `new_context` takes them.

        Returns
        -------
        Page
            Empty.
        """
        fitting = (window for window in self._windows if not window.lent and window.options == options)
        window = next(fitting, None) or self._new(options)
        window.lent = True
        window.page.set_viewport_size(viewport)
        return window.page

    def take_back(self) -> list[str]:
        """Make all that are lent ready for the next test.

        Returns
        -------
        list[str]
            What their pages said on the console, and what they asked the network for.
        """
        complaints = []
        for window in [window for window in self._windows if window.lent]:
            page = window.page
            page.mouse.move(0, 0)
            page.goto("about:blank")
            page.context.clear_cookies()
            complaints += window.complaints
            window.complaints.clear()
            window.lent = False
            if page.evaluate(_STATE) != window.as_new or len(page.context.pages) > 1:
                page.context.close()
                self._windows.remove(window)
        return complaints

    def _new(self, options: dict[str, Any]) -> _Window:
        page = self._browser.new_context(**options).new_page()
        window = _Window(options, page, page.evaluate(_STATE))
        told = window.complaints.append
        page.on("console", lambda message: told(f"console: {message.text}"))
        page.on("pageerror", lambda error: told(f"error: {error}"))
        page.on("request", lambda request: told(f"request: {request.url}"))
        self._windows.append(window)
        return window
