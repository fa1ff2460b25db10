"""A report as PDF: set by typst, with fonts of its own, the same bytes for the same report."""

from __future__ import annotations

import json
import tempfile
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

from plumbmark.handover.report_blocks import (
    Block,
    Drawing,
    Facts,
    Photograph,
    Report,
    Signatures,
    Table,
    Words,
)
from plumbmark.handover.report_paper import styled

PAPERS: Final = ("a4", "letter")


def report_pdf(report: Report, paper: str = "a4") -> bytes:
    """The report as a tagged PDF for keeping (PDF/A-2a, PDF/UA-1).

    Parameters
    ----------
    report : Report
    paper : str
        ``"a4"`` or ``"letter"``.

    Returns
    -------
    bytes
        The same report gives the same bytes on every machine with the same version of typst.
    """
    import typst

    data: dict[str, Any] = {
        "title": report.title,
        "kind": report.kind,
        "foot": report.foot,
        "mark": report.mark,
        "paper": paper,
    }
    with tempfile.TemporaryDirectory() as made, as_file(files("plumbmark.handover")) as here:
        folder = Path(made)
        data["sections"] = [
            {
                "heading": section.heading,
                "new_page": section.new_page,
                "blocks": [_block(block, folder) for block in section.blocks],
            }
            for section in report.sections
        ]
        (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        (folder / "report.typ").write_bytes((here / "report.typ").read_bytes())
        fonts = typst.Fonts(
            include_system_fonts=False, include_embedded_fonts=True, font_paths=[str(here / "fonts")]
        )
        compiler = typst.Compiler(str(folder / "report.typ"), root=str(folder), font_paths=fonts)
        pdf = compiler.compile(format="pdf", pdf_standards=["a-2a", "ua-1"], timestamp=report.dated)
    if not isinstance(pdf, bytes):
        raise TypeError("typst gave no PDF")
    return pdf


def _block(block: Block, folder: Path) -> dict[str, Any]:
    if isinstance(block, Words):
        return {"kind": "words", "text": block.text, "tone": block.tone.value}
    if isinstance(block, Facts):
        return {"kind": "facts", "rows": block.rows}
    if isinstance(block, Table):
        return {"kind": "table", "head": block.head, "rows": block.rows, "widths": block.widths}
    if isinstance(block, Drawing):
        return {
            "kind": "drawing",
            "svg": styled(block),
            "says": block.says,
            "width_mm": block.width_mm,
            "caption": block.caption,
        }
    if isinstance(block, Photograph):
        name = f"photograph-{len(list(folder.iterdir()))}.jpg"
        (folder / name).write_bytes(block.jpeg)
        return {"kind": "photograph", "file": name, "caption": block.caption}
    return {"kind": "signatures", "roles": block.roles} if isinstance(block, Signatures) else {}
