"""A hook-up plan as a self-contained page: the answer, the network drawn, current and depth along it."""

from __future__ import annotations

import math
from importlib.resources import files

from plumbmark.handover.linefit_text import linefit_sentences
from plumbmark.handover.page_svg import (
    Labels,
    Point,
    axis_unit,
    colour_class,
    escaped,
    multiples,
    num,
    path,
    round_step,
)
from plumbmark.handover.plan_words import (
    HOLDS_MEANING,
    cautions,
    change_words,
    first_sentence,
    hertz,
    hookup_row,
    milliamperes,
    what_to_expect,
)
from plumbmark.model.linefit import LineFit
from plumbmark.model.network import Network
from plumbmark.model.plan import HookupPlan, Trial

_WIDTH, _HEIGHT = 900.0, 560.0
_MARGIN = 50.0


def plan_page(plan: HookupPlan, fit: LineFit | None = None) -> str:
    """The plan as HTML, readable without a network or a script.

    Parameters
    ----------
    plan : HookupPlan
    fit : LineFit, optional
        What the currents read along the target say.

    Returns
    -------
    str
    """
    network = plan.network
    title = f"{network.id}: hook-up plan for {network.target}"
    parts = [
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">',
        '<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; '
        "style-src 'unsafe-inline'\">",
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escaped(title)}</title><style>{_style()}</style></head><body>",
        f"<header><div><h1>{escaped(title)}</h1>",
        f'<h2 class="answer">{escaped(first_sentence(plan))}</h2>',
        f'<p class="lead">{escaped(what_to_expect(plan.ranked[0], network))}</p></div></header><main>',
        f"<figure><h3>What lies there</h3>{network_picture(network, plan.ranked[0])}",
        f'<p class="note">{escaped(_picture_note(plan))}</p></figure>',
    ]
    for trial in plan.ranked[:3]:
        parts.append(_figure(trial, network))
    parts.append(_comparison(plan))
    if plan.changes:
        said = "".join(f"<li>{escaped(change_words(plan, k))}</li>" for k in range(len(plan.changes)))
        parts.append(f"<section><h3>What would make it better</h3><ul>{said}</ul></section>")
    if fit is not None:
        said = "".join(f"<p>{escaped(sentence)}</p>" for sentence in linefit_sentences(fit, network))
        parts.append(f"<section><h3>After the readings</h3>{said}</section>")
    told = "".join(f"<li>{escaped(caution)}</li>" for caution in cautions(network))
    parts.append(f'<section class="caution"><h3>Before anything is connected</h3><ul>{told}</ul></section>')
    parts.append(f'</main><footer><p class="note">{escaped(HOLDS_MEANING)}</p></footer></body></html>\n')
    return "".join(parts)


def _style() -> str:
    base = files("plumbmark.handover").joinpath("page.css").read_text(encoding="utf-8")
    # The table here is small: it stays a table on a narrow screen too.
    return base + (
        "table,tbody,caption{display:table;width:auto}thead{position:static;clip-path:none}tbody tr,"
        "thead tr{display:table-row!important}th,td{display:table-cell!important;padding:4px 12px 4px 0}"
        "td::before{content:none!important}.wide{overflow-x:auto}"
    )


def _picture_note(plan: HookupPlan) -> str:
    best = plan.ranked[0]
    return (
        f"Drawn for {best.connection.id} at {hertz(best.frequency_hz)}: the wider the black rim of a "
        f"line, the more "
        "of the signal it carries. Rings are bonds, triangles stakes, squares connections."
    )


def network_picture(network: Network, trial: Trial) -> str:
    """The network in plan, north up; the rim of each line as wide as the current on it."""
    points = [(v[0], v[1]) for c in network.conductors for v in c.vertices_m]
    points += [(s.easting_m, s.northing_m) for s in network.stakes]
    points += [(c.easting_m, c.northing_m) for c in network.connections if c.easting_m and c.northing_m]
    low = [min(p[k] for p in points) for k in (0, 1)]
    high = [max(p[k] for p in points) for k in (0, 1)]
    span = max(high[0] - low[0], (high[1] - low[1]) * _WIDTH / _HEIGHT, 5.0)
    scale = (_WIDTH - 2 * _MARGIN) / span
    height = (high[1] - low[1]) * scale + 2 * _MARGIN

    def at(easting: float, northing: float) -> Point:
        return _MARGIN + (easting - low[0]) * scale, height - _MARGIN - (northing - low[1]) * scale

    labels = Labels(_WIDTH, height)
    carried = dict(trial.other_currents_a)
    own = max((s.current_a for s in trial.stations), default=0.0)
    strongest = max([own, *carried.values(), 1e-12])
    drawn = []
    for c in network.conductors:
        line = [at(v[0], v[1]) for v in c.vertices_m]
        amperes = own if c.id == network.target else carried.get(c.id, own)
        rim = 4.0 + 12.0 * math.sqrt(amperes / strongest)
        kind = colour_class(c.utility)
        drawn.append(
            f'<g class="{kind}"><path class="rim" style="stroke-width:{num(rim)}" d="{path(line)}"/>'
            f'<path class="core" d="{path(line)}"/></g>'
        )
        labels.block(line)
        labels.wish(2, [line[len(line) // 2], line[0]], f"{c.id}, {milliamperes(amperes)}", must=True)
    for bond in network.bonds:
        x, y = at(*network.conductor(bond.conductor).point_at(bond.at_m)[:2])
        drawn.append(f'<circle class="paper" cx="{num(x)}" cy="{num(y)}" r="6"/>')
        labels.wish(4, [(x, y)], bond.id)
    for stake in network.stakes:
        x, y = at(stake.easting_m, stake.northing_m)
        drawn.append(
            f'<path class="paper" d="M{num(x - 7)} {num(y - 6)}H{num(x + 7)}L{num(x)} {num(y + 8)}Z"/>'
        )
        labels.wish(3, [(x, y)], stake.id)
    for connection in network.connections:
        x, y = at(*place_of(network, connection.id))
        drawn.append(f'<rect class="paper" x="{num(x - 6)}" y="{num(y - 6)}" width="12" height="12"/>')
        kind = "strong" if connection.id == trial.connection.id else ""
        labels.wish(1, [(x, y)], connection.id, kind, must=True)
    unit, name = axis_unit(network.display_units)
    step = round_step(span / unit, 5)
    bar = (
        f'<path class="ink" d="M{num(_MARGIN)} {num(height - 14)}h{num(step * unit * scale)}"/>'
        f'<text x="{num(_MARGIN)}" y="{num(height - 20)}">{step:g} {name}</text>'
        f'<path class="ink" d="M{num(_WIDTH - 24)} 46V14m-5 9 5-9 5 9"/>'
        f'<text x="{num(_WIDTH - 24)}" y="62" text-anchor="middle">N</text>'
    )
    return (
        f'<svg viewBox="0 0 {num(_WIDTH)} {num(height)}" role="img" aria-label="The network in plan">'
        f"{''.join(drawn)}{bar}{labels.placed()}</svg>"
    )


def place_of(network: Network, ident: str) -> Point:
    """Easting and northing of a connection [m]."""
    connection = next(c for c in network.connections if c.id == ident)
    if connection.conductor is not None and connection.at_m is not None:
        return network.conductor(connection.conductor).point_at(connection.at_m)[:2]
    return connection.easting_m or 0.0, connection.northing_m or 0.0


def _figure(trial: Trial, network: Network) -> str:
    head = f"{trial.connection.id}, {hertz(trial.frequency_hz)}: along {network.target}"
    return (
        f"<figure><h3>{escaped(head)}</h3>{along_target(trial, network)}"
        f"<p>{escaped(what_to_expect(trial, network))}</p></figure>"
    )


def along_target(trial: Trial, network: Network) -> str:
    """Current on a log axis, and under it the depth that would be shown over the line within a tenth."""
    stations = trial.stations
    if not stations:
        return '<p class="note">The target is too short to be told away from its ends.</p>'
    length = network.conductor(network.target).length_m
    left, right, top, middle, bottom = 70.0, _WIDTH - 20.0, 20.0, 210.0, 420.0

    def x(chainage: float) -> float:
        return left + (right - left) * chainage / length

    amperes = [max(s.current_a, 1e-7) for s in stations]
    low = math.floor(math.log10(min(amperes)))
    high = math.ceil(math.log10(max(amperes) * 1.01))

    def y(current: float) -> float:
        return middle - (middle - top) * (math.log10(current) - low) / max(high - low, 1)

    grid = []
    for decade in range(low, high + 1):
        level = y(10.0**decade)
        grid.append(f'<path class="grid" d="M{num(left)} {num(level)}H{num(right)}"/>')
        grid.append(
            f'<text x="{num(left - 6)}" y="{num(level + 5)}" '
            f'text-anchor="end">{milliamperes(10.0**decade)}</text>'
        )
    current = path((x(s.chainage_m), y(a)) for s, a in zip(stations, amperes, strict=True))
    deepest = 1.25 * max(max(s.depth_m, min(s.shown_depth_m, 3 * s.depth_m)) for s in stations)

    def z(depth: float) -> float:
        return middle + 40.0 + (bottom - middle - 40.0) * min(depth, deepest) / deepest

    unit, name = axis_unit(network.display_units)
    for depth in multiples(0.0, deepest / unit, round_step(deepest / unit, 4)):
        level = z(depth * unit)
        grid.append(f'<path class="grid" d="M{num(left)} {num(level)}H{num(right)}"/>')
        grid.append(
            f'<text x="{num(left - 6)}" y="{num(level + 5)}" text-anchor="end">{depth:g} {name}</text>'
        )
    for chainage in multiples(0.0, length / unit, round_step(length / unit, 8)):
        grid.append(
            f'<text x="{num(x(chainage * unit))}" y="{num(bottom + 20)}" '
            f'text-anchor="middle">{chainage:g} {name}</text>'
        )
    band = path(
        [(x(s.chainage_m), z(0.9 * s.depth_m)) for s in stations]
        + [(x(s.chainage_m), z(1.1 * s.depth_m)) for s in reversed(stations)],
        closed=True,
    )
    line = path((x(s.chainage_m), z(s.depth_m)) for s in stations)
    dots = "".join(
        f'<circle class="{"fill" if s.holds else "paper"}" cx="{num(x(s.chainage_m))}" '
        f'cy="{num(z(s.shown_depth_m))}" r="4"/>'
        for s in stations
        if s.followed
    )
    return (
        f'<svg viewBox="0 0 {num(_WIDTH)} {num(bottom + 34)}" role="img" '
        f'aria-label="Current and displayed depth along the target">{"".join(grid)}'
        f'<path class="ink" d="{current}"/><path class="band" d="{band}"/><path class="ink" '
        f'd="{line}"/>{dots}'
        f'<text class="big" x="{num(left + 4)}" y="{num(top - 4)}">current</text>'
        f'<text class="big" x="{num(left + 4)}" y="{num(middle + 30)}">depth, and what would be shown: '
        "full dots hold, open ones do not</text></svg>"
    )


def _comparison(plan: HookupPlan) -> str:
    head = ("connection", "start at", "goes in", "traced over", "holds over", "depth shows", "on others")
    rows = []
    for t in plan.ranked:
        cells = hookup_row(t, plan.network)
        rows.append("<tr>" + "".join(f"<td>{escaped(cell)}</td>" for cell in cells) + "</tr>")
    titles = "".join(f'<th scope="col">{name}</th>' for name in head)
    return (
        "<section><h3>The connections, best first</h3><div class='wide'><table>"
        f"<thead><tr>{titles}</tr></thead><tbody>{''.join(rows)}</tbody></table></div></section>"
    )
