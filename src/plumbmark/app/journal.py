"""Writing down at the desk, bringing a job in, and giving its files out."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from plumbmark.model.fact import Draft, Fact, FactKind
from plumbmark.model.finding import Finding, Severity
from plumbmark.model.folded import Folded

if TYPE_CHECKING:
    from plumbmark.store import Store

#: Of every file in a zip, so that the same job gives the same bytes.
_ZIP_TIME: Final = (1980, 1, 1, 0, 0, 0)
MISSING: Final = "missing-files.txt"


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of files that were to be brought in: the job's id, None where a finding is an error."""

    job: str | None
    findings: tuple[Finding, ...]


def record(
    store: Store,
    job: str,
    kind: FactKind,
    payload: dict[str, Any],
    by: str,
    supersedes: str | None = None,
    at: datetime | None = None,
) -> Fact:
    """Write one fact down at the desk.

    Parameters
    ----------
    store : Store
    job : str
    kind : FactKind
    payload : dict
        As docs/journal.md tells for the kind.
    by : str
        Who says it.
    supersedes : str, optional
        Id of the fact it takes the place of.
    at : datetime, optional
        When, with its offset; now, if not given.

    Returns
    -------
    Fact

    Raises
    ------
    FactError
        Something in it cannot stand in a fact.
    """
    draft = Draft(job, kind, payload, _moment(at), by, supersedes)
    return store.write_down([draft])[0]


def import_files(store: Store, files: Mapping[str, bytes], by: str) -> Imported:
    """Bring a job folder in, each file as it is.

    Parameters
    ----------
    store : Store
    files : mapping of str to bytes
        By name in the folder.
    by : str
        Who does it.

    Returns
    -------
    Imported
        With all there is to say of the files. Nothing is written where one finding is an error, or where a
        job of the same id is there with other files; the same files again are fine and change nothing.
    """
    from plumbmark.exchange.jobfolder import read_job_files

    job, findings = read_job_files(files, to_solve=False)
    if job is None:
        return Imported(None, tuple(findings))
    with store.at_the_desk:
        return _brought_in(store, job.id, files, by, findings)


def _brought_in(
    store: Store, job: str, files: Mapping[str, bytes], by: str, findings: Iterable[Finding]
) -> Imported:
    from plumbmark.exchange.journal import facts_of_files

    if job in store.jobs():
        if job_files(store, job) == dict(files):
            return Imported(job, tuple(findings))
        what = f"{job!r} is the id of a job that is here already, with other files (give this one another id)"
        return Imported(None, (Finding(Severity.ERROR, "job.toml [job] id", what), *findings))
    for data in files.values():
        store.put_blob(hashlib.sha256(data).hexdigest(), data)
    store.write_down(facts_of_files(files, job, _moment(None), by))
    return Imported(job, tuple(findings))


def fold_job(store: Store, job: str) -> Folded:
    """What the facts of a job come to."""
    from plumbmark.exchange.journal import folded

    return folded([stored.fact for stored in store.facts(job)], store.blob)


def job_files(store: Store, job: str) -> dict[str, bytes]:
    """All files of a job that have come in, photographs too, by their names in its folder."""
    return _all_files(store, fold_job(store, job))


def export_zip(store: Store, job: str) -> bytes:
    """A job folder as a zip, which `import_files` and the command line take.

    Parameters
    ----------
    store : Store
    job : str

    Returns
    -------
    bytes
        The same for the same facts. Files that were brought in and nobody changed are in it byte for byte.
        Where the content of a file has not come in yet, `missing-files.txt` names it.
    """
    fold = fold_job(store, job)
    files = _all_files(store, fold)
    lacking = sorted({*fold.missing, *(set(fold.attached) - set(files))})
    if lacking:
        files[MISSING] = ("These files have not come in yet:\n" + "\n".join(lacking) + "\n").encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as parcel:
        for name in sorted(files):
            member = zipfile.ZipInfo(name, _ZIP_TIME)
            member.external_attr = 0o100644 << 16
            parcel.writestr(member, files[name], zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _all_files(store: Store, fold: Folded) -> dict[str, bytes]:
    there = {name: digest for name, digest in fold.attached.items() if store.has_blob(digest)}
    return {**fold.files, **{name: store.blob(digest) for name, digest in there.items()}}


def _moment(at: datetime | None) -> str:
    """A time as a fact holds it: ISO 8601 with offset, to the second."""
    return (at or datetime.now().astimezone()).isoformat(timespec="seconds")
