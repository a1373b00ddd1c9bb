"""The state at the end, and the totals."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from log.basics.entry import Entry
from log.exports.document import Block, Cells, Table, table
from log.exports.lines import in_the_room, place, reading
from log.exports.note_sections import what_came_out
from log.state.episode import Episode
from log.state.film import Film
from log.summaries.whole import Whole
from log.words.totals import balloon_totals, depth_in_words, filling, may_read, volumes_in_words
from log.words.wording import figure, listed, newtons, shown, span


def state(case: Whole) -> Table:
    """Balloons, tube, traction and X-ray as they stood after the last standing line."""
    rows = (*_balloons(case), *_position(case), *_protocol(case))
    return table(("What", "According to the log"), rows)


def _balloons(case: Whole) -> Iterable[Cells]:
    for site in dict.fromkeys((*case.procedure.tube.balloons, *case.situation.balloons)):
        balloon = case.situation.balloon(site)
        readings = case.said("pressure", site, "both")
        reading_now = (
            f"pressure {reading(case, readings[-1])}"
            if readings and balloon.pressure is not None
            else "no pressure reading"
        )
        doubt = f"; not confirmed: {may_read(balloon)}" if balloon.may_read else ""
        words = f"{filling(balloon)}; {reading_now}{doubt}" if balloon.up or balloon.may_read else "not up"
        yield f"{site} balloon".capitalize(), words
    nowhere = case.said("pressure", None)
    if nowhere:
        yield "Pressure, balloon not said", reading(case, nowhere[-1])


def _position(case: Whole) -> Iterable[Cells]:
    """Last position of each tube; of one that came out, the position before that."""
    yield "Tube", "in" if case.situation.tube_in else "not in"
    if len(case.tubes) == 1:
        yield from _lay(case, case.tubes[0])
    for tube in case.tubes if len(case.tubes) > 1 else ():
        went_in, came_out = tube.inserted, tube.removed
        times = f"in {place(case, went_in) if went_in else 'not logged'}"
        times += f", out {place(case, came_out)}" if came_out else ", not out"
        lay = (f"{what.removesuffix(MARKED).lower().replace('x-ray', 'X-ray')} {how}" for what, how in _lay(case, tube))
        yield f"Tube {tube.number}", listed((times, *lay))
    if bleeding := case.said("bleeding"):
        yield case.procedure.title_of("bleeding"), reading(case, bleeding[-1])


MARKED = " (movement is measured from here)"


def _lay(case: Whole, tube: Episode) -> Iterator[tuple[str, str]]:
    """How a tube lay last, and what hung on it."""
    lay = tube.situation
    yield "Depth", listed((_depth(lay.depth), *(f"{depth_in_words(one)}?" for one in lay.depth_may_be)))
    yield f"Mark{MARKED}", _depth(lay.mark)
    yield "Traction", _pull(tube, lay.traction)
    yield "X-ray", _film(lay.film)
    for kind in ("clamp", "tap", "manometer_at"):
        for site in dict.fromkeys(line.entry.site for line in tube.said(kind)):
            yield _title(case, kind, site), reading(case, tube.said(kind, site)[-1])


def _protocol(case: Whole) -> Iterable[Cells]:
    """The next step, and the steps that are not in the log though later ones are."""
    if not case.procedure.milestone:
        return
    coming = case.course.next
    yield "Next by the protocol", coming.milestone.title if coming.milestone else "nothing is left"
    passed_over = ", ".join(milestone.title for milestone in coming.passed_over)
    yield "Earlier steps not logged", passed_over or "nothing"


def _title(case: Whole, kind: str, site: str | None) -> str:
    return ", ".join(part for part in (case.procedure.title_of(kind), site) if part)


def _depth(entry: Entry | None) -> str:
    if entry is None:
        return "not logged"
    return shown(entry) + (f" at the {entry.site}" if entry.site else ", place not said")


def _film(film: Film | None) -> str:
    if film is None:
        return "not logged"
    return f"{film.word.replace('_', ' ')}{f' ({film.void})' if film.void else ''}"


def _pull(tube: Episode, entry: Entry | None) -> str:
    if entry is None:
        return "off" if tube.last("traction") else "not logged"
    kind = entry.detail or "kind not said"
    force = newtons(entry.number) if entry.number is not None else "mass not said"
    return f"{shown(entry)}, {kind}, {force}"


def totals(case: Whole) -> tuple[Block, ...]:
    """Volumes in and out, and the clocks that still run."""
    return _air(case), *what_came_out(case), _running(case)


def _air(case: Whole) -> Table:
    found = balloon_totals(case.procedure, case.happened, case.situation)
    rows = (
        (
            t.site,
            *(f"{figure(n)} mL" for n in (t.put_in, t.taken_out, t.set_by_total, t.deflated)),
            volumes_in_words(case.situation.balloon(t.site).volumes, up=False),
        )
        for t in found
    )
    return table(("Balloon", "In", "Out", "Set by stated total", "Deflated completely", "Now"), rows)


def _running(case: Whole) -> Table:
    running = case.course.end.running
    rows = ((c.title, f"{in_the_room(case, c.since)} (line {c.number})", span(c.ran(case.until))) for c in running)
    return table(
        ("Running clock", "Since", f"At {in_the_room(case, case.until)}"), rows, "No clock was running at the end."
    )
