"""The room is listened to: one thread hears, another writes (`writing`), and the view is notified afterwards.

The hearing thread takes frames from the source, finds the stretches of speech and has the engines hear them.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime

from log.basics.errors import EngineError, IncompleteInput, TamponadeError
from log.scribe.session import Session, wall_clock
from tui.live.door import Door
from tui.live.ears_to_come import Hearer
from tui.live.muting import Muting, Ours
from tui.live.replay import logged, noted, unheard
from tui.live.request import Asked, Request
from tui.live.slow import shown_if_slow
from tui.live.so_far import SoFar
from tui.live.view import LiveSource, Mode, State, View
from tui.live.writing import Doing, Writing, unexpected
from voice.meaning.matcher import Listening
from voice.meaning.verdict import Hearing
from voice.sound.audio import Frame
from voice.sound.endpoint import Endpointer
from voice.sound.reception import Back, Lost
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.sound.sound_check import RoomCheck

KEY_HOLDS = 1.0
"""Seconds for which one press of the talk key opens the ear; a key that is held repeats itself."""

SHORTEST_GAP = 0.05
"""Seconds: sound that came late, but whole, is no gap."""

LOADING = "the engines are loading: what is said now is heard in a moment"

END_OF_SOUND = "end of the recording"


class LiveCase:
    """One case being listened to. `start`, then `do` what the scribe wants, then `stop`."""

    def __init__(
        self,
        source: LiveSource,
        session: Session,
        ears: Hearer,
        mode: Mode,
        view: View,
        again: Callable[[], LiveSource] | None = None,
    ) -> None:
        """`again`: the source anew, where that can be had."""
        self.session = session
        self.coming: Mode | None = None
        """The mode that was asked for, until that is in the log."""
        self._mode, self._ears, self._again = mode, ears, again
        self._source, self._view = source, view
        self._check = RoomCheck()
        self._unheard: tuple[float, str] | None = None
        """Since when the source has failed, and why."""
        self._writing = Writing(session, view, lambda: self.now)
        self._door = Door(session.case.path, self._asked_from_outside)
        self._stopping = threading.Event()
        self._began = time.monotonic()
        self._key_until = 0.0
        self._muting = Muting()
        self._state: tuple[State, str] = ("starting", "")
        self._so_far = SoFar(ears, view, self._as_heard)
        self._hearing_thread = threading.Thread(target=self._listen, name="hearing", daemon=True)

    @property
    def mode(self) -> Mode:
        """How entries are said now."""
        return self._mode

    @property
    def lead_word(self) -> str | None:
        """The word that has to come before an entry now."""
        return self._lead_word(self._mode)

    @property
    def now(self) -> float:
        """Seconds on the session's clock."""
        return time.monotonic() - self._began

    @property
    def time(self) -> datetime:
        """The time in the room, by the session's clock: it does not jump when somebody sets the machine's."""
        return self.session.time(self.now)

    def start(self) -> None:
        """Begins to listen."""
        ahead = max(0.0, (wall_clock() - self.session.began).total_seconds())  # 0 where the clock was set back
        self._began = time.monotonic() - ahead
        self.session.ledger.patient = True
        self._writing.start()
        self.do(lambda session: session.listens(self.mode, self.lead_word, session.author, self.now))
        self._hearing_thread.start()
        self._door.open()

    def do(self, what: Doing) -> None:
        """Has something done to the case; the view is notified of what came of it. Returns at once."""
        self._writing.do(what)

    def done(self, what: Doing) -> None:
        """The same, and returns when it is on disk. Raises what it raises, and StoreError if it takes too long."""
        self._writing.done(what)

    def _asked_from_outside(self, request: Request) -> str:
        """On the thread of the door: done like what the scribe does, and shown as that is."""
        asked = Asked(request, self._ears.phrases, lambda: self.now)
        self.done(asked.perform)
        return asked.in_words

    def key_pressed(self) -> None:
        """The talk key: what is said in the next moment is meant for the log."""
        self._key_until = self.now + KEY_HOLDS

    def mute(self, sounding: bool, what: Ours = "read-back") -> None:
        """Nothing is heard while something of ours sounds, and a moment longer; that interval is in the log."""
        (self._muting.sounds if sounding else self._muting.silent)(what, self.now)

    @property
    def paused(self) -> bool:
        """Whether somebody wants nothing to be heard."""
        return self._muting.by_hand

    def pause(self) -> None:
        """Nothing is heard until `go_on`; that interval is in the log."""
        self._muting.pause(self.now, self.time)

    def go_on(self) -> None:
        """Hears again after `pause`."""
        self._muting.go_on(self.now)

    def change_mode(self, mode: Mode, by: str) -> None:
        """Has entries said in another way as soon as that is in the log. Returns at once."""
        self.coming = mode
        self._writing.run(lambda session: self._changed(session, mode, by))

    def check_again(self) -> None:
        """Measures the room anew, from what is heard anyway."""
        self._check = RoomCheck()

    def listen_again(self) -> bool:
        """Begins to listen anew where that had ended; False if it has not, or cannot begin again."""
        if self._again is None or self._hearing_thread.is_alive() or self._stopping.is_set():
            return False
        self._source = self._again()
        self._hearing_thread = threading.Thread(target=self._listen, name="hearing", daemon=True)
        self._hearing_thread.start()
        return True

    def stop(self, why: str) -> None:
        """Ends listening and closes the case. Returns when it is closed. Raises StoreError if that fails."""
        self._stopping.set()
        self._door.close()
        close = getattr(self._source, "close", None)
        if close is not None:
            close()
        if self._hearing_thread.is_alive():
            self._hearing_thread.join(timeout=5)
        self._heard_again(self.now)
        self._writing.close(why)

    # ---- the hearing thread ----------------------------------------------------------------------------------------

    def _listen(self) -> None:
        why = END_OF_SOUND
        self._say_state("starting")
        try:
            self._hear_all()
        except IncompleteInput as error:
            why = f"the recording breaks off: {error.problem}"
            self._gap(self.now, 0.0, why)
        except Exception as error:
            failure = error if isinstance(error, TamponadeError) else unexpected(error)
            why = str(failure)
            if self._unheard is None:  # what was tried in vain since is part of the same silence
                began = self.now
                self._gap(began, 0.0, why)
                self._unheard = began, why
            self._view.failed(failure)
        self._writing.run(lambda session: self._say_state("stopped", why))  # after all that was heard

    def _hear_all(self) -> None:
        base = at = self.now
        self._muting.sound_comes(base)
        self._so_far.quiet()
        endpointer: Endpointer | None = None  # until sound comes, and after each time in which none was wanted
        for came in self._source.frames():
            if self._stopping.is_set():
                break
            if not isinstance(came, Frame):
                self._finish(endpointer)
                endpointer = None
                self._interrupted(replace(came, at=came.at + base))
                continue
            frame = Frame(came.pcm, came.first_sample + round(base * SAMPLE_RATE))
            at = frame.first_sample / SAMPLE_RATE
            self._heard_again(at)
            self._view.level(frame.pcm)
            self._judge(frame, endpointer is not None and endpointer.in_speech)
            if self._is_muted(at):
                self._finish(endpointer)  # what was said before our own voice began
                endpointer = None
                continue
            speaking = endpointer is not None and endpointer.in_speech
            if not speaking:
                self._ears.expect(self._as_heard(at))
            if self.mode == "push to talk" and not speaking and at > self._key_until:
                self._say_state("waiting for the key")
                endpointer = None
                continue
            endpointer = endpointer or Endpointer(frame.first_sample)
            segment = endpointer.push(frame)
            if segment is None and endpointer.in_speech:
                self._say_state("hearing")
                segment = self._so_far.follow(endpointer)
            if segment is not None:
                self._so_far.quiet()
                self._heard(segment)
            elif not endpointer.in_speech:
                self._so_far.quiet()
                self._say_state("listening", LOADING if self._ears.loading else "")
        self._finish(endpointer)
        self._was_muted(self._muting.ended(), max(self.now, at))

    def _heard_again(self, at: float) -> None:
        """The source is back after it had failed, or it is too late for that."""
        if self._unheard is not None:
            (began, why), self._unheard = self._unheard, None
            if at - began >= SHORTEST_GAP:
                self._gap(began, at - began, why)

    def _judge(self, frame: Frame, speaking: bool) -> None:
        result = self._check.push(frame, speaking)
        if result is not None:
            self._view.checked(result)

    def _finish(self, endpointer: Endpointer | None) -> None:
        while endpointer is not None and (segment := endpointer.flush()) is not None:
            self._heard(segment)

    def _interrupted(self, what: Lost | Back) -> None:
        if isinstance(what, Lost):
            self._say_state("lost", what.reason)
            return
        if what.seconds >= SHORTEST_GAP:
            self._gap(what.at - what.seconds, what.seconds, what.reason)
        self._say_state("listening")

    def _is_muted(self, at: float) -> bool:
        why = self._muting.why(at)
        if why is not None:
            self._say_state("paused" if self._muting.by_hand else "muted", why)
            return True
        self._was_muted(self._muting.over(at), at)
        return False

    def _was_muted(self, shut: tuple[float, str] | None, at: float) -> None:
        if shut is not None:
            began, why = shut
            self._gap(began, at - began, why)

    def _heard(self, segment: Segment) -> None:
        self._so_far.over()
        listening = self._as_heard(segment.start)
        try:
            slow = shown_if_slow(lambda why: self._say_state("lost", why))
            with nullcontext() if self._ears.loading else slow:
                hearing = self._ears.hear(segment, listening)
        except EngineError as error:
            why, at = str(error), self.now
            self.do(lambda session: unheard(session, segment, why, at))
            return
        known_at = max(self.now, segment.overheard_until / SAMPLE_RATE)  # a sound card may be ahead of the clock
        self._writing.run(lambda session: self._log(session, hearing, listening, known_at))

    def _as_heard(self, at: float) -> Listening:
        """Of something whose first sound was at this moment."""
        mode = self._mode
        return Listening(self._lead_word(mode), question_open=self.session.asked(at), in_talk=mode == "open")

    def _gap(self, began: float, seconds: float, why: str) -> None:
        known_at = self.now
        self.do(lambda session: session.gap(max(began, 0.0), max(seconds, 0.0), why, known_at))

    def _say_state(self, state: State, why: str = "") -> None:
        if (state, why) != self._state:
            self._state = state, why
            self._view.state(state, why)

    # ---- changing how entries are said -----------------------------------------------------------------------------

    def _changed(self, session: Session, mode: Mode, by: str) -> None:
        if self.coming != mode:  # another one was asked for meanwhile
            return
        facts = session.listens(mode, self._lead_word(mode), by, self.now)
        self._mode, self.coming = mode, None
        self._view.notify(facts)

    def _lead_word(self, mode: Mode) -> str | None:
        return self._ears.lead_word if mode == "lead word" else None

    # ---- on the writing thread -------------------------------------------------------------------------------------

    def _log(self, session: Session, hearing: Hearing, listening: Listening, known_at: float) -> None:
        facts = logged(session, hearing, listening, known_at)
        if noted(facts):
            self._view.notify(facts)
        else:
            self._view.heard(hearing, facts)
