"""Access to the page: the first browser that opens the address with the token. Any other gets a refusal that says
nothing of the case.
"""

from __future__ import annotations

import ipaddress
import secrets

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "Cross-Origin-Resource-Policy": "same-origin",
}
"""Sent with every answer, beside the policy of the page."""

REFUSED = (
    "This page is for the one browser in which its address was opened first.\n"
    "For another, start the program again and open the address that it prints.\n"
)


MOST_AT_ONCE = 32
"""Answers, to those who were let in: a page that is open takes one all the time."""

TOO_MANY = PlainTextResponse("This page is open too often: close some.\n", 503)


def is_loopback(host: str) -> bool:
    """Whether nobody outside this machine can reach this host."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def authority(host: str, port: int) -> str:
    """Host and port as they stand in an address."""
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"


class Access:
    """The token, until it is spent, and the session of the browser that spent it."""

    def __init__(self, host: str, port: int) -> None:
        self._token: str | None = secrets.token_urlsafe(32)
        self._session = secrets.token_urlsafe(32)
        # cookies are shared between all ports of a host: two pages must not take each other's session away
        self._cookie = f"bedside-{secrets.token_hex(8)}"
        self.address = f"http://{authority(host, port)}/?token={self._token}"
        names = {host, "localhost", "127.0.0.1", "::1"} if is_loopback(host) else {host}
        asked_as = {authority(name, port) for name in names}
        self._asked_as = asked_as | ({name.removesuffix(":80") for name in asked_as} if port == 80 else set())

    def refusal(self, request: Request) -> PlainTextResponse | None:
        """The answer to a request that is not let in."""
        if request.headers.get("host", "").lower() not in self._asked_as:
            # somebody else's name that was made to point here would let a strange page read this one
            return PlainTextResponse("This page does not go by that name.\n", 403)
        if request.method not in ("GET", "HEAD"):
            return PlainTextResponse("This page is only read.\n", 405, {"Allow": "GET, HEAD"})
        if not _same(request.cookies.get(self._cookie), self._session) and not self._is_ticket(request):
            return PlainTextResponse(REFUSED, 403)
        return None

    def spend(self, request: Request) -> str | None:
        """The cookie for a browser that comes with the token, which then is worth nothing any more."""
        if not self._is_ticket(request):
            return None
        self._token = None
        return f"{self._cookie}={self._session}; Path=/; HttpOnly; SameSite=Strict"

    def _is_ticket(self, request: Request) -> bool:
        return (
            request.method == "GET"
            and request.url.path == "/"
            and self._token is not None
            and _same(request.query_params.get("token"), self._token)
        )


def _same(given: str | None, wanted: str) -> bool:
    return given is not None and secrets.compare_digest(given.encode(), wanted.encode())


class Guarded:
    """An application that is asked only by those who may, and whose every answer carries the headers."""

    def __init__(self, app: ASGIApp, access: Access, policy: str) -> None:
        self._app, self._access = app, access
        self._answering = 0
        self._headers = {**HEADERS, "Content-Security-Policy": policy}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request. There is no waiting between the look at the token and its spending."""
        request = Request(scope)
        refusal = self._access.refusal(request)
        cookie = self._access.spend(request) if refusal is None else None

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(self._headers)
                if cookie is not None:
                    headers.append("Set-Cookie", cookie)
            await send(message)

        if refusal is not None:
            await refusal(scope, receive, sending)
            return
        self._answering += 1
        try:
            await (self._app if self._answering <= MOST_AT_ONCE else TOO_MANY)(scope, receive, sending)
        finally:
            self._answering -= 1
