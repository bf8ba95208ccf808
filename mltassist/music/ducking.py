"""The levels of what sounds under speech in one project, planned, and the mix that results."""

from __future__ import annotations

from typing import Any

from mltassist.findings import Findings, Run, plan_of, somebody_speaks, speech_activity
from mltassist.music.delivery import deliver
from mltassist.music.duck import Mix, duck_edits, measured_again, note_unclear
from mltassist.music.figures import mix_figures
from mltassist.plans import Plan
from mltassist.project import Project
from mltassist.rushes.find import find
from mltassist.timeline.edits import ClearOurs


def plan_of_levels(project: Project, run: Run, *, normalise: bool) -> Plan:
    """Plan the level curves of a project. Raises NothingToDo where speech may have been missed."""
    bare = project.with_edits([ClearOurs("duck", "measured without earlier curves")])
    findings = find(bare.timeline, run)
    somebody_speaks(project, findings)  # without speech the mix is measured all the same
    speech = speech_activity(findings)
    edits, mix = duck_edits(findings, speech)
    ducked = find(bare.with_edits(edits).timeline, run)
    after = measured_again(ducked, mix)
    note_unclear(findings, mix, after)
    figures: dict[str, Any] = {"passages": mix_figures(mix, after, project.timeline.rate)}
    whole, figures["mix"] = deliver(findings, ducked, normalise=normalise)
    _decide(findings, mix)
    return plan_of("duck", project, (*edits, *whole), findings, figures)


def _decide(findings: Findings, mix: Mix) -> None:
    """Every level as a decision, also where nothing has to be changed."""
    for number, layer in enumerate(mix.layers):
        for hold in mix.holds.get(number, ()):
            at = hold.span.start
            findings.decide(
                findings.places.level(layer.name, at), at, f"{layer.name} {hold.depth_db:+.1f} dB"
            )
