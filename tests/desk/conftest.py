"""A desk on the sample trip that really listens, and a browser's part of talking to it."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest

from auditor.desk.desk import Desk
from auditor.desk.serving import serve

Fields = Mapping[str, object] | list[tuple[str, object]]


@dataclass
class Answer:
    """What the desk answered."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")


@dataclass
class Visitor:
    """Sends requests to a desk as the browser does that opened it; each part can be left away."""

    address: str
    cookie: str = ""
    headers: dict[str, str] = field(default_factory=dict)

    @property
    def host(self) -> str:
        return urlsplit(self.address).netloc

    def ask(self, method: str, path: str, fields: Fields | None = None, **headers: str | None) -> Answer:
        sent: dict[str, str | None] = {"Host": self.host, "Cookie": self.cookie}
        body = None
        if method == "POST":
            body = urlencode(fields or {})
            sent |= {"Origin": f"http://{self.host}", "Content-Type": "application/x-www-form-urlencoded"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        connection = http.client.HTTPConnection(self.host, timeout=60)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in sent.items():
            if value is not None:
                connection.putheader(name, value)
        if body is not None:
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(None if body is None else body.encode())
        answer = connection.getresponse()
        told = Answer(answer.status, dict(answer.getheaders()), answer.read())
        connection.close()
        return told

    def get(self, path: str, **headers: str | None) -> Answer:
        return self.ask("GET", path, None, **headers)

    def post(
        self,
        path: str,
        fields: Fields | None = None,
        **headers: str | None,
    ) -> Answer:
        return self.ask("POST", path, fields, **headers)

    def enter(self) -> Visitor:
        """Open the address that the terminal prints, and keep the cookie."""
        parts = urlsplit(self.address)
        opened = self.get(f"/?{parts.query}")
        assert opened.status == 303
        assert opened.headers["location"] == "/"
        self.cookie = opened.headers["set-cookie"].partition(";")[0]
        return self


@dataclass
class Running:
    """A desk that listens."""

    desk: Desk
    address: str
    logbook: Path
    thread: threading.Thread

    def close(self) -> None:
        self.desk.close_asked = True
        self.thread.join(20)
        assert not self.thread.is_alive()


StartDesk = Callable[[Path], Running]


@pytest.fixture
def start_desk() -> Iterator[StartDesk]:
    """Starts desks on logbooks, and ends them with the test."""
    started: list[Running] = []

    def start(logbook: Path) -> Running:
        desk = Desk(logbook, jobs=1)
        answers = threading.Event()
        addresses: list[str] = []

        def opened(address: str) -> None:
            addresses.append(address)
            answers.set()

        thread = threading.Thread(target=lambda: serve(desk, opened=opened), daemon=True)
        thread.start()
        assert answers.wait(30)
        running = Running(desk, addresses[0], logbook, thread)
        started.append(running)
        return running

    yield start
    for running in started:
        running.close()


@pytest.fixture
def running(tmp_path: Path, measured_sample: Callable[[Path], Path], start_desk: StartDesk) -> Running:
    """A desk on a logbook of the sample trip of the test's own."""
    return start_desk(measured_sample(tmp_path))


@pytest.fixture
def visitor(running: Running) -> Visitor:
    """A browser that has entered."""
    return Visitor(running.address).enter()
