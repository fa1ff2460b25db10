"""The families of invented sites: what lies there, and what its crew read."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from plumbmark.practice import ground
from plumbmark.practice.crew import Crew, Job, stand, stand_beside, take_reading, walk_across
from plumbmark.practice.office import (
    coarse_rows,
    draw_crew,
    draw_header,
    finish,
    listed_line,
    tape_places,
)
from plumbmark.practice.receiver import Instrument
from plumbmark.practice.scenes import Scene, draw_current, draw_frequency, draw_resistivity, draw_scene
from plumbmark.practice.site import Beside, Hole, Listed, Row, Site, Walked
from plumbmark.practice.slips import blank_some, put_slips
from plumbmark.practice.world import Chain, Excitation, World, foot_on, point_at


@dataclass(frozen=True)
class Outing:
    """What a crew came back with from one line."""

    rows: list[Row]
    walked: list[Walked]
    jobs: Job


def _read_line(
    rng: np.random.Generator,
    scene: Scene,
    crew: Crew,
    tool: Instrument,
    line: str,
    *,
    target: int = 0,
    excitation: Excitation | None = None,
    first: int = 1,
    half: float = 0.0,
    raised: float = 0.0,
    walks: float = 0.0,
    nulls: bool = True,
    backward: float = 0.0,
    start_minute: int = 0,
) -> Outing:
    """Read every station of a line; the chances say where more than a plain reading is taken."""
    job = Job(scene.world, excitation or scene.excitation, target, tool, crew)
    raise_m = float(rng.choice([0.2, 0.3, 0.3048, 0.5, 0.7]))
    rows: list[Row] = []
    walked: list[Walked] = []
    last: float | None = None
    minute = start_minute
    order = scene.stations_m if rng.random() < 0.5 else scene.stations_m[::-1]
    for k, s in enumerate(order):
        minute += int(rng.integers(1, 5))
        at = stand(job, s, last, rng.random() < backward)
        last = at.mark_m
        e, n = crew.fix(*at.mark(), minute)
        row = Row(f"r{first + k:02d}", line, e, n, at.bearing_deg, minute)
        row = take_reading(
            job,
            at,
            row,
            half=rng.random() < half,
            raise_m=raise_m if rng.random() < raised else None,
            null=nulls and rng.random() > 0.03,
        )
        if rng.random() < walks:
            name = row.id if rng.random() < 0.7 else f"x{k + 1}"
            walked.append(walk_across(job, at, row, name))
        rows.append(row)
    return Outing(rows, walked, job)


def _plain(
    family: str,
    rng: np.random.Generator,
    seed: int,
    scene: Scene,
    *,
    line: Listed | None = None,
    **reading: float,
) -> Site:
    """A site of one listed line read once along."""
    head = draw_header(rng, family, seed, scene.world.resistivity_ohm_m)
    crew = draw_crew(rng, head)
    named = line or listed_line(rng, scene.excitation.frequency_hz)
    out = _read_line(rng, scene, crew, head.instrument, named.id, **reading)  # type: ignore[arg-type]
    head = replace(head, lines=(named,))
    return finish(rng, head, scene.world, [out.jobs], [out.rows], walked=out.walked)


def _alone_half(rng: np.random.Generator, seed: int) -> Site:
    return _plain("alone_half", rng, seed, draw_scene(rng), half=0.85)


def _second_plain(rng: np.random.Generator, seed: int) -> Site:
    return _plain("second_plain", rng, seed, draw_scene(rng, seconds=1))


def _second_raised(rng: np.random.Generator, seed: int) -> Site:
    return _plain("second_raised", rng, seed, draw_scene(rng, seconds=1), raised=rng.uniform(0.3, 0.8))


def _second_profiles(rng: np.random.Generator, seed: int) -> Site:
    return _plain("second_profiles", rng, seed, draw_scene(rng, seconds=1), walks=rng.uniform(0.15, 0.35))


def _slanted_half(rng: np.random.Generator, seed: int) -> Site:
    return _plain("slanted_half", rng, seed, draw_scene(rng, seconds=1, slanted=True), half=0.9)


def _bend(rng: np.random.Generator, seed: int) -> Site:
    return _plain("bend", rng, seed, draw_scene(rng, kinks=1 if rng.random() < 0.8 else 2))


def _three(rng: np.random.Generator, seed: int) -> Site:
    return _plain("three", rng, seed, draw_scene(rng, seconds=2), half=rng.choice([0.0, 0.0, 0.8]))


def _step(rng: np.random.Generator, seed: int) -> Site:
    """The current steps between two stations; half the time what is lost goes down a branch."""
    scene = draw_scene(rng)
    target, first = scene.world.chains[0], scene.excitation.currents[0]
    k = int(rng.integers(2, len(scene.stations_m) - 2))
    at = 0.5 * (scene.stations_m[k] + scene.stations_m[k + 1])
    keep = float(rng.uniform(0.3, 0.8))
    after = target.chainage_m > at
    currents = np.where(after, keep * first, first)
    chains, all_currents = [target], [np.asarray(currents)]
    if rng.random() < 0.5:
        foot = foot_on(target, *point_at(target, at))
        away = foot.bearing + (1 if rng.random() < 0.5 else -1) * math.radians(rng.uniform(50, 130))
        s = np.linspace(0.0, rng.uniform(8.0, 20.0), 24)
        plan = np.column_stack([foot.easting_m + s * math.sin(away), foot.northing_m + s * math.cos(away)])
        depth = foot.depth_m + (rng.uniform(0.4, 1.6) - foot.depth_m) * np.minimum(s / 4.0, 1.0)
        chains.append(Chain("branch", np.ascontiguousarray(np.column_stack([plan, -depth])), s))
        lost = (1 - keep) * np.interp(at, target.chainage_m, first.real)
        all_currents.append(np.full(s.size, lost, dtype=np.complex128))
    world = World(tuple(chains), scene.world.resistivity_ohm_m)
    excitation = Excitation(scene.excitation.frequency_hz, tuple(all_currents))
    return _plain("step", rng, seed, replace(scene, world=world, excitation=excitation))


def _conducting_side(rng: np.random.Generator, seed: int) -> Site:
    scene = draw_scene(
        rng,
        frequency_hz=float(rng.choice([10000.0, 33000.0, 80000.0])),
        resistivity=draw_resistivity(rng, 15.0, 2.2),
    )
    head = draw_header(rng, "conducting_side", seed, scene.world.resistivity_ohm_m)
    crew = draw_crew(rng, head)
    line = listed_line(rng, scene.excitation.frequency_hz)
    out = _read_line(rng, scene, crew, head.instrument, line.id, nulls=bool(rng.random() < 0.6))
    beside: list[Beside] = []
    for _ in range(int(rng.integers(3, 8))):
        offset = rng.uniform(1.5, 7.0) * (1 if rng.random() < 0.5 else -1)
        s = rng.uniform(1.0, scene.length_m - 1.0)
        one = stand_beside(out.jobs, s, offset, line.id, f"s{len(beside) + 1}", 90 + len(beside))
        if one is not None:
            beside.append(one)
    head = replace(head, lines=(line,))
    return finish(rng, head, scene.world, [out.jobs], [out.rows], beside=beside)


def _slips(rng: np.random.Generator, seed: int) -> Site:
    """Slips, blanks, mixed units; a second line a little way off, so that there is a wrong one to be on."""
    scene = draw_scene(rng, seconds=1, weaken=float(rng.choice([0.3, 0.6, 1.0])))
    head = draw_header(rng, "slips", seed, scene.world.resistivity_ohm_m, feet_chance=0.6)
    if rng.random() < 0.25:
        head = replace(head, style={**head.style, "depth_text": "mixed"})
    crew = draw_crew(rng, head)
    line = listed_line(rng, scene.excitation.frequency_hz)
    out = _read_line(rng, scene, crew, head.instrument, line.id, backward=0.03)
    other = replace(out.jobs, target=1, crew=replace(crew, follows=False, window_depths=0.5))

    def on_other_line(row: Row) -> Row | None:
        foot = foot_on(scene.world.chains[1], row.easting_m, row.northing_m)
        if math.hypot(foot.easting_m - row.easting_m, foot.northing_m - row.northing_m) < 0.3:
            return None
        at = stand(other, foot.chainage_m, None)
        e, n = crew.fix(*at.mark(), row.minute)
        minute = row.minute + int(rng.choice([0, 90]))
        fresh = Row(row.id, row.line, e, n, at.bearing_deg, minute, slip="wrong_line")
        return take_reading(other, at, fresh)

    feet = head.style["length"] == "ft" and not head.style["depth_text"]
    rows = put_slips(rng, out.rows, feet=feet, on_other_line=on_other_line)
    rows = blank_some(rng, rows, 0.12)
    return finish(rng, replace(head, lines=(line,)), scene.world, [out.jobs], [rows])


def _second_hole(rng: np.random.Generator, seed: int) -> Site:
    scene = draw_scene(rng, seconds=1)
    head = draw_header(rng, "second_hole", seed, scene.world.resistivity_ohm_m)
    crew = draw_crew(rng, head)
    across = float(np.round(rng.uniform(0.02, 0.3), 3))
    line = replace(listed_line(rng, scene.excitation.frequency_hz), outside_diameter_m=across)
    out = _read_line(rng, scene, crew, head.instrument, line.id)
    target = scene.world.chains[0]
    holes = []
    for k in range(1 if rng.random() < 0.8 else 2):
        foot = foot_on(target, *point_at(target, rng.uniform(0.0, scene.length_m)))
        e, n = foot.easting_m + rng.normal(0, 0.02), foot.northing_m + rng.normal(0, 0.02)
        holes.append(
            Hole(f"h{k + 1}", line.id, e, n, foot.depth_m - across / 2 + rng.normal(0, 0.01), across)
        )
    head = replace(head, lines=(line,))
    return finish(rng, head, scene.world, [out.jobs], [out.rows], holes=holes)


def _two_lines(rng: np.random.Generator, seed: int) -> Site:
    """Two lines, each read with its own hook-up, each stealing into the other's readings."""
    scene = draw_scene(rng, seconds=0)
    target = scene.world.chains[0]
    side = 1.0 if rng.random() < 0.5 else -1.0
    made = ground.beside(rng, target, side * rng.uniform(0.4, 3.0), -1e3, 1e3)
    other = ground.laid_at(made, "other", ground.along_depth(rng, made, ground.draw_depth(rng)))
    world = World((target, other), scene.world.resistivity_ohm_m)
    length, f1, f2 = scene.length_m, scene.excitation.frequency_hz, draw_frequency(rng)
    ratio1, ratio2, i2 = ground.ratio_of(rng), ground.ratio_of(rng), draw_current(rng)
    i1 = abs(np.interp(0.5 * length, target.chainage_m, scene.excitation.currents[0].real))
    ex1 = Excitation(
        f1,
        (scene.excitation.currents[0], ground.tapering(rng, other.chainage_m, complex(i1 * ratio1), length)),
    )
    ex2 = Excitation(
        f2,
        (
            ground.tapering(rng, target.chainage_m, complex(i2 * ratio2), length),
            ground.tapering(rng, other.chainage_m, i2, length),
        ),
    )
    head = draw_header(rng, "two_lines", seed, world.resistivity_ohm_m)
    crew = draw_crew(rng, head)
    one = listed_line(rng, f1)
    two = listed_line(rng, f2, avoid=one.id)
    scene = replace(scene, world=world, excitation=ex1)
    nulls = bool(rng.random() < 0.75)
    a = _read_line(rng, scene, crew, head.instrument, one.id, nulls=nulls)
    b = _read_line(
        rng,
        scene,
        crew,
        head.instrument,
        two.id,
        target=1,
        excitation=ex2,
        first=len(a.rows) + 1,
        nulls=nulls,
        start_minute=a.rows[-1].minute + 10,
    )
    head = replace(head, lines=(one, two))
    return finish(rng, head, world, [a.jobs, b.jobs], [a.rows, b.rows])


def _coarse(rng: np.random.Generator, seed: int) -> Site:
    """One to four stations, places taped or paced, the null as a range."""
    scene = draw_scene(rng, seconds=int(rng.random() < 0.5), count=int(rng.integers(1, 5)))
    head = draw_header(rng, "coarse", seed, scene.world.resistivity_ohm_m, local=True)
    taped = bool(rng.random() < 0.5)
    # taped ties get their errors tape by tape; a paced place is good to a foot
    sigma = 0.0 if taped else 0.3
    crew = replace(draw_crew(rng, head), fix_sigma_m=sigma, fix_factor=1.0)
    line = listed_line(rng, scene.excitation.frequency_hz)
    out = _read_line(
        rng, scene, crew, head.instrument, line.id, half=float(rng.choice([0.0, 1.0])), nulls=True
    )
    rows = coarse_rows(rng, out.rows, head.style["length"], bool(rng.random() < 0.6))
    if taped:
        rows, corners, ties = tape_places(rng, rows)
        head = replace(head, position_sigma_m=None, corners=corners, ties=ties)
        head = replace(head, style={**head.style, "place": "ties"})
    else:
        head = replace(head, position_sigma_m=0.3)
        head = replace(head, style={**head.style, "place": "baseline" if len(rows) > 1 else "en2"})
    head = replace(head, lines=(line,))
    return finish(rng, head, scene.world, [out.jobs], [rows], keep_order=True)


_MAKERS: dict[str, Callable[[np.random.Generator, int], Site]] = {
    "alone_half": _alone_half,
    "second_plain": _second_plain,
    "second_raised": _second_raised,
    "second_profiles": _second_profiles,
    "slanted_half": _slanted_half,
    "conducting_side": _conducting_side,
    "bend": _bend,
    "step": _step,
    "slips": _slips,
    "three": _three,
    "second_hole": _second_hole,
    "two_lines": _two_lines,
    "coarse": _coarse,
}

FAMILIES = tuple(_MAKERS)
"""Names of the families, in the order of the list."""


def make_site(family: str, seed: int) -> Site:
    """An invented site of one family. The same family and seed give the same site.

    Raises
    ------
    KeyError
        If there is no such family.
    """
    maker = _MAKERS[family]
    return maker(np.random.default_rng([seed, FAMILIES.index(family)]), seed)
