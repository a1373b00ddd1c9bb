"""The room's page laid out anew from what the screen knows, and the page of an emergency over it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from log.basics.visible import visible
from log.rules.emergency import Call
from tui.live.view import Mode
from tui.live.writing import unsaved
from tui.room.alarm import ByHand, EmergencyPage
from tui.room.panels import EAR, spoken_how
from tui.room.watch import Watching
from tui.views.emergency import EmergencyAtAGlance
from tui.views.timers import rung

if TYPE_CHECKING:
    from tui.room.app import RoomApp


class Picture:
    """The screen as a whole. It is laid out after every change, and every second."""

    def __init__(self, app: RoomApp, watching: bool) -> None:
        """`watching`: begins with the watch."""
        self._app = app
        self.watching = Watching(watching)
        self.by_hand = ByHand()
        self._looked_at: datetime | None = None
        """When the timers were looked at last."""

    def lay_out(self) -> None:
        """All of it."""
        app, showing = self._app, self._app.showing
        self._show_saving()
        self.show_alarm()
        course, record, now = showing.course, showing.record, app.time
        app.room.show(showing.bedside(now), record, course, now, self.watching.on)
        due = self.watching.look(course, record, now)
        if (due is not None and self.watching.rings(due, now)) or rung(record, self._looked_at or now, now):
            app.bell()
        self._looked_at = now
        app.room.show_watch(due, self.watching.offer(course), course, now)
        self.show_hero()
        self.show_ear()

    def show_hero(self) -> None:
        """The thing that matters now."""
        showing, now = self._app.showing, self._app.time
        due = self.watching.look(showing.course, showing.record, now)
        self._app.room.show_hero(showing.hero(now, self._up, due), showing.partial)

    def show_ear(self) -> None:
        """The state of the ear, how loud it is, and how one has to speak."""
        app, listening = self._app, self._app.listening
        mode: Mode = listening.mode if listening else "lead word"
        coming = listening.coming if listening else None
        lead_word = listening.lead_word if listening else app.session.procedure.lead_word
        app.room.show_ear(app.showing, spoken_how(mode, visible(lead_word or ""), coming), app.time)

    def show_alarm(self) -> None:
        """The page of an emergency, for as long as one is up."""
        app, up, page = self._app, self._up, self.alarm
        if up is None:
            if page is not None and app.screen is page:
                app.pop_screen()
            return
        if page is None:
            page = EmergencyPage()
            app.bell()
            app.clear_notifications()
            app.push_screen(page)
        page.show(up, EAR[app.showing.ear], app.showing.newest, app.showing.just_heard)

    def called(self, call: Call | None) -> None:
        """A key calls an emergency, or ends the one that is up, before anything is written down."""
        if call is not None:
            self.by_hand.call(call, self._app.time)
        else:
            self.by_hand.end(self._up)
        self.lay_out()

    @property
    def alarm(self) -> EmergencyPage | None:
        """The page of an emergency, if it is up."""
        return next((screen for screen in self._app.screen_stack if isinstance(screen, EmergencyPage)), None)

    @property
    def _up(self) -> EmergencyAtAGlance | None:
        showing = self._app.showing
        return self.by_hand.up(showing.course, showing.record, self._app.time)

    def _show_saving(self) -> None:
        """For as long as the disk takes nothing, that is shown; when it begins, it is heard."""
        showing = self._app.showing
        before, showing.unsaved = showing.unsaved, unsaved(self._app.session)
        if showing.unsaved and not before:
            self._app.bell()
