"""Connections on which nobody asks anything: they are closed, so that they keep no browser out."""

from __future__ import annotations

from asyncio import Transport

from uvicorn.protocols.http.h11_impl import H11Protocol

ASKS_WITHIN = 5.0
"""Seconds from the connection to the end of the first request's headers."""

MOST_OPEN = 200
"""Connections; then those on which nothing was asked yet make room for the newest."""


class Impatient(H11Protocol):
    """HTTP as uvicorn speaks it, which waits only so long for a question."""

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
        """Begins to wait."""
        if len(self.connections) >= MOST_OPEN:
            for other in [one for one in self.connections if isinstance(one, Impatient)]:
                other.give_up()
        super().connection_made(transport)
        self.loop.call_later(ASKS_WITHIN, self.give_up)

    def give_up(self) -> None:
        """Closes the connection if nothing was asked on it."""
        if self.cycle is None:
            self.transport.close()
