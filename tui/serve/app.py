"""Answers to the browser: the page with everything in it, and then, about once a second, what has changed."""

from __future__ import annotations

import asyncio
import base64
import hashlib
import json
import time
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from html import escape
from importlib.resources import files
from string import Template

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response, StreamingResponse
from starlette.routing import Route

from log.basics.visible import visible
from tui.serve.access import Access, Guarded
from tui.serve.following import Following

LOOK_EVERY = 0.25
"""Seconds between two looks at the case."""
BEAT = 1.0
"""Seconds after which something is sent whatever has changed: silence is how the page knows that it is cut off."""


def bedside_app(following: Following, access: Access, ended: Callable[[], bool]) -> Guarded:
    """The page of one case, for those whom `access` lets in, until it has `ended`."""
    template, style, script = (_shipped(f"bedside.{end}") for end in ("html", "css", "js"))
    page = Template(template)

    async def whole(request: Request) -> Response:
        seen = await run_in_threadpool(following.look, _now())
        title = escape(visible(following.case.opened.case))
        return HTMLResponse(page.substitute(seen.sections, title=title, style=style, script=script))

    async def events(request: Request) -> Response:
        if request.method == "HEAD":
            return Response(media_type="text/event-stream")
        return StreamingResponse(_changes(following, ended), media_type="text/event-stream")

    routes = [Route("/", whole), Route("/events", events)]
    return Guarded(Starlette(routes=routes), access, _policy(style, script))


def _shipped(name: str) -> str:
    return files("tui.serve").joinpath(name).read_text(encoding="utf-8")


def _policy(style: str, script: str) -> str:
    """Nothing runs and nothing styles but what is shipped, and nothing is fetched but the events."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _now() -> datetime:
    return datetime.now(UTC).astimezone()


async def _changes(following: Following, ended: Callable[[], bool]) -> AsyncIterator[str]:
    """Server-sent events: first everything, then what is no longer as it was sent."""
    sent: dict[str, str] = {}
    sent_at = 0.0
    yield "retry: 1000\n\n"
    while not ended():
        seen = await run_in_threadpool(following.look, _now())
        new = {name: html for name, html in seen.sections.items() if sent.get(name) != html}
        if new or seen.trouble or time.monotonic() - sent_at >= BEAT:
            sent |= new
            sent_at = time.monotonic()
            yield f"data: {json.dumps({'sections': new, 'trouble': visible(seen.trouble)})}\n\n"
        await asyncio.sleep(LOOK_EVERY)
