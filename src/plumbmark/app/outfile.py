"""Files that are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from plumbmark.model.finding import Finding, Severity


def problem_with(path: Path, *, inputs: Path, made: Path | None = None) -> str | None:
    """Why a file cannot be written there, or None.

    Parameters
    ----------
    path : Path
        The file to be written.
    inputs : Path
        The job's folder: no file that is read from it may be written over.
    made : Path, optional
        A folder that will be made before the file is written.

    Returns
    -------
    str or None
        One sentence, without the path.
    """
    parent = path.parent
    if path.is_dir():
        return "is a folder; name a file"
    if not parent.is_dir():
        if made is not None and parent.resolve() == made.resolve():
            return None
        return f"cannot be written, there is no folder '{parent}'; make it first"
    if path.exists() and path.resolve().parent == inputs.resolve() and _is_input(path.resolve().name):
        return "is a file of the job itself; choose another name"
    if not os.access(parent, os.W_OK):
        return f"cannot be written, the folder '{parent}' does not let you write"
    return None


def _is_input(name: str) -> bool:
    return name in {"job.toml", "network.toml", "records.geojson", "dig.geojson"} or name.endswith(".csv")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that a reader sees the old file or the new one, never a part.

    Raises
    ------
    OSError
        If it cannot be written; the old file is then still there.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(data)  # a pipe or a device cannot be replaced
        return
    target = path.resolve()  # a link stays a link
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def where_to_write(folder: Path, json_path: Path | None, out_folder: Path | None) -> list[Finding]:
    """What keeps the files that were asked for from being written, as findings."""
    problems = []
    if json_path is not None:
        why = problem_with(json_path, inputs=folder, made=out_folder)
        if why:
            problems.append(Finding(Severity.ERROR, f"--json '{json_path}'", why))
    if out_folder is not None and out_folder.exists() and not out_folder.is_dir():
        problems.append(Finding(Severity.ERROR, f"--out '{out_folder}'", "is a file; name a folder"))
    return problems


def write_all(out_folder: Path | None, files: list[tuple[Path, bytes]]) -> tuple[str, ...]:
    """Write all files; what the machine refuses is said as a problem."""
    path = out_folder
    try:
        if out_folder is not None:
            out_folder.mkdir(parents=True, exist_ok=True)
        for path, data in files:
            write_whole(path, data)
    except OSError as error:
        return (f"'{path}': cannot be written: {error.strerror or error}",)
    return ()
