"""Sends one check and waits for its end, through rate limits, restarts and lost connections."""

from __future__ import annotations

import random
import threading
import time
from typing import Any

import httpx

from service.batch.pairs import Loaded
from service.batch.results import Row, of_failure, of_problem, of_report

_AGAIN = frozenset({408, 425, 429, 500, 502, 503, 504, 507})
_WAIT = 20
_LONGEST = 30.0


class GaveUp(Exception):  # noqa: N818 - says what happened
    """The service could not be reached, or did not end the check, within the patience given."""


class Interrupted(Exception):  # noqa: N818 - says what happened
    """The batch is being stopped."""


class Client:
    """One connection pool for all checks of a batch. ``patience`` in seconds for each."""

    def __init__(self, url: str, key: str | None, patience: float, stop: threading.Event) -> None:
        headers = {"Authorization": f"Bearer {key}"} if key else {}
        self._http = httpx.Client(base_url=url, headers=headers, timeout=httpx.Timeout(60.0, connect=10.0))
        self._patience, self._stop = patience, stop

    def close(self) -> None:
        """Close the connections."""
        self._http.close()

    def check(self, name: str, loaded: Loaded) -> tuple[Row, bytes | None]:
        """Send, wait, fetch the report. Raises Interrupted."""
        begun = time.monotonic()
        try:
            answer = self._submit(loaded, begun)
            while answer.status_code == 202:
                answer = self._follow(answer, begun)
        except GaveUp as error:
            return of_failure(name, str(error)), None
        if answer.status_code == 200:
            return self._report(name, answer, begun)
        return _refused(name, answer), None

    def _submit(self, loaded: Loaded, begun: float) -> httpx.Response:
        files: dict[str, Any] = {"part": ("part.step", loaded.part), "plan": ("plan.json", loaded.plan)}
        files |= {name: (name, data) for name, data in loaded.files.items()}
        headers = {"Prefer": f"wait={_WAIT}", "Idempotency-Key": loaded.key()}
        return self._patiently(begun, "POST", "/v1/checks", files=files, headers=headers)

    def _follow(self, answer: httpx.Response, begun: float) -> httpx.Response:
        """Ask for the report until it is there; 409 means not yet."""
        where = answer.headers["Location"]
        self._pause(float(answer.headers.get("Retry-After", 1)), begun)
        state = self._patiently(begun, "GET", where)
        if state.status_code != 200 or state.json()["state"] in ("queued", "running"):
            return httpx.Response(202, headers={"Location": where}) if state.status_code == 200 else state
        return self._patiently(begun, "GET", f"{where}/report.json")

    def _report(self, name: str, answer: httpx.Response, begun: float) -> tuple[Row, bytes | None]:
        """The report itself; a record instead of it means that the check was cancelled."""
        document = answer.json()
        if "report_version" in document:
            check = answer.headers.get("Location", str(answer.request.url.path)).removeprefix("/v1/checks/")
            return of_report(name, check.partition("/")[0], document), answer.content
        return of_failure(name, f"the check was {document.get('state', 'lost')}"), None

    def _patiently(self, begun: float, method: str, path: str, **options: Any) -> httpx.Response:
        pause = 0.5
        while True:
            try:
                answer = self._http.request(method, path, **options)
                if answer.status_code not in _AGAIN or _is_final(answer):
                    return answer
                wait = float(answer.headers.get("Retry-After", pause))
                why = f"the service answers {answer.status_code}"
            except httpx.TransportError as error:
                wait, why = pause, f"the service cannot be reached ({type(error).__name__})"
            pause = min(_LONGEST, pause * 2)
            if time.monotonic() - begun + wait > self._patience:
                raise GaveUp(why)
            self._pause(wait, begun)

    def _pause(self, seconds: float, begun: float) -> None:
        if time.monotonic() - begun > self._patience:
            raise GaveUp("the check did not end in time")
        if self._stop.wait(seconds * random.uniform(0.8, 1.2)):
            raise Interrupted


def _is_final(answer: httpx.Response) -> bool:
    """A check's own problem, which has an address of its own, says 500 for good; the service's 500 may pass."""
    return answer.status_code == 500 and answer.headers.get("Location", "").startswith("/v1/checks/")


def _refused(name: str, answer: httpx.Response) -> Row:
    try:
        document = answer.json()
        return of_problem(name, document, answer.status_code)
    except ValueError:
        return of_failure(name, f"the service answers {answer.status_code}")
