"""`owners.csv`: the owners on the ticket and what each answered."""

from __future__ import annotations

from plumbmark.base.units import shown
from plumbmark.exchange.jobfolder.remarks import Remarks
from plumbmark.exchange.jobfolder.rows import Sheet
from plumbmark.model.ticket import OwnerAnswer


def read_owners(sheet: Sheet, remarks: Remarks) -> list[OwnerAnswer]:
    """Rows of `owners.csv`; wrong ones are told of and left out.

    Parameters
    ----------
    sheet : Sheet
    remarks : Remarks
        Told of an owner named twice for one utility, and of times and reasons of an answer that is blank.

    Returns
    -------
    list of OwnerAnswer
    """
    owners = [
        OwnerAnswer(*row)
        for row in zip(
            sheet.column("owner", ""),
            sheet.table.rows,
            sheet.column("utility"),
            sheet.column("answer"),
            sheet.column("why", ""),
            sheet.column("answered_at"),
            sheet.column("by", ""),
            sheet.column("until_at"),
            sheet.column("note", ""),
            strict=True,
        )
    ]
    written = sheet.cells["answer"].text if "answer" in sheet.cells else ("",) * len(owners)
    first: dict[tuple[str, str | None], int] = {}
    for i, owner in enumerate(owners):
        before = first.setdefault((owner.owner, owner.utility), owner.row)
        if owner.owner and before != owner.row:
            what = f"{shown(owner.owner)} is in row {before} already, for the same utility"
            remarks.error(sheet.where(i, "owner"), f"{what} (keep the answer that holds)")
        if not written[i]:
            _check_blank(sheet, i, owner, remarks)
    return [owner for owner in owners if owner.owner]


def _check_blank(sheet: Sheet, i: int, owner: OwnerAnswer, remarks: Remarks) -> None:
    for name in ("why", "answered_at"):
        if getattr(owner, name):
            what = "is given, and the row has no answer: it counts as none yet"
            remarks.warn(sheet.where(i, name), what)
