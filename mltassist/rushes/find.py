"""What was shot, element by element: told by names, log sheets and, where these say nothing, by evidence."""

from __future__ import annotations

from dataclasses import replace

from mltassist.choices.kinds import Choices
from mltassist.findings import Findings, Memory, Run, StageProgress
from mltassist.recipe.rules import Recipe
from mltassist.rushes.guesses import guess, told_guesses
from mltassist.rushes.logs import find_log
from mltassist.rushes.transparency import looked_through
from mltassist.timeline.elements import find_elements, unknown_sources
from mltassist.timeline.model import Timeline, TrackKind


def begin(
    timeline: Timeline,
    recipe: Recipe | None = None,
    on_progress: StageProgress | None = None,
    choices: Choices | None = None,
    *,
    no_words: bool = False,
    memory: Memory | None = None,
) -> Run:
    """The run of a command on one project. Its log sheets are read here, once: no edit changes them.

    no_words: nothing is listened to for its words; only what is written down counts. memory: of earlier runs.
    """
    chosen = choices or Choices()
    rules = _with(recipe or Recipe(), chosen)
    log, known = find_log(timeline, rules.log_sheets), Memory() if memory is None else memory
    return Run(rules, log, on_progress, chosen, listening=not no_words, memory=known)


def _with(recipe: Recipe, choices: Choices) -> Recipe:
    """The recipe with what was decided on all clips of a name, and on words."""
    words = {
        tag: tuple(dict.fromkeys((*recipe.synonyms.get(tag, ()), *choices.means.get(tag, ()))))
        for tag in (*recipe.synonyms, *choices.means)
    }
    return replace(recipe, forbid=(*recipe.forbid, *choices.never), synonyms=words)


def find(timeline: Timeline, run: Run) -> Findings:
    """Elements of the timeline; what no name explains is judged by evidence, once in a run."""
    timeline = looked_through(timeline, run)
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
    _note_unknown(findings)
    return findings


def _note_unknown(findings: Findings) -> None:
    """Name every effect of which nobody knows whether what lies beneath is seen through it."""
    where: dict[str, int] = {}
    for track in findings.timeline.tracks:
        for clip in track.clips() if track.kind is TrackKind.PICTURE and not track.hidden else ():
            for service in clip.veil.unknown:
                where[service] = min(clip.start, where.get(service, clip.start))
    for blend in findings.timeline.blends or ():
        if blend.unknown:
            where.setdefault(blend.unknown, blend.span.start if blend.span else 0)
    for service, at in where.items():
        what = "what lies beneath may be seen, and so counts as seen"
        findings.note(f"the effect {service!r} is not known: {what}", at)
