"""Logs that crews have already: looked at, understood with the person's help, and taken into a job."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from pydantic import TypeAdapter, ValidationError

from plumbmark.app import log_rows
from plumbmark.base.errors import PlumbmarkError
from plumbmark.model.fact import Draft, Fact, FactKind
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.folded import Folded
from plumbmark.model.log import LogColumn, LogField, LogLook, LogMapping, LogTaken, remarks_of
from plumbmark.model.wire import QuestionChoice

if TYPE_CHECKING:
    from plumbmark.exchange.jobfolder.jobtoml import JobFile
    from plumbmark.exchange.readers import Log
    from plumbmark.exchange.readers.places import Given
    from plumbmark.exchange.readers.understood import Understood
    from plumbmark.store import Store

#: A log up to this size is kept beside the job, byte for byte; a job's folder must stay small enough to send.
KEPT_BYTES: Final = 8 * 1024 * 1024
_SAMPLES: Final = 4
_SAMPLE: Final = 60  # characters
_NOT_NAME: Final = re.compile(r"[^A-Za-z0-9._-]+")
#: Answers that hold for logs with the same columns wherever they come from; the others are about one log.
_LASTING: Final = ("decimal", "zero", "dates", "zone")
_FORM: Final = TypeAdapter(LogMapping)


class LogRefusedError(PlumbmarkError):
    """A log that is not taken: why, and what has to be settled first; nothing of it was written down."""

    def __init__(self, what: str, findings: tuple[Finding, ...] = ()) -> None:
        super().__init__(what)
        self.findings = findings


@dataclass(frozen=True, slots=True)
class _Into:
    """The job that a log is for."""

    facts: tuple[Fact, ...]
    fold: Folded | None
    file: JobFile | None
    given: Given


def look(store: Store, job: str, name: str, data: bytes, mapping: LogMapping | None = None) -> LogLook:
    """Understand a log as far as it says itself, and ask the rest; nothing is written down.

    Parameters
    ----------
    store : Store
        Mappings that were confirmed before are in its settings.
    job : str
        Id of the job it is for; it need not be there yet.
    name : str
        Of the file.
    data : bytes
    mapping : LogMapping, optional
        What the person said so far.

    Returns
    -------
    LogLook

    Raises
    ------
    LogRefusedError
        It cannot be read at all.
    """
    from plumbmark.exchange.readers import fields as f

    into = _into(store, job)
    log, found, remembered = _understood(store, name, data, mapping, into)
    part = found.part
    columns = tuple(
        LogColumn(column, *_samples(part.rows, k), guess.field, guess.unit, guess.why)
        for k, (column, guess) in enumerate(zip(part.columns, found.guesses, strict=True))
    )
    fields = tuple(LogField(each.name, each.words, each.units) for each in f.fields_of(found.use).values())
    findings = (*log.findings, *found.findings)
    if not found.open:
        findings += found.mapped(into.given, name).findings
    return LogLook(
        name=name,
        kind=log.kind,
        rows=len(part.rows),
        parts=tuple(each.name for each in log.parts) if len(log.parts) > 1 else (),
        uses=tuple(QuestionChoice(use, f.USES[use]) for use in part.uses),
        fields=fields,
        columns=columns,
        mapping=found.mapping,
        questions=found.questions,
        remembered=remembered,
        preview=found.preview(into.given, name),
        findings=remarks_of(tuple(dict.fromkeys(findings))),
    )


def take(store: Store, job: str, name: str, data: bytes, mapping: LogMapping, by: str) -> LogTaken:
    """Take a log into a job as it was confirmed, all of it or nothing; the mapping is kept for the next one.

    Parameters
    ----------
    store : Store
    job : str
    name : str
        Of the file.
    data : bytes
    mapping : LogMapping
        Confirmed by the person; see `look`.
    by : str
        Who does it.

    Returns
    -------
    LogTaken
        What was written down before by the same log is there already and not written down again.

    Raises
    ------
    LogRefusedError
        It cannot be read, a question is open, or something in it cannot stand.
    """
    with store.at_the_desk:
        return _taken(store, job, name, data, mapping, by)


def _taken(store: Store, job: str, name: str, data: bytes, mapping: LogMapping, by: str) -> LogTaken:
    into = _into(store, job)
    log, found, _ = _understood(store, name, data, mapping, into)
    findings = [*log.findings, *found.findings]
    asked = tuple(Finding(Severity.ERROR, name, q.words) for q in found.open)
    _refuse("some questions about the log are open", (*asked, *_errors(findings)))
    mapped = found.mapped(into.given, name)
    _refuse("the log cannot be taken as it is", _errors(mapped.findings))
    drafted = log_rows.Drafted()
    grid = found.answers.get("grid", "")
    if grid.upper().startswith("EPSG:"):
        drafted.facts.append((FactKind.JOB, {"keys": {"crs": grid.upper()}}, None))
    if found.use == "positions":
        log_rows.add_places(drafted, mapped, into.fold, into.facts, name)
    else:
        log_rows.add_hookups(drafted, mapped, into.file, name)
        log_rows.add_entries(drafted, mapped, into.fold, into.facts, name)
    if _errors(drafted.findings):
        _refuse("the log cannot be taken as it is", (*_errors(drafted.findings), *mapped.findings))
    findings += [*mapped.findings, *drafted.findings]
    if drafted.recorded:
        findings += _keep_files(store, drafted, log, name, data, into.fold)
        at = datetime.now().astimezone().isoformat(timespec="seconds")
        store.write_down(
            [Draft(job, kind, held, at, by, old) for kind, held, old in drafted.facts], origin="log"
        )
    if into.fold is not None and into.fold.frozen is not None:
        what = "the job is frozen: what was taken waits until somebody reopens it"
        findings.append(Finding(Severity.WARNING, job, what))
    _remember(store, found)
    words = _words(drafted, found.use)
    return LogTaken(
        job, drafted.recorded, drafted.already_there, words, remarks_of(tuple(dict.fromkeys(findings)))
    )


def _into(store: Store, job: str) -> _Into:
    from plumbmark.exchange.jobfolder.files import JOB
    from plumbmark.exchange.jobfolder.jobtoml import read_job_file
    from plumbmark.exchange.jobfolder.remarks import Remarks
    from plumbmark.exchange.journal import folded

    facts = tuple(stored.fact for stored in store.facts(job))
    if not facts:
        return _Into((), None, None, log_rows.given_by(None, None))
    fold = folded(facts, store.blob)
    text = fold.files.get(JOB, b"").decode("utf-8-sig", errors="replace")
    file = read_job_file(text, Remarks(), to_solve=False)
    return _Into(facts, fold, file, log_rows.given_by(fold, file))


def _understood(
    store: Store, name: str, data: bytes, mapping: LogMapping | None, into: _Into
) -> tuple[Log, Understood, bool]:
    """The log, how it is understood, and whether that was confirmed once before."""
    from plumbmark.exchange.readers import LogError, read_log
    from plumbmark.exchange.readers.understood import understood

    try:
        log = read_log(name, data)
    except LogError as error:
        raise LogRefusedError(f"'{name}' {error}") from error
    part = next((p for p in log.parts if mapping is not None and p.name == mapping.part), log.parts[0])
    kept = _remembered(store, part.columns)
    found = understood(log, mapping, kept, into.given)
    return log, found, kept is not None and (mapping is None or _same(mapping, kept))


def _same(mapping: LogMapping, kept: LogMapping) -> bool:
    return mapping.use == kept.use and set(mapping.columns) == set(kept.columns)


def _samples(rows: tuple[tuple[str, ...], ...], at: int) -> tuple[tuple[str, ...], int]:
    """Some of the different cells of a column, and how many are filled."""
    filled = [row[at] for row in rows if row[at]]
    return tuple(cell[:_SAMPLE] for cell in list(dict.fromkeys(filled[:500]))[:_SAMPLES]), len(filled)


def _errors(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    return tuple(f for f in findings if f.severity is Severity.ERROR)


def _refuse(what: str, findings: tuple[Finding, ...]) -> None:
    if findings:
        raise LogRefusedError(f"{what}; nothing was written down", findings)


def _keep_files(
    store: Store, drafted: log_rows.Drafted, log: Log, name: str, data: bytes, fold: Folded | None
) -> list[Finding]:
    """Keep the pictures of a log, or the log itself, beside the job."""
    there: Mapping[str, str] = {} if fold is None else fold.attached
    files = dict(log.pictures)
    if not files and len(data) <= KEPT_BYTES:
        files[_log_name(name, data)] = data
    for path, content in files.items():
        digest = hashlib.sha256(content).hexdigest()
        if there.get(path) == digest:
            continue
        store.put_blob(digest, content)
        media = "image/jpeg" if path.startswith("photos/") else "application/octet-stream"
        held = {"name": path, "sha256": digest, "size": len(content), "media": media}
        drafted.facts.append((FactKind.FILE, held, None))
    if files:
        return []
    what = (
        f"is larger than {KEPT_BYTES // 2**20} MiB, so it is not kept beside the job: keep the file yourself"
    )
    return [Finding(Severity.WARNING, name, what)]


def _log_name(name: str, data: bytes) -> str:
    """Where a log is kept: two of one name and different content do not meet."""
    plain = _NOT_NAME.sub("-", name.replace("\\", "/").rsplit("/", 1)[-1]).strip("-.")[-60:].strip("-.")
    return f"logs/{hashlib.sha256(data).hexdigest()[:8]}-{plain or 'log'}"


def _setting(columns: tuple[str, ...]) -> str:
    return "log:" + hashlib.sha256("\n".join(columns).encode(errors="replace")).hexdigest()


def _remembered(store: Store, columns: tuple[str, ...]) -> LogMapping | None:
    kept = store.setting(_setting(columns))
    try:
        return None if kept is None else _FORM.validate_json(kept)
    except ValidationError:  # of another version of the program
        return None


def _remember(store: Store, found: Understood) -> None:
    """Keep what is the same for every log with these columns."""
    mapping = found.mapping
    lasting = {k: v for k, v in mapping.answers.items() if k in _LASTING or k.startswith("unit:")}
    kept = LogMapping(mapping.use, mapping.part, mapping.columns, lasting)
    store.set_setting(_setting(found.part.columns), _FORM.dump_json(kept).decode())


def _words(drafted: log_rows.Drafted, use: str) -> str:
    count, there = drafted.recorded, drafted.already_there
    what = {"positions": "place", "photos": "photograph", "passes": "pass", "things": "thing"}.get(use)
    what = what or {"readings": "reading", "test_holes": "test hole"}[use]
    plural = {"pass": "passes"}.get(what, f"{what}s")
    said = f"{count:,} {what if count == 1 else plural} taken."
    if there:
        said += f" {there:,} {'was' if there == 1 else 'were'} there already."
    return said
