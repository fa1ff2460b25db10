"""The picture page of a sweep: one HTML file with everything in it, no script, no network."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.resources import files

from plumbmark.base.spoken import listed, spoken_length
from plumbmark.handover import sweep_words as said
from plumbmark.handover.answer import is_invented
from plumbmark.handover.page_svg import escaped
from plumbmark.handover.sweep_plan import MIDDLE, sweep_key, sweep_plan, sweep_view
from plumbmark.model.job import Job
from plumbmark.model.sweep import MethodSweep, SweepAnswer

_STYLE = (
    "svg.sweep{border:1px solid var(--rule)}svg path.shade{fill:var(--ink);stroke:none}"
    ".swatches{display:flex;flex-wrap:wrap;gap:4px 18px;margin-top:8px}.swatches span{display:flex;gap:8px;"
    "align-items:center}svg.swatch{width:22px;height:14px;flex:none}"
    "svg rect.shade{fill:var(--ink);stroke:none}svg path.gap{stroke:none}svg .hatch{stroke-width:1.6}svg "
    ".walked{stroke-width:1}"
    "svg .ahead{stroke-width:3.2}svg .round{stroke-width:2.2;stroke-dasharray:1 6;stroke-linecap:round}"
)
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def sweep_page(job: Job, answer: SweepAnswer) -> str:
    """The answer as a self-contained page.

    Parameters
    ----------
    job : Job
    answer : SweepAnswer
        Of this job.

    Returns
    -------
    str
        HTML.
    """
    units = job.display_units
    rules, not_rules = said.RULES[answer.record is not None]
    title = f"{job.id}: {job.title}" if job.title else job.id
    lists = [*said.gap_lists(answer, units), *said.further_lists(answer, units)]
    body = [
        f"<header><div><h1>{escaped(title)}</h1>",
        _p("Invented data: no such place.", "invented") if is_invented(job) else "",
        f'<h2 class="answer">{escaped(said.headline(answer, units))}</h2>',
        "" if answer.record is None else _p(answer.record.says, "lead"),
        f"</div><aside>{_p(said.NOT_NOTHING, 'caution')}</aside></header><main>",
        _pictures(job, answer),
        *(f"<section><h3>{escaped(head)}</h3>{_list(lines)}</section>" for head, lines in lists),
        "<section><h3>After marking</h3>",
        *(_p(said.round_sentence(once, units)) for once in answer.rounds),
        "</section><section><h3>How well</h3>",
        _methods("Walked", answer.walked, units) if answer.walked else "",
        _methods("As planned", answer.planned, units),
        _p(said.SWEPT_MEANING, "note") + _p(said.NOTICED_MEANING, "note"),
        f"</section><section><h3>No signal {rules}</h3>{_list(answer.rules_out)}</section>",
        f"<section><h3>No signal {not_rules}</h3>{_list(answer.cannot)}</section>",
        f"<section><h3>Taken, as the job does not say it</h3>{_list(answer.assumed)}</section>"
        if answer.assumed
        else "",
        "</main>",
    ]
    css = files("plumbmark.handover").joinpath("page.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer">'
        f"<title>{escaped(title)}, sweep</title><style>{css}{_STYLE}</style></head><body>{''.join(body)}"
        "</body></html>\n"
    )


def _pictures(job: Job, answer: SweepAnswer) -> str:
    """Each method walked, and one picture of what is planned for the others."""
    view = sweep_view(job, answer)
    drawn: list[tuple[str, MethodSweep]] = [(f"Walked, {s.search.method.words}", s) for s in answer.walked]
    done = {s.search.method for s in answer.walked}
    todo = [s for s in answer.planned if s.search.method not in done]
    if todo:
        names = listed(s.search.method.words for s in todo)
        drawn.append((f"To be walked, {names}", todo[0]))
    units = job.display_units
    parts = []
    for i, (head, sweep) in enumerate(drawn):
        depth = spoken_length(sweep.least[MIDDLE].depth_m, units)
        for least in (False, True):
            name = f"least current noticed, {depth} deep" if least else "how often a line is noticed"
            picture = sweep_plan(job, answer, sweep, view, f"p{i}{'l' if least else 'c'}", least=least)
            key = _key(sweep_key(sweep, least=least))
            parts.append(f"<section><h3>{escaped(head)}: {escaped(name)}</h3>{picture}{key}</section>")
    note = (
        "Hatched ground is a gap. Thin arrows are passes, thick ones are to be walked still, the dotted "
        "line is "
        "the last round after marking."
    )
    return f'<div class="pair">{"".join(parts)}</div>{_p(note, "note")}'


def _key(shades: Iterable[tuple[float, str]]) -> str:
    said = "".join(
        f'<span><svg class="swatch" viewBox="0 0 22 14"><rect class="shade" fill-opacity="{dark}" width="22" '
        f'height="14"/><rect width="22" height="14"/></svg>{escaped(text)}</span>'
        for dark, text in shades
    )
    return f'<p class="swatches">{said}</p>'


def _methods(name: str, sweeps: Iterable[MethodSweep], units: str) -> str:
    said_of = []
    for sweep in sweeps:
        method, passes, swept, noticed, best = said.method_row(sweep, units)
        plural = "pass" if passes == "1" else "passes"
        sentence = f"{method}: {passes} {plural}, {swept} swept; noticed {noticed}, at best {best}."
        said_of.append(f"{sentence[0].upper()}{sentence[1:]}")
    return f"<p><b>{name}</b></p>{_list(said_of)}"


def _list(lines: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{escaped(line)}</li>' for line in lines)}</ul>"


def _p(text: str, kind: str = "") -> str:
    return f'<p class="{kind}">{escaped(text)}</p>' if kind else f"<p>{escaped(text)}</p>"
