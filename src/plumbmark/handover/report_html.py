"""A report as one HTML file with everything in it, readable without network, script or program."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from importlib.resources import files
from itertools import groupby

from plumbmark.handover.page_svg import escaped
from plumbmark.handover.report_blocks import (
    Block,
    Drawing,
    Facts,
    Photograph,
    Report,
    Section,
    Signatures,
    Table,
    Tone,
    Words,
)
from plumbmark.handover.report_paper import STYLE

#: Nothing is fetched and nothing runs: the file is words, pictures and their looks.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
#: Drawings narrower than this stand beside one another.
_NARROW_MM = 90.0


def report_html(report: Report) -> str:
    """The report as a self-contained page.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        HTML; the same report gives the same text.
    """
    style = files("plumbmark.handover").joinpath("report.css").read_text(encoding="utf-8")
    drawn = "".join(f"{rule}}}" if rule else "" for rule in _scoped(STYLE))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer">'
        f"<title>{escaped(report.title)}</title><style>{style}{drawn}</style></head><body>"
        f'<p class="kind">{escaped(report.kind)}</p><h1>{escaped(report.title)}</h1>'
        f"<main>{''.join(map(_section, report.sections))}</main>"
        f"<footer><p><b>{escaped(report.foot)}</b></p><p>{escaped(report.mark)}</p></footer></body></html>\n"
    )


def _scoped(style: str) -> Iterator[str]:
    """Rules of the drawings, held to the drawings."""
    for rule in style.split("}"):
        if rule:
            selectors, _, body = rule.partition("{")
            yield ",".join(f".drawn {one}" for one in selectors.split(",")) + "{" + body


def _section(section: Section) -> str:
    heading = f"<h2>{escaped(section.heading)}</h2>" if section.heading else ""
    parts = []
    for narrow, blocks in groupby(section.blocks, _is_narrow):
        said = "".join(map(_block, blocks))
        parts.append(f'<div class="row">{said}</div>' if narrow else said)
    return f"<section{' class=page' if section.new_page else ''}>{heading}{''.join(parts)}</section>"


def _is_narrow(block: Block) -> bool:
    return isinstance(block, Photograph) or (isinstance(block, Drawing) and block.width_mm < _NARROW_MM)


def _block(block: Block) -> str:
    if isinstance(block, Words):
        kind = "" if block.tone is Tone.PLAIN else f' class="{block.tone.value}"'
        return f"<p{kind}>{escaped(block.text)}</p>"
    if isinstance(block, Facts):
        return f"<dl>{''.join(f'<dt>{escaped(a)}</dt><dd>{escaped(b)}</dd>' for a, b in block.rows)}</dl>"
    if isinstance(block, Table):
        rows = "".join(f"<tr>{_cells(row, block.head)}</tr>" for row in block.rows)
        head = "".join(f'<th scope="col">{escaped(name)}</th>' for name in block.head)
        return (
            f'<div class="wide" tabindex="0"><table><thead><tr>{head}</tr></thead>'
            f"<tbody>{rows}</tbody></table></div>"
        )
    if isinstance(block, Drawing):
        says = escaped(block.says)
        if block.alone:
            data = base64.b64encode(block.svg.encode()).decode()
            svg = f'<img alt="{says}" src="data:image/svg+xml;base64,{data}">'
        else:
            at = block.svg.index(">")
            svg = f'{block.svg[:at]} role="img" aria-label="{says}"{block.svg[at:]}'
        caption = f"<figcaption>{escaped(block.caption)}</figcaption>" if block.caption else ""
        return f"<figure>{svg}{caption}</figure>"
    if isinstance(block, Photograph):
        data = base64.b64encode(block.jpeg).decode()
        caption = escaped(block.caption)
        return (
            f'<figure><img alt="{caption}" src="data:image/jpeg;base64,{data}">'
            f"<figcaption>{caption}</figcaption></figure>"
        )
    return _signatures(block)


def _cells(row: Sequence[str], head: Sequence[str]) -> str:
    """The cells of a row; each knows the name of its column, which a narrow screen shows beside it."""
    named = zip(head, row, strict=True)
    return "".join(f'<td data-is="{escaped(name)}">{escaped(cell)}</td>' for name, cell in named)


def _signatures(block: Signatures) -> str:
    return "".join(
        f'<div class="sign"><span>{escaped(role)}: name</span><span>Signature</span><span>Date</span></div>'
        for role in block.roles
    )
