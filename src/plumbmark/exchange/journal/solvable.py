"""Reading what was folded, without the rows that cannot be read."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from plumbmark.exchange.jobfolder.files import JOB
from plumbmark.exchange.jobfolder.reader import read_job_files
from plumbmark.exchange.journal.drawing import FILES as DRAWINGS
from plumbmark.exchange.journal.drawing import without_features
from plumbmark.exchange.journal.jobdoc import JobDoc
from plumbmark.exchange.journal.questions import unread
from plumbmark.exchange.journal.sheet import TABLES, read_sheet, with_rows
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.folded import Folded, SetAside
from plumbmark.model.job import Job

MOST_ROUNDS: Final = 6  # what leaves with one row may take what another leans on
_ROW: Final = re.compile(r"([a-z_]+)\.csv row ([0-9]+)(?: (.*))?", re.DOTALL)
_ENTRY: Final = re.compile(r"job\.toml (?:\[\[([a-z]+)\]\] ([0-9]+)|\[([a-z]+)\])(?: (\S+))?")
_FEATURE: Final = re.compile(r"([a-z]+)\.geojson feature ([0-9]+)(?: (.*))?", re.DOTALL)

#: Errors by what they are about; each with the column or key.
_Told = dict[int, list[tuple[str, Finding]]]


def solvable(folded: Folded) -> tuple[Job | None, list[Finding], list[SetAside]]:
    """Read a job without what cannot be read of it.

    Parameters
    ----------
    folded : Folded

    Returns
    -------
    job : Job or None
        None only where something is wrong that is of no row: a file that is no text, a job without an id.
        A job with nothing to solve is given as well.
    findings : list of Finding
        Of what was read; no error unless `job` is None.
    set_aside : list of SetAside
        What was left out: all rows under a key of which one has an error, keys of `job.toml`, features.
    """
    files, aside = dict(folded.files), list(folded.set_aside)
    job, findings = read_job_files(files)
    for _ in range(MOST_ROUNDS):
        errors = [finding for finding in findings if finding.severity is Severity.ERROR]
        if job is not None or not _leave_out(files, errors, aside):
            break
        job, findings = read_job_files(files)
    if job is None:
        bare, said = read_job_files(files, to_solve=False)
        if bare is not None:
            job, findings = bare, said
    first = {one.question: one for one in reversed(aside)}  # what follows from it is of the same thing
    return job, findings, [_as_typed(one, folded) for one in aside if first[one.question] is one]


def _as_typed(one: SetAside, folded: Folded) -> SetAside:
    """With the cells that were typed, where a file's have more."""
    entry = folded.rows.get(one.table, {}).get(one.key)
    return one if entry is None else replace(one, rows=entry.rows)


def _leave_out(files: dict[str, bytes], errors: Sequence[Finding], aside: list[SetAside]) -> bool:
    """Take out of the files what errors are about; whether there was anything of the kind."""
    rows: dict[str, _Told] = defaultdict(lambda: defaultdict(list))
    shapes: dict[str, _Told] = defaultdict(lambda: defaultdict(list))
    keys: dict[tuple[str, int | None], list[tuple[str, Finding]]] = defaultdict(list)
    for finding in errors:
        if (at := _ROW.fullmatch(finding.where)) and at[1] in TABLES and int(at[2]) > 1:
            rows[at[1]][int(at[2])].append((at[3] or "", finding))
        elif (at := _FEATURE.fullmatch(finding.where)) and at[1] in DRAWINGS:
            shapes[at[1]][int(at[2])].append((at[3] or "", finding))
        elif (at := _ENTRY.fullmatch(finding.where)) and (at[4] or at[2]):
            number = int(at[2]) - 1 if at[2] else None
            keys[at[1] or at[3], number].append((at[4] or "", finding))
    done = [_leave_rows(files, table, found, aside) for table, found in rows.items()]
    done += [_leave_shapes(files, name, found, aside) for name, found in shapes.items()]
    if not any(done):  # what is wrong in the job file may make rows look wrong, and the other way round
        done.append(_leave_keys(files, keys, aside))
    return any(done)


def _leave_rows(
    files: dict[str, bytes],
    table: str,
    found: _Told,
    aside: list[SetAside],
) -> bool:
    file = f"{table}.csv"
    sheet = read_sheet(files[file], file)
    if sheet is None or sheet.key not in sheet.columns:
        return False
    at, held = sheet.columns.index(sheet.key), sheet.keyed()
    by_key: dict[str, list[tuple[str, Finding]]] = {}
    for number, cells in sheet.rows:
        if number in found:
            by_key.setdefault(cells[at], []).extend(found[number])
    aside += [unread(table, key, held[key], told) for key, told in by_key.items()]
    files[file] = with_rows(sheet, dict.fromkeys(by_key, ()))
    return bool(by_key)


def _leave_shapes(files: dict[str, bytes], name: str, found: _Told, aside: list[SetAside]) -> bool:
    file = DRAWINGS[name]
    files[file], idents = without_features(files[file], {number - 1 for number in found})
    aside += [unread(name, idents[number - 1], (), told) for number, told in found.items()]
    return True


def _leave_keys(
    files: dict[str, bytes],
    found: dict[tuple[str, int | None], list[tuple[str, Finding]]],
    aside: list[SetAside],
) -> bool:
    doc = JobDoc(files.get(JOB), "")
    if not doc.is_readable:
        return False
    done = False
    for (table, number), told in sorted(found.items(), key=lambda one: (one[0][0], -(one[0][1] or 0))):
        ident = "" if number is None else doc.name_of(table, number)
        taken = [doc.take_out(table, number, key) for key, _ in told]
        if not any(value is not None for value in taken) and not doc.drop(table, number):
            continue
        typed = {key: value for (key, _), value in zip(told, taken, strict=True) if value is not None}
        aside.append(unread(table, ident, (typed,) if typed else (), told))
        done = True
    files[JOB] = doc.written()
    return done
