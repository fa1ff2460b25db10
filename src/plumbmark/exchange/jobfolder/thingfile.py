"""`things.csv`: what was seen above ground, with or without a place."""

from __future__ import annotations

from plumbmark.exchange.jobfolder.jobtoml import JobFile
from plumbmark.exchange.jobfolder.places import read_places
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet, Tied, unique_ids
from plumbmark.model.ticket import Thing


def read_things(sheet: Sheet, job: JobFile, tied: Tied | None, remarks: Remarks) -> list[Thing]:
    """Rows of `things.csv`; wrong ones are told of and left out.

    Parameters
    ----------
    sheet : Sheet
    job : JobFile
    tied : mapping of str to Spot, or None
        Places of `ties.csv`.
    remarks : Remarks

    Returns
    -------
    list of Thing
        Those of which no place was written down have None for one.
    """
    rows = zip(
        unique_ids(sheet, "thing", remarks),
        sheet.table.rows,
        read_places(sheet.table, sheet.cells, job, tied, remarks, needed=[False] * len(sheet.table.rows)),
        sheet.column("kind"),
        sheet.column("colour"),
        sheet.column("seen_at"),
        sheet.column("by", ""),
        sheet.column("note", ""),
        strict=True,
    )
    return [Thing(ident, *row) for ident, *row in rows if ident is not None]
