"""From a project to what the cover planner is told: views, cuts, supply, words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from mltassist.cutaways.alike import told_apart
from mltassist.cutaways.chosen import chosen_places, chosen_shots
from mltassist.cutaways.jumps import Jumps, find_jumps
from mltassist.cutaways.looks import Worth, worth_of_each
from mltassist.cutaways.parted import used_once
from mltassist.cutaways.planner.film import CoverTask, Frames, Moment, Shot, Used, View, without_views
from mltassist.cutaways.said import spoken_words
from mltassist.cutaways.sight import captions_over_faces, holes_to_cover, note_beneath
from mltassist.cutaways.whose import Persons, voices
from mltassist.errors import MediaError, NoSuchPlace
from mltassist.findings import Findings, cutaways, speech_clips
from mltassist.frames import Rate, Span, joined, without
from mltassist.media.picture.shape import shape_of
from mltassist.media.probe import probe
from mltassist.recipe.cover import CoverRules
from mltassist.rushes.logs import logged_moments
from mltassist.rushes.moments import ORDINARY, usable
from mltassist.rushes.names import is_named
from mltassist.timeline.cuts import CutKind, SpeechEdit, speech_edits, stretches
from mltassist.timeline.elements import Element, clips_of, size_of, subjects_of
from mltassist.timeline.model import BinClip, SourceKind
from mltassist.timeline.picture import is_black, showing
from mltassist.timeline.places import find_place

RATES_ALIKE = Fraction(2, 1000)
"""A clip of 23.976 plays in a film of 24 as if it were meant to."""


def cover_task(
    findings: Findings, speech: tuple[Span, ...], *, look: bool = True, left_open: tuple[Span, ...] = ()
) -> tuple[CoverTask, Jumps]:
    """The task of covering a timeline on which no cover of ours lies, and all its jumps.

    look: pictures are looked at. left_open: stretches that stay as they are, besides those of the recipe.
    """
    timeline, elements, recipe = findings.timeline, findings.elements, findings.recipe
    # Places first: what the recipe has wrong is told before the work.
    chosen = chosen_places(findings)
    fixed = fixed_shots(findings, keep_off=chosen.spans)
    moments = tuple(supply(findings, look=look))
    pictures = [*(view.span for view in views(findings) if view.who is None)]
    fixed = (*chosen_shots(findings, chosen, moments, pictures), *fixed)
    captions = captions_over_faces(findings) if recipe.cover.captions == "stay" else ()
    left = joined(
        [
            *(s.span for s in fixed),
            *chosen.stays,
            *left_alone(findings),
            *left_open,
            *(span for span, _ in captions),
        ]
    )
    edits = speech_edits(timeline, elements, ours=True)
    jumps = find_jumps(findings, look=look)
    narration = joined(stretches(timeline, elements, Element.NARRATION)) if recipe.cover.narration else ()
    note_beneath(findings, captions, (cut.at for cut in jumps.cuts if cut.seen))
    heard = joined(stretches(timeline, elements, Element.INTERVIEW))
    laid = joined([*pictures, *(shot.span for shot in fixed)])
    task = CoverTask(
        views=tuple(without_views(views(findings), left)),
        cuts=tuple(cut for cut in jumps.cuts if not any(cut.at in span for span in left)),
        narration=without(narration, left),
        sound_edits=sound_edits(findings, edits),
        pauses=without([Span(0, timeline.length)], speech),
        supply=moments,
        used=(*used_shots(findings), *used_once(fixed)),
        words=spoken_words(findings),
        synonyms=tuple(recipe.synonyms.items()),
        fixed=fixed,
        splits=without(jumps.splits, left),
        holes=holes_to_cover(findings, [*narration, *left]),
        refused=chosen.refused,
        voices=voices(findings, speech),
        hidden=tuple(both for one in heard for over in laid if (both := one.shared(over)).length > 0),
    )
    return task, jumps


def fixed_shots(findings: Findings, keep_off: Iterable[Span] = ()) -> tuple[Shot, ...]:
    """The shots that the recipe fixes to a place, in order; those that cannot be laid are noted.

    keep_off: places for which somebody chose otherwise.
    None makes the film longer: one that would ends with it, which is noted too.
    """
    timeline = findings.timeline
    rate = timeline.rate
    pictures = [*keep_off, *(view.span for view in views(findings) if view.who is None)]
    laid: list[Shot] = []
    for wish in findings.recipe.fixed:
        at, first = find_place(timeline, wish.at), rate.frames(wish.from_s)
        wanted = Span(at, at + max(1, rate.frames(wish.length_s)))
        span = wanted.shared(Span(0, timeline.length))
        clip = next((c for c in cutaways(findings) if is_named(c, (wish.clip,))), None)
        if clip is None:
            findings.note(f"no cutaway is called {wish.clip!r}: nothing is fixed here", at, needs_editor=True)
            continue
        if why := _obstacle(clip, span, first, pictures, laid):
            findings.note(f"{clip.name!r} {why}", at, needs_editor=True)
            continue
        if span != wanted:
            fits, wish_s = float(rate.seconds(span.length)), float(wish.length_s)
            told = f"{clip.name!r} is fixed here for {fits:.3g} s, not {wish_s:g}: the film ends then"
            findings.note(told, at, needs_editor=True)
        laid.append(Shot(span, _moment(clip, Span(first, first + span.length), 1.0), first))
    return tuple(laid)


def _obstacle(clip: BinClip, span: Span, first: int, pictures: Iterable[Span], laid: Iterable[Shot]) -> str:
    """Why a clip cannot be laid here from its frame `first` on; "" where it can."""
    frames = Span(first, first + span.length)
    same = (shot for shot in laid if shot.moment.source == clip.source.key)
    if span.length <= 0:
        return "is not laid: the film ends here"
    if any(span.overlaps(other) for other in (*pictures, *(shot.span for shot in laid))):
        return "is not laid: another picture lies here"
    if clip.source.length and frames.end > clip.source.length:
        return "is too short to be fixed here"
    if any(frames.overlaps(s.frames) for s in same):
        return "is not laid: these frames of it are fixed to another place"
    return ""


def left_alone(findings: Findings) -> tuple[Span, ...]:
    """The stretches that the recipe leaves as they are. Raises NoSuchPlace for one that ends too early."""
    timeline = findings.timeline
    found = []
    for stay in findings.recipe.stay:
        first, last = find_place(timeline, stay.at), find_place(timeline, stay.until)
        if first >= last:
            what = f"a stretch to stay begins at {stay.at!r} and ends at {stay.until!r}, which is no later"
            raise NoSuchPlace(timeline.path, what, "mend at and until of this [[stay]] in the recipe")
        found.append(Span(first, last))
    return tuple(found)


def views(findings: Findings) -> tuple[View, ...]:
    """What is seen before cover: a face, the background, or a picture laid by the editor."""
    found: list[View] = []
    for shown in showing(findings.timeline, ours=True):
        who: str | None = ""
        if shown.clip is not None and shown.track is not None and not is_black(shown.clip):
            element = findings.elements.of_clip(shown.track, shown.clip)
            who = shown.clip.source.key if element is Element.INTERVIEW else None
        if found and found[-1].who == who:
            found[-1] = View(Span(found[-1].span.start, shown.span.end), who)
        else:
            found.append(View(shown.span, who))
    return tuple(found)


def sound_edits(findings: Findings, edits: tuple[SpeechEdit, ...]) -> tuple[int, ...]:
    """Every frame where a clip of speech begins or ends, but for places where its source runs on."""
    through = {(e.track, e.at) for e in edits if e.kind is CutKind.THROUGH}
    return tuple(
        sorted(
            {
                frame
                for track, clip in speech_clips(findings)
                for frame in (clip.start, clip.span.end)
                if (track.index, frame) not in through
            }
        )
    )


def used_shots(findings: Findings) -> Iterator[Used]:
    """Pictures the editor has laid: their frames are spent."""
    for track, clip in clips_of(
        findings.timeline, findings.elements, (Element.CUTAWAY, Element.NATURAL), heard=False
    ):
        if clip.plays_picture and not track.hidden:
            yield Used(clip.source.key, clip.source_span, clip.span)


def supply(findings: Findings, *, look: bool = True) -> Iterator[Moment]:
    """Usable moments of every cutaway in the bin, as log sheets and the editor's marks tell them.

    look: of these only what is steady, sharp, well exposed and without a cut inside, where there is any.
    """
    findings.note_log(findings.run.log.problems)
    found: list[tuple[Moment, Fraction]] = []
    clips, persons = tuple(_fitting(findings)), Persons(findings)
    rules, rate = findings.recipe.cover, findings.timeline.rate
    needed = Frames.of(rules, rate).shot_min + 2 * rules.handle(rate)
    short: list[str] = []
    for clip in findings.run.each("looking at cutaways", clips):
        parts = list(_moments(findings, clip, persons, look=look))
        found += parts
        if not parts and clip.source.kind is not SourceKind.IMAGE and clip.source.length < needed:
            short.append(clip.name)
    if short:
        why = f"shorter than {needed} frames: shot_min_s, and handle_s at either end"
        findings.note(f"{_left_out(short)}: {why}")
    # Only where something is rated or marked do the others count as middling: else all stays as it looks.
    graded = any(grade != ORDINARY for _, grade in found)
    moments = told_apart(findings, clips, [moment for moment, _ in found]) if look else (m for m, _ in found)
    for moment, (_, grade) in zip(moments, found, strict=True):
        yield replace(moment, worth=round(moment.worth * float(grade), 3)) if graded else moment


def _fitting(findings: Findings) -> Iterator[BinClip]:
    """The cutaways that are there and fit the film; the others are noted."""
    rules, rate = findings.recipe.cover, findings.timeline.rate
    left_out: dict[tuple[str, str], list[str]] = {}
    for clip in cutaways(findings):
        path = clip.source.path
        if is_named(clip, (*findings.recipe.forbid, *findings.recipe.season.spare)):
            continue
        if clip.source.kind is SourceKind.IMAGE and not rules.stills:
            continue
        if path is not None and not path.exists():
            findings.note(f"cutaway {clip.name!r} is left out: {path} is not there", needs_editor=True)
        elif path is not None and (
            why := unfit(path, rules, rate, upright=findings.timeline.height > findings.timeline.width)
        ):
            left_out.setdefault(why, []).append(clip.name)
        else:
            yield clip
    for (reason, key), names in left_out.items():
        findings.note(f"{_left_out(names)}: {reason}; {key} = true in the recipe's [cover] allows it")


def _left_out(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"cutaway {names[0]!r} is left out"
    return f"{len(names)} cutaways are left out ({', '.join(names[:3])}{' ...' if len(names) > 3 else ''})"


def _moments(
    findings: Findings, clip: BinClip, persons: Persons, *, look: bool
) -> Iterator[tuple[Moment, Fraction]]:
    """What of a clip can be used, each part with its grade."""
    rules, rate = findings.recipe.cover, findings.timeline.rate
    frames = Frames.of(rules, rate)
    handle = rules.handle(rate)
    logged, problems = logged_moments(findings.run.log, clip, rate, handle)
    findings.note_log(problems)
    still = clip.source.kind is SourceKind.IMAGE
    whole = Span(0, frames.shot_max) if still else Span(handle, clip.source.length - handle)
    for row in logged:
        if row.rating != 0 and not still and row.span.length < frames.shot_min:
            few = f"its {row.span.length} frames are shorter than shot_min_s"
            findings.note(f"{row.where}: {clip.name!r}: {few}: it is not used; mark a longer moment")
    parts = [
        part
        for part in usable(clip, logged, whole, ideal=frames.shot_ideal, least=frames.shot_min)
        if part.span.length >= frames.shot_min
    ]
    path, seen = clip.source.path, None
    if look and path is not None and not still:
        seen = _looked_at(findings, clip, path, [part.span for part in parts], frames.shot_min)
    for part in parts:
        for span, worth in ((part.span, 1.0),) if seen is None else seen.get(part.span, ()):
            yield (
                replace(
                    Moment(clip.source.key, span, clip.name, part.size, part.subjects, worth),
                    whose=persons.recordings(part.of),
                    person=" and ".join(part.of),
                ),
                part.grade,
            )


def _moment(clip: BinClip, span: Span, worth: float) -> Moment:
    return Moment(clip.source.key, span, clip.name, size_of(clip), subjects_of(clip), worth)


def _looked_at(
    findings: Findings, clip: BinClip, path: Path, spans: list[Span], at_least: int
) -> Mapping[Span, Worth]:
    """The parts of each range that look well; all of them whole, worth nothing, where none does."""
    findings.looked_at.setdefault(clip.source.key, []).append((path, tuple(spans)))
    try:
        parts = worth_of_each(path, spans, findings.timeline.rate, at_least)
    except MediaError as error:
        findings.note(f"cutaway {clip.name!r} is left out: {error}", needs_editor=True)
        return {}
    if spans and not any(parts.values()):
        findings.note(f"no part of cutaway {clip.name!r} is steady, sharp and well exposed for long enough")
        return {span: ((span, 0.0),) for span in spans}
    return parts


def unfit(path: Path, rules: CoverRules, rate: Rate, *, upright: bool = False) -> tuple[str, str] | None:
    """Why a clip does not fit among the others of its film, and the key of the recipe that allows it.

    upright: the film stands upright itself.
    """
    try:
        facts, shape = probe(path), shape_of(path)
    except MediaError:
        return None  # told where it is read
    if upright and shape > 1 and not rules.wide:
        return "wide pictures in an upright film (wide)", "wide"
    if not upright and 0 < shape < 1 and not rules.portrait:
        return "upright pictures (portrait)", "portrait"
    if facts.interlaced and not rules.interlaced:
        return "interlaced pictures", "interlaced"
    if facts.frame_rate is not None and not rules.other_rates:
        ratio = facts.frame_rate / rate.fraction
        if not any(abs(one - round(one)) < RATES_ALIKE and round(one) for one in (ratio, 1 / ratio)):
            own, film = float(facts.frame_rate), float(rate.fraction)
            return f"{own:.5g} frames a second in a film of {film:.5g}", "other_rates"
    return None
