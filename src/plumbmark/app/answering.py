"""Jobs are answered in processes beside the server, each in its newest state; what was said is kept.

A job is answered twice: for the reading that was written down last at once, from it and those next to it, and
as a whole after that. Whoever asks for a screen never waits for either.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, Final

from pydantic import TypeAdapter

from plumbmark import __version__
from plumbmark.app.computed import answer_of, clearance_of, near_answer, warm_up
from plumbmark.app.known import Known, know
from plumbmark.app.lane import Lane
from plumbmark.app.worker import Worker, WorkerEnded
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.clearance import ClearanceAnswer
from plumbmark.model.estimate import Identity, LineEstimate, Solution, StationEstimate
from plumbmark.model.screen_plan import PlanScreen
from plumbmark.model.screen_sweep import SweepScreen
from plumbmark.model.standing import Standing, State
from plumbmark.store import Said as Kept
from plumbmark.store import Store

_log: Final = logging.getLogger("plumbmark.app")
#: Kinds of work.
QUICK: Final = "quick answer"
ANSWER: Final = "answer"
CLEARANCE: Final = "clearance check"
SWEEP: Final = "sweep"
PLAN: Final = "hook-up plan"
_FORMS: Final[dict[str, TypeAdapter[Any]]] = {
    ANSWER: TypeAdapter(Solution),
    CLEARANCE: TypeAdapter(ClearanceAnswer),
    SWEEP: TypeAdapter(SweepScreen),
    PLAN: TypeAdapter(PlanScreen),
}


@dataclass(frozen=True, slots=True)
class Said:
    """A solution as it was said: when, of which state of the job, and whether of one reading at first."""

    solution: Solution
    digest: str
    at: datetime
    order: int | None = None
    quick: bool = False


class Answering:
    """What answers the jobs of a store; `start` it, `close` it.

    Parameters
    ----------
    store : Store
    near, whole : Worker, optional
        Processes for the quick answer and for everything else.
    """

    def __init__(self, store: Store, near: Worker | None = None, whole: Worker | None = None) -> None:
        self.store = store
        self.near = near or Worker(warm_up)
        self.whole = whole or Worker(warm_up, patient=True)
        self._quick_lane = Lane("near", [(QUICK, self._answer_quickly)])
        others = [(kind, self._beside(kind)) for kind in (CLEARANCE, SWEEP, PLAN)]
        self._lane = Lane("whole", [(ANSWER, self._answer), *others])
        #: Whether whoever listens should stop.
        self.ending = False
        self._lock = threading.Lock()
        self._known: dict[str, Known] = {}
        self._said: dict[str, Said] = {}
        self._quick: dict[str, Said] = {}
        self._failed: dict[tuple[str, str], tuple[str, str]] = {}
        self._since: dict[str, datetime] = {}
        self._listeners: dict[str, list[Callable[[], None]]] = {}

    def start(self) -> None:
        """Begin to answer; the processes warm themselves meanwhile."""
        for worker in (self.near, self.whole):
            worker.start()
        for lane in (self._quick_lane, self._lane):
            lane.start()

    def close(self) -> None:
        """End what is under way, and the processes."""
        self.end_streams()
        for lane in (self._quick_lane, self._lane):
            lane.stop()
        for worker in (self.near, self.whole):
            worker.close()
        for lane in (self._quick_lane, self._lane):
            lane.close()

    # -- asking

    def came_in(self, job: str) -> None:
        """Facts of a job came in: answer its newest state."""
        with self._lock:
            self._since[job] = datetime.now(UTC)
        self._quick_lane.ask(QUICK, job)  # the whole answer is asked for after it
        self._tell(job)

    def settle(self, timeout_s: float) -> bool:
        """Wait until there is nothing left to compute; False where that takes longer."""
        return self._quick_lane.idle(timeout_s) and self._lane.idle(timeout_s)  # the first feeds the second

    def listen(self, job: str, listener: Callable[[], None]) -> Callable[[], None]:
        """Have a function called whenever something about a job has changed; what is returned ends that."""
        with self._lock:
            self._listeners.setdefault(job, []).append(listener)

        def stop() -> None:
            with self._lock:
                some = self._listeners[job]
                some.remove(listener)
                if not some:
                    del self._listeners[job]

        return stop

    def end_streams(self) -> None:
        """Wake all listeners, for the last time."""
        self.ending = True
        with self._lock:
            listeners = [one for some in self._listeners.values() for one in some]
        for listener in listeners:
            listener()

    # -- what is known

    def known(self, job: str) -> Known | None:
        """What the store's facts make of a job now; None where none names it."""
        known = know(self.store, job, self._known.get(job))
        if known is not None:
            with self._lock:
                self._known[job] = known
        return known

    def said(self, known: Known) -> Said | None:
        """The newest solution that there is of a job, perhaps of an earlier state of it."""
        with self._lock:
            said, quick = self._said.get(known.id), self._quick.get(known.id)
        if said is None or said.digest != known.digest:
            said = self._recalled(known) or said or self._last_said(known)
            if said is not None:
                with self._lock:
                    self._said[known.id] = said
        if quick is not None and quick.digest == known.digest != (said.digest if said else None):
            return quick
        return said

    def computed(self, known: Known, kind: str) -> tuple[Any, str]:
        """Something that is computed beside the answer, for a job in this very state.

        Parameters
        ----------
        known : Known
        kind : str
            `CLEARANCE`, `SWEEP` or `PLAN`.

        Returns
        -------
        ClearanceAnswer, SweepScreen, PlanScreen or None
            None where the job has nothing of the kind, or it is not there yet: it is begun then.
        note : str
            What is under way, or why it cannot be made; else empty.
        """
        if _task(known, kind) is None:
            return None, ""
        kept = self.store.recalled(known.id, known.digest, __version__, kind)
        if kept is not None:
            return _FORMS[kind].validate_json(kept[1]), ""
        failed = self._failed.get((known.id, kind))
        if failed is not None and failed[0] == known.digest:
            return None, failed[1]
        self._lane.ask(kind, known.id)
        return None, f"The {kind} is being worked out."

    def standing(self, known: Known, said: Said | None) -> Standing:
        """How the answer of a job stands; work that is missing is asked for."""
        base = Standing(
            State.ANSWERED,
            "",
            known.order,
            said.order if said else None,
            said.at.isoformat(timespec="milliseconds") if said else None,
            None,
            said.digest if said else None,
            __version__,
            known.findings,
        )
        if known.job is None:
            what = "Something that was written down cannot be read; it is listed, and nothing of it is lost."
            return replace(base, state=State.FINDINGS, words=what + _older(said))
        if not known.solvable:
            return replace(
                base, state=State.NOTHING, words="Nothing to solve yet: no reading is written down."
            )
        if said is not None and said.digest == known.digest and not said.quick:
            return replace(base, words=f"Answered {_clock(said.at)}.", answered_order=known.order)
        failed = self._failed.get((known.id, ANSWER))
        if failed is not None and failed[0] == known.digest:
            return replace(base, state=State.FAILED, words=failed[1] + _older(said))
        if not (self._quick_lane.wanted(QUICK, known.id) or self._lane.wanted(ANSWER, known.id)):
            self._lane.ask(ANSWER, known.id)
        with self._lock:
            since = self._since.setdefault(known.id, datetime.now(UTC))
        words = f"Solving since {_clock(since)}."
        return replace(
            base,
            state=State.SOLVING,
            words=words + _older(said),
            since=since.isoformat(timespec="milliseconds"),
        )

    # -- the work, in the threads of the lanes

    def _answer_quickly(self, job: str) -> None:
        try:
            self._answer_newest(job)
        finally:
            self._lane.ask(ANSWER, job)

    def _answer_newest(self, job: str) -> None:
        known = self.known(job)
        if known is None or known.job is None or known.newest is None:
            return
        line, ident = known.newest
        told = self.near.run(near_answer, known.job, line, ident)
        if told is None:
            return
        with self._lock:
            said = self._said.get(job)
        if said is not None and said.digest == known.digest:
            return
        solution = _with_station(said.solution if said else Solution(job, (), None), line, told)
        with self._lock:
            self._quick[job] = Said(solution, known.digest, datetime.now(UTC), known.order, quick=True)
        self._tell(job)

    def _answer(self, job: str) -> None:
        known = self.known(job)
        if known is None or known.job is None or not known.solvable or self._recalled(known) is not None:
            self._tell(job)
            return
        self._keep(known, ANSWER, answer_of, known.job, known.cannot)

    def _beside(self, kind: str) -> Callable[[str], None]:
        """What computes something beside the answer, for a job."""

        def compute(job: str) -> None:
            known = self.known(job)
            task = None if known is None else _task(known, kind)
            if known is None or task is None:
                return
            if self.store.recalled(job, known.digest, __version__, kind) is None:
                self._keep(known, kind, *task)

        return compute

    def _keep(self, known: Known, kind: str, function: Callable[..., Any], *args: Any) -> None:
        """Compute something of a job and keep it as it was said."""
        try:
            try:
                result = self.whole.run(function, *args)
            except WorkerEnded as error:
                if self.ending:
                    return
                _log.warning("%s of job %s is tried again: %s", kind, known.id, error)
                result = self.whole.run(function, *args)
            now = datetime.now(UTC)
            if kind == ANSWER:  # shown even where the disk has no room to keep it
                with self._lock:
                    self._said[known.id] = Said(result, known.digest, now, known.order)
            data = _FORMS[kind].dump_json(result)
            self.store.remember(known.id, known.digest, __version__, kind, now, data)
        except PlumbmarkError as error:
            what = f"The {kind} could not be made ({error}); all that was written down is kept."
            with self._lock:
                self._failed[known.id, kind] = (known.digest, what)
            _log.error("%s of job %s: %s", kind, known.id, error)
        self._tell(known.id)

    def _recalled(self, known: Known) -> Said | None:
        kept = self.store.recalled(known.id, known.digest, __version__, ANSWER)
        if kept is None:
            return None
        said, data = kept
        return Said(_FORMS[ANSWER].validate_json(data), known.digest, said.at, known.order)

    def _last_said(self, known: Known) -> Said | None:
        """What was said of a job last, of whatever state and by whatever version."""
        for at, digest, _, solution in self._answers(self._said_of(known.id)):
            return Said(solution, digest, at)
        return None

    def said_before(self, job: str, most: int) -> tuple[list[tuple[datetime, str, str, Solution]], int]:
        """Answers of a job as they were said, the newest first, and how many more there are.

        Parameters
        ----------
        job : str
        most : int
            So many are given back.

        Returns
        -------
        list of (datetime, str, str, Solution), int
            When, digest of the files, version, and the solution. What another version wrote in a form that
            this one cannot read counts among those not given back.
        """
        answers = self._said_of(job)
        found = list(self._answers(answers[:most]))
        return found, len(answers) - len(found)

    def _said_of(self, job: str) -> list[Kept]:
        """Heads of all answers of a job, the newest first."""
        return [told for told in reversed(self.store.said(job)) if told.what == ANSWER]

    def _answers(self, heads: Iterable[Kept]) -> Iterator[tuple[datetime, str, str, Solution]]:
        """Answers by their heads; what another version wrote in another form is kept, and left out here."""
        for told in heads:
            kept = self.store.recalled(told.job, told.digest, told.version, ANSWER)
            with suppress(ValueError):
                if kept is not None:
                    yield told.at, told.digest, told.version, _FORMS[ANSWER].validate_json(kept[1])

    def _tell(self, job: str) -> None:
        with self._lock:
            listeners = list(self._listeners.get(job, ()))
        for listener in listeners:
            listener()


def _task(known: Known, kind: str) -> tuple[Any, ...] | None:
    """The function that computes something beside the answer, and what it takes; None for nothing."""
    from plumbmark.app import screens_of_job

    job, files = known.job, known.folded.files
    if job is None:
        return None
    if kind == SWEEP:
        return screens_of_job.sweep_of, job, known.folded.unplaced
    if kind == PLAN:
        return (
            screens_of_job.plan_of,
            job,
            {n: d for n, d in files.items() if n in ("job.toml", "network.toml")},
        )
    return (clearance_of, job) if job.digs and known.solvable else None


def _with_station(solution: Solution, line: str, station: StationEstimate) -> Solution:
    """A solution with the answer of one place put in the place of the one it had there, or added."""
    from plumbmark.survey.polyline import slot

    lines = list(solution.lines)
    at = next((k for k, told in enumerate(lines) if told.line == line), None)
    if at is None:
        because = ("the whole job is not solved yet",)
        lines.append(LineEstimate(line, Identity.NOT_KNOWN, because, (station,)))
    else:
        others = [s for s in lines[at].stations if (s.source, s.id) != (station.source, station.id)]
        k = slot([(s.easting_m, s.northing_m) for s in others], (station.easting_m, station.northing_m))
        lines[at] = replace(lines[at], stations=(*others[:k], station, *others[k:]))
    return replace(solution, lines=tuple(lines))


def _older(said: Said | None) -> str:
    if said is None:
        return ""
    if said.quick:
        return " Shown is a first answer, from the newest reading and those next to it."
    return f" Shown is the answer of {_clock(said.at)}, which does not know what was written down since."


def _clock(at: datetime) -> str:
    return f"{at.astimezone():%d %b %H:%M:%S}"
