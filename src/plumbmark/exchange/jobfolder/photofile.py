"""`photos.csv`: what the pictures in the folder `photos` show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.jobtoml import JobFile, listed
from plumbmark.exchange.jobfolder.places import read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet, Tied, bearings, unique_ids
from plumbmark.model.mark import PaintedMark
from plumbmark.model.ticket import PhotoFact, Thing

FOLDER: Final = "photos/"


def read_photos(
    sheet: Sheet,
    job: JobFile,
    tied: Tied | None,
    marks: Sequence[PaintedMark],
    things: Sequence[Thing],
    remarks: Remarks,
) -> list[PhotoFact]:
    """Rows of `photos.csv`; wrong ones are told of and left out.

    Parameters
    ----------
    sheet : Sheet
    job : JobFile
    tied : mapping of str to Spot, or None
        Places of `ties.csv`.
    marks, things : sequence of PaintedMark, sequence of Thing
        That a photograph can be of; one that names another is warned about and kept.
    remarks : Remarks

    Returns
    -------
    list of PhotoFact
        File names without the folder.
    """
    names = [name and name.removeprefix(FOLDER) for name in unique_ids(sheet, "photo", remarks)]
    for i, name in enumerate(names):
        if name is not None and (not name or name.startswith(".") or set(name) & set("/\\:")):
            what = f"{shown(sheet.cells['photo'].text[i])} is no file of the folder photos"
            remarks.error(sheet.where(i, "photo"), f"{what} (for example 12.jpg)")
    for column, known in (("mark", {m.id: m for m in marks}), ("thing", {t.id: t for t in things})):
        for i, ident in enumerate(sheet.column(column)):
            if ident is not None and ident not in known:
                what = f"{shown(ident)} is no {column} of {column}s.csv{listed(known)}"
                remarks.warn(sheet.where(i, column), what)
    rows = zip(
        names,
        sheet.table.rows,
        read_places(sheet.table, sheet.cells, job, tied, remarks, needed=[False] * len(names)),
        sheet.column("mark"),
        sheet.column("thing"),
        bearings(sheet, "bearing_deg", remarks),
        sheet.column("taken_at"),
        sheet.column("by", ""),
        sheet.column("note", ""),
        strict=True,
    )
    return [PhotoFact(name, *row) for name, *row in rows if name]
