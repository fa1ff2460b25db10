"""Write tests/browser/fold_vectors.json: facts and what the fold makes of them, for the page to match.

Facts are drawn at random from few keys and devices, so that corrections, taking back, freezing and keys given
twice meet often. Run: python tests/create_data/make_fold_vectors.py
"""

from __future__ import annotations

import json
import random
import tomllib
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import UUID

from plumbmark.exchange.journal.fold import folded
from plumbmark.model.fact import Draft, Fact, FactKind, sealed, to_wire

OUT = Path(__file__).resolve().parents[1] / "browser" / "fold_vectors.json"
CASES, MOST_FACTS = 60, 25
DEVICES = [str(UUID(int=number)) for number in (1, 2, 3)]
FILES = {
    "readings.csv": 'reading,line,depth_ft,note\n1,E1,3.10,"a ""b"", c"\n2,E1,,\n',
    "job.toml": '[job]\nid = "j"\ntitle = "T"\n[[lines]]\nid = "E1"\nutility = "gas"\n'
    'identity = ["connected"]\n',
}


def payload(draw: random.Random, kind: FactKind) -> dict[str, Any]:
    """Something that a fact of this kind may hold."""
    key, cell = draw.choice("123"), str(draw.randrange(100))
    match kind:
        case FactKind.ENTRY:
            table = draw.choice(["readings", "readings", "profiles", "things", "owners", "marks"])
            cells = {"note": cell} | ({"from_thing": draw.choice("123")} if table == "readings" else {})
            return {"table": table, "key": key, "rows": [cells] * draw.choice([1, 1, 1, 2, 0])}
        case FactKind.ITEM:
            keys = draw.choice([{"owner": cell}, {"owner": None}, {"material": cell}, None])
            return {"table": "lines", "key": "E" + key, "keys": keys}
        case FactKind.FILE:
            name = draw.choice(list(FILES))
            data = FILES[name].encode()
            return {
                "name": name,
                "sha256": sha256(data).hexdigest(),
                "size": len(data),
                "media": "text/plain",
            }
        case FactKind.JOB:
            return {"keys": {"title": cell}}
        case FactKind.TICKET:
            return {"keys": draw.choice([{"place": cell}, {"place": None}, {"emergency": True}])}
        case FactKind.CANNOT:
            return {"actions": [draw.choice(["raise", "null"])]}
        case FactKind.SETTLED:
            return {"question": f"slip:{key}:depth", "answer": draw.choice(["kept", "corrected"])}
        case FactKind.TICK:
            return {"step": key, "done": draw.choice([True, False])}
        case FactKind.TOLD:
            return {"who": cell, "how": "spoken", "what": "all"}
        case FactKind.FREEZE | FactKind.REOPEN:
            return {"why": ""}
        case _:
            return {}


def facts_of(seed: int) -> list[Fact]:
    """Facts of one job in the order they came in."""
    draw = random.Random(seed)
    kinds = [*FactKind] + [FactKind.ENTRY] * 18 + [FactKind.REMOVE] * 5
    kinds.remove(FactKind.SHAPE)
    kinds.remove(FactKind.SOIL)
    facts: list[Fact] = []
    last: dict[str, Fact] = {}
    for number in range(draw.randrange(2, MOST_FACTS)):
        kind, device = draw.choice(kinds), draw.choice(DEVICES)
        held = payload(draw, kind)
        before = [fact for fact in facts if fact.kind is kind or kind is FactKind.REMOVE]
        target = draw.choice(before) if before and (draw.random() < 0.5 or kind is FactKind.REMOVE) else None
        if target is not None and kind is FactKind.ENTRY and draw.random() < 0.8:
            held = {**held, "table": target.payload["table"], "key": target.payload["key"]}
        at = f"2026-11-25T14:{number:02}:00+01:00"
        draft = Draft("j", kind, held, at, "", target.id if target else None)
        chain = last.get(device)
        ident = str(UUID(int=1000 * (seed + 1) + number))
        fact = sealed(draft, ident, device, chain.seq + 1 if chain else 1, chain.hash if chain else "")
        last[device] = fact
        facts.append(fact)
    return facts


def expected(facts: list[Fact]) -> dict[str, Any]:
    """What the fold makes of them."""
    blobs = {sha256(text.encode()).hexdigest(): text.encode() for text in FILES.values()}
    to = folded(facts, blobs.__getitem__)
    named = ["reading", "profile", "thing", "owner", "mark"]
    toml = tomllib.loads(to.files["job.toml"].decode())
    rows = {
        table: {
            key: [{c: v for c, v in row.items() if c not in named} for row in entry.rows]
            for key, entry in entries.items()
        }
        for table, entries in to.rows.items()
    }
    said_lines = {f.payload["key"] for f in facts if f.kind is FactKind.ITEM} | {"E1"}
    lines = {each.pop("id"): each for each in toml.get("lines", [])}
    return {
        "rows": {table: held for table, held in rows.items() if held},
        "job": {k: v for k, v in toml["job"].items() if k != "id"},
        "ticket": toml.get("ticket", {}),
        # A line that only a reading names is added by the fold of the files, bare.
        "lines": {key: keys for key, keys in lines.items() if key in said_lines and keys},
        "cannot": sorted(to.cannot),
        "settled": dict(to.settled),
        "ticks": dict(to.ticks),
        "told": [fact.id for fact in to.told],
        "frozen": to.frozen and to.frozen.id,
        "late": [fact.id for fact in to.late],
    }


def vectors() -> dict[str, Any]:
    """All of it."""
    cases = []
    for seed in range(CASES):
        facts = facts_of(seed)
        cases.append({"facts": [to_wire(fact) for fact in facts], "expected": expected(facts)})
    return {"files": FILES, "cases": cases}


if __name__ == "__main__":
    OUT.write_text(json.dumps(vectors(), separators=(",", ":")) + "\n", encoding="utf-8")
