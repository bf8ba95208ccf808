"""What was shot, element by element: told by names, log sheets and, where these say nothing, by evidence."""

from __future__ import annotations

from mltassist.findings import Findings, Run, StageProgress
from mltassist.recipe.rules import Recipe
from mltassist.rushes.guesses import guess, told_guesses
from mltassist.rushes.logs import find_log
from mltassist.timeline.elements import find_elements, unknown_sources
from mltassist.timeline.model import Timeline


def begin(timeline: Timeline, recipe: Recipe | None = None, on_progress: StageProgress | None = None) -> Run:
    """The run of a command on one project. Its log sheets are read here, once: no edit changes them."""
    rules = recipe or Recipe()
    return Run(rules, find_log(timeline, rules.log_sheets), on_progress)


def find(timeline: Timeline, run: Run) -> Findings:
    """Elements of the timeline; what no name explains is judged by evidence, once in a run."""
    vocabulary, logged = run.recipe.vocabulary(), run.log.words()
    findings = Findings(timeline, find_elements(timeline, vocabulary, run.guesses, logged), run)
    unknown = [key for key in unknown_sources(timeline, findings.elements) if key not in run.guesses]
    if unknown:
        run.guesses.update(guess(findings, unknown))
        findings.elements = find_elements(timeline, vocabulary, run.guesses, logged)
    if told := told_guesses(findings):
        findings.notes[told] = None
    for warning in timeline.warnings:
        findings.note(warning)
    return findings
