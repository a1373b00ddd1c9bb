"""While somebody still speaks: the words so far are shown, and the engines get a head start when it may be over. What
they hear then is shown before it is sure that it is over; and where nothing can follow, it is over.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable

from log.basics.errors import EngineError
from tui.live.ears_to_come import Hearer
from tui.live.view import View
from voice.meaning.matcher import Listening
from voice.sound.endpoint import Endpointer
from voice.sound.segment import Segment


class SoFar:
    """One utterance while it lasts."""

    def __init__(self, ears: Hearer, view: View, heard_at: Callable[[float], Listening]) -> None:
        """`heard_at`: how something is to be heard whose first sound was at this moment, in seconds."""
        self._ears, self._view, self._heard_at = ears, view, heard_at
        self._shown = 0.0
        """Seconds of it that were shown."""
        self._started_early = False
        """The engines have begun with an utterance that is probably over."""

    def quiet(self) -> None:
        """Nobody speaks: what comes next is shown from its beginning."""
        self._shown = 0.0

    def over(self) -> None:
        """The utterance is over, and is heard as a whole."""
        self._started_early = False

    def follow(self, endpointer: Endpointer) -> Segment | None:
        """Shows the words so far when enough is new, and gives the engines a head start when it seems to be over; the
        utterance itself where nothing can follow what they hear of it.
        """
        over = endpointer.perhaps_over()
        if over is not None:
            listening = self._heard_at(over.start)
            if not self._started_early:
                self._started_early = True
                self._ears.early(over, listening)
            return endpointer.end() if self._is_whole(listening) else None
        self._started_early = False
        self._show()
        so_far = endpointer.so_far()
        if so_far is None or endpointer.quiet_seconds or so_far.seconds < self._shown + self._ears.step:
            return None
        if self._ears.partly(so_far, self._heard_at(so_far.start)):
            self._shown = so_far.seconds
        return None

    def _is_whole(self, listening: Listening) -> bool:
        """Shows what was heard of what is perhaps over."""
        with contextlib.suppress(EngineError):
            hearing = self._ears.heard_early()
            if hearing is not None and hearing.text:
                self._view.partial(hearing.text)
                return self._ears.is_whole(hearing, listening)
        return False

    def _show(self) -> None:
        with contextlib.suppress(EngineError):  # whatever it is, it is reported when the whole utterance is heard
            words = self._ears.words_so_far()
            if words is not None:
                self._view.partial(words)
