"""A hook-up plan as plain text, 79 columns wide."""

from __future__ import annotations

from plumbmark.handover.answer_text import table, wrapped
from plumbmark.handover.linefit_text import linefit_text
from plumbmark.handover.plan_words import (
    HOLDS_MEANING,
    cautions,
    change_words,
    first_sentence,
    hertz,
    hookup_row,
    what_to_expect,
)
from plumbmark.model.linefit import LineFit
from plumbmark.model.plan import HookupPlan, Trial

_HEAD = ("connection", "start at", "goes in", "traced", "holds", "depth shown", "on others")


def plan_text(plan: HookupPlan, fit: LineFit | None = None) -> str:
    """The whole plan: the answer, the comparison, what to change, cautions.

    Parameters
    ----------
    plan : HookupPlan
    fit : LineFit, optional
        What the currents read along the target say.

    Returns
    -------
    str
        Lines of 79 columns, ending in a line feed.
    """
    network = plan.network
    blocks = [
        [wrapped(f"{network.id}: hook-up plan for {network.target}" if network.id else "Hook-up plan")],
        [wrapped(first_sentence(plan)), wrapped(what_to_expect(plan.ranked[0], network))],
        table(_HEAD, [hookup_row(trial, network) for trial in plan.ranked]),
    ]
    frequencies = [t for t in plan.trials if t.connection.id == plan.ranked[0].connection.id]
    if len(frequencies) > 1:
        blocks.append(
            [wrapped(f"{plan.ranked[0].connection.id} at each frequency:"), *_frequencies(plan, frequencies)]
        )
    if plan.changes:
        said = [wrapped(change_words(plan, k), "    ", "  - ") for k in range(len(plan.changes))]
        blocks.append(["What would make it better", *said])
    if fit is not None:
        blocks.append([linefit_text(fit, network).rstrip("\n")])
    blocks.append([wrapped(HOLDS_MEANING)])
    blocks.append(["Before anything is connected", *(wrapped(c, "    ", "  - ") for c in cautions(network))])
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def _frequencies(plan: HookupPlan, trials: list[Trial]) -> list[str]:
    rows = [(hertz(t.frequency_hz), *hookup_row(t, plan.network)[2:]) for t in trials]
    return table(("at", *_HEAD[2:]), rows)
