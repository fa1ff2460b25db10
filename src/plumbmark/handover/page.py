"""The picture page: one HTML file with everything in it, readable without network or program."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from importlib.resources import files

from plumbmark.handover import answer, words
from plumbmark.handover.on_plan import on_plan
from plumbmark.handover.page_along import along_picture
from plumbmark.handover.page_data import page_data
from plumbmark.handover.page_plan import plan_picture, view_of
from plumbmark.handover.page_svg import escaped
from plumbmark.model.estimate import LineEstimate, Solution
from plumbmark.model.job import Job

# More lines than this are answered in one sentence each, in the body's own size.
_LARGE_ANSWERS = 4
_DRAWN_LINES = 24
_LISTED = 3000
_OPEN_ROWS = 200
_HEAD = (
    "reading",
    "along",
    "easting, m",
    "northing, m",
    "paint",
    "depth to the middle",
    "current, mA",
    "one line alone",
    "numbers hold",
    "trust",
)


def write_page(job: Job, solution: Solution) -> str:
    """The answer as a self-contained page.

    Parameters
    ----------
    job : Job
    solution : Solution
        Of this job.

    Returns
    -------
    str
        HTML, under 5 MB whatever the job's size: beyond some thousand stations the ones that can be
        leaned on least are listed, and an even choice of the rest; the page says so.
    """
    listed = answer.listed_stations(solution, _LISTED)
    drawn = on_plan(job, solution)
    view = view_of(*drawn)
    script = _asset("page.js")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{digest}'"
    solved = any(line.stations for line in solution.lines)
    pictures = _pictures(job, solution, plan_picture(*drawn, view)) if solved else ""
    title = f"{job.id}: {job.title}" if job.title else job.id
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer">'
        f"<title>{escaped(title)}</title><style>{_asset('page.css')}</style></head><body>"
        f"{_answer(job, solution, title)}<main>{pictures}{_table(job, solution, listed)}"
        f"{_reasons(job, solution, listed)}{_warnings(job, solution)}</main>{_foot(solution)}"
        f'<script type="application/json" id="data">{page_data(job, solution, listed, view)}</script>'
        f"<script>{script}</script></body></html>\n"
    )


def _asset(name: str) -> str:
    return files("plumbmark.handover").joinpath(name).read_text(encoding="utf-8")


def _p(text: str, kind: str = "") -> str:
    return f'<p class="{kind}">{escaped(text)}</p>' if kind else f"<p>{escaped(text)}</p>"


def _answer(job: Job, solution: Solution, title: str) -> str:
    """The answer first: what holds, where to paint, how deep, which line, what next."""
    parts = [f"<header><div><h1>{escaped(title)}</h1>"]
    if answer.taken_on(job):
        parts.append(_p(answer.taken_on(job), "note"))
    if answer.is_invented(job):
        parts.append(_p("Invented data: no such place.", "invented"))
    large = len(solution.lines) <= _LARGE_ANSWERS
    for line in solution.lines:
        parts.append(f'<h2 class="{"answer" if large else "small-answer"}">')
        parts.append(f"{escaped(answer.headline(job, line))}</h2>")
        if line.stations:
            said = (answer.what_to_paint(line, job.display_units), answer.how_deep(line, job.display_units))
            parts.append(_p(" ".join(said), "lead" if large else ""))
        parts.append(_p(answer.which_line(line)))
        toward = answer.towards(line)
        if line.stations:
            for neighbour in line.neighbours:
                parts.append(_p(answer.second_line(neighbour, job.display_units, toward)))
            for event in line.current_events:
                parts.append(_p(answer.current_event(event, line, job.display_units)))
    parts.append("</div><aside>")
    if solution.next_step is not None:
        parts.append('<p class="next"><b>Next step.</b> ')
        parts.append(f"{escaped(words.sentence(solution.next_step.words))}</p>")
    parts.append(_p(answer.CAUTION, "caution") + "</aside></header>")
    return "".join(parts)


def _pictures(job: Job, solution: Solution, plan: str) -> str:
    drawn = [(i, line) for i, line in enumerate(solution.lines) if line.stations]
    charts = []
    for i, line in drawn[:_DRAWN_LINES]:
        charts.append(f"<figure><h3>Along {escaped(answer.line_name(job, line.line))}</h3>")
        for width, kind in ((380.0, "slim"), (900.0, "wide")):
            charts.append(along_picture(job, line, i, width, kind))
        charts.append("</figure>")
    if len(drawn) > _DRAWN_LINES:
        charts.append(_p(f"The other {len(drawn) - _DRAWN_LINES:,} lines are in the table and the plan."))
    seen = " Diamonds are things seen above ground." if any(thing.place for thing in job.things) else ""
    return (
        '<div class="pair"><section><h3>Plan</h3>'
        f"{plan}"
        '<div class="keys script"><button type="button" id="closer">Closer</button>'
        '<button type="button" id="wider">Wider</button>'
        '<button type="button" id="whole">Whole plan</button></div>'
        '<p class="note">Crosses are your marks. The grey band holds the line 19 times in 20, to scale.'
        f"{seen} "
        '<span class="script">Tap near a mark to see its section.</span></p></section>'
        '<section aria-live="polite"><h3 id="section-name">Section</h3>'
        '<div class="keys script"><button type="button" id="before">Before</button>'
        '<label><span class="hidden">Reading</span><select id="choose"></select></label>'
        '<button type="button" id="after">After</button></div>'
        '<p id="section-words" class="script"></p>'
        '<div id="section" class="script"></div><div id="section-more" class="script"></div>'
        '<noscript><p class="note">The section is drawn by a script, which is switched off here. Its numbers '
        "are in the table.</p></noscript></section></div>"
        f"{''.join(charts)}"
    )


def _table(job: Job, solution: Solution, listed: answer.Listed) -> str:
    parts = ["<section><h3>The numbers</h3>"]
    total = sum(len(line.stations) for line in solution.lines)
    shown = sum(map(len, listed))
    if shown < total:
        parts.append(_p(answer.left_out(shown, total)))
    head = "".join(f'<th scope="col">{name}</th>' for name in _HEAD)
    row = 0
    for line, keep in zip(solution.lines, listed, strict=True):
        if not line.stations:
            continue
        rows = []
        for i in keep:
            rows.append(_row(line, i, row, job.display_units))
            row += 1
        name = escaped(answer.line_name(job, line.line))
        state = " open" if shown <= _OPEN_ROWS else ""
        parts.append(
            f"<details{state}><summary>{name}: {words.count(len(rows), 'row')}</summary>"
            f"{_p(answer.left_and_right(line))}"
            f'<table><caption class="hidden">{name}</caption><thead><tr>{head}</tr></thead>'
            f"<tbody>{''.join(rows)}</tbody></table></details>"
        )
    parts.append(_holes(job))
    if total:
        parts.append(_p(answer.TRUST_MEANING, "note"))
    return "".join(parts) + "</section>"


def _row(line: LineEstimate, i: int, row: int, units: str) -> str:
    s = line.stations[i]
    shift, depth = s.lateral_shift_m, s.depth_m
    cells = (
        words.along(s.chainage_m, units),
        f"{s.easting_m:.2f}",
        f"{s.northing_m:.2f}",
        _two(words.paint(shift, units), words.sideways(shift, units)),
        _two(words.length(depth.value, units, depth.high - depth.low), words.band(depth, units)),
        _two(*words.current(s.current_a)),
        words.chance(s.single_line_probability),
        words.chance(s.within_10_probability),
        s.trust.value,
    )
    return (
        f'<tr id="s{row}"><th scope="row"><button type="button">{escaped(s.id)}</button></th>'
        f"{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"
    )


def _two(value: str, band: str) -> str:
    """A number and its band; the page's script reads them from here."""
    return f"<span><b>{value}</b> <i>{band}</i></span>"


def _holes(job: Job) -> str:
    """Test holes, each in a sentence."""
    said = []
    for hole in job.test_holes[:_OPEN_ROWS]:
        top = hole.depth_to_top_m if hole.found else hole.dug_to_m
        depth = "" if top is None else answer.shown(top.value, top.half_range, job.display_units)
        if hole.found:
            text = f"Test hole {hole.id}: {hole.line} seen" + (f", top at {depth}" if depth else "")
        else:
            text = f"Test hole {hole.id}: {hole.line} not there" + (f", dug to {depth}" if depth else "")
        said.append(_p(words.sentence(text + (f"; {hole.proved}" if hole.proved else ""))))
    return "".join(said)


def _reasons(job: Job, solution: Solution, listed: answer.Listed) -> str:
    parts = []
    for line, keep in zip(solution.lines, listed, strict=True):
        stations = [line.stations[i] for i in keep]
        because = answer.grouped(line, lambda s: s.because, stations)
        steps = answer.grouped(line, lambda s: (s.next_step,), stations)
        name = escaped(answer.line_name(job, line.line))
        parts += _groups(f"Because: {name}", because) + _groups(f"What would help: {name}", steps)
    return f"<section>{''.join(parts)}</section>" if parts else ""


def _groups(title: str, groups: Iterable[tuple[str, tuple[str, ...]]]) -> list[str]:
    said = [f"<p><b>{escaped(who)}.</b> {escaped(' '.join(texts))}</p>" for who, texts in groups]
    if not said:
        return []
    state = " open" if len(said) <= 12 else ""
    return [f"<details{state}><summary>{title}</summary>{''.join(said)}</details>"]


def _warnings(job: Job, solution: Solution) -> str:
    found = answer.all_warnings(job, solution)
    if not found:
        return ""
    said = "".join(f"<li>{escaped(f'{w.where}: {w.what}')}</li>" for w in found[:_OPEN_ROWS])
    more = len(found) - _OPEN_ROWS
    if more > 0:
        said += f"<li>and {more:,} more, on the terminal and in the file of numbers</li>"
    return f"<section><h3>What the files left open</h3><ul>{said}</ul></section>"


def _foot(solution: Solution) -> str:
    return (
        "<footer>"
        + _p("For the crew's own record. Paint carries no depth unless the owner's rule allows it.", "note")
        + "</footer>"
    )
