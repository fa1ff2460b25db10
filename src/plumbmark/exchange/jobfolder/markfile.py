"""`marks.csv`: marks on the ground as they were painted."""

from __future__ import annotations

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed
from plumbmark.exchange.jobfolder.places import read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet, Tied, bearings, unique_ids
from plumbmark.model.mark import MarkKind, MarkState, PaintedMark


def read_marks(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[PaintedMark]:
    """Rows of `marks.csv`; wrong ones are told of and left out.

    Parameters
    ----------
    sheet : Sheet
    job : JobFile
    tied : mapping of str to Spot, or None
        Places of `ties.csv`.
    remarks : Remarks

    Returns
    -------
    list of PaintedMark
    """
    ids = unique_ids(sheet, "mark", remarks)
    lines = list(sheet.column("line"))
    for i, line in enumerate(lines):
        if line is not None and job.readable and line not in job.lines and line not in job.broken:
            what = f"{shown(line)} is no line of this job{listed(job.lines)}"
            remarks.error(sheet.where(i, "line"), what)
    places = read_places(sheet.table, sheet.cells, job, tied, remarks)
    kinds = list(sheet.column("kind", MarkKind.CENTRE))
    towards = bearings(sheet, "toward_deg", remarks)
    away = [None if d is None else d.value for d in sheet.column("distance_m")]
    _check_offsets(sheet, kinds, towards, away, remarks)
    photos = list(sheet.column("photo", ""))
    for i, photo in enumerate(photos):
        if photo.startswith(("/", "\\")) or ".." in photo or ":" in photo:
            what = f"{shown(photo)} leaves the job folder (name a file in it, for example photos/12.jpg)"
            remarks.error(sheet.where(i, "photo"), what)
    rows = zip(
        ids,
        places,
        sheet.table.rows,
        lines,
        kinds,
        sheet.column("colour"),
        sheet.column("painted_at"),
        sheet.column("by", ""),
        photos,
        sheet.column("state", MarkState.STANDS),
        sheet.column("state_at"),
        towards,
        away,
        sheet.column("note", ""),
        strict=True,
    )
    return [PaintedMark(*row) for row in rows if row[0] is not None and row[1] is not None]


def _check_offsets(
    sheet: Sheet,
    kinds: list[MarkKind],
    towards: list[float | None],
    away: list[float | None],
    remarks: Remarks,
) -> None:
    """An offset mark says where the line is from it, and no other mark does."""
    for i, (kind, toward, distance) in enumerate(zip(kinds, towards, away, strict=True)):
        if kind is MarkKind.OFFSET and (toward is None or distance is None):
            name = "toward_deg" if toward is None else "distance_m"
            what = "is blank, and an offset mark needs toward_deg and distance_m (from the paint to the line)"
            remarks.error(sheet.where(i, name), what)
        elif kind is not MarkKind.OFFSET and (toward is not None or distance is not None):
            name = "toward_deg" if toward is not None else "distance_m"
            what = f"is for a mark of the kind offset, and this one is {kind.value}"
            remarks.error(sheet.where(i, name), what)
