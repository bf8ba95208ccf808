"""A natural-sound pause on one timeline: the place found, the moments measured, the edits planned."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from math import ceil, floor, inf

import numpy as np
from numpy.typing import NDArray

from mltassist.errors import MediaError, NoSuchPlace
from mltassist.findings import Findings, is_called, speech_activity, speech_clips, speech_in, speech_lufs
from mltassist.frames import Span, format_timecode, joined, without
from mltassist.media.sound.decode import MIX_HZ, as_stereo, read_sound
from mltassist.media.sound.liveness import BLOCKS_PER_S, Liveness
from mltassist.media.sound.meter import Meter
from mltassist.pauses.natural import Window, best_window, listen_natural
from mltassist.pauses.planner import (
    NaturalMoment,
    PauseTask,
    RunOut,
    best_moment,
    plan_pause,
    rests,
    suggest_places,
)
from mltassist.recipe.rules import PauseWish
from mltassist.timeline.cuts import CutKind, speech_edits
from mltassist.timeline.edits import MOST_GAIN_DB, Edit, LayNatural, OpenPause
from mltassist.timeline.elements import SPEECH, Element, subjects_of
from mltassist.timeline.model import BinClip, Clip, Dissolve, Gap, Timeline, Track
from mltassist.timeline.moves import moves_of, runs_through
from mltassist.timeline.picture import blanks
from mltassist.timeline.places import find_place

_AROUND_S = 15
"""Seconds to each side of a pause in which speech is measured."""


def pause_edits(
    findings: Findings,
    wish: PauseWish,
    *,
    before: Timeline | None = None,
    suggested: bool = False,
    natural: tuple[str, int] | None = None,
) -> tuple[Edit, ...]:
    """The edits that open a pause and lay natural sound into it; what is missing is noted.

    before: the timeline before any pause of this run, where others have been opened after this place.
    suggested: nobody asked for this place; a marker that lies there says all the same what is to be heard.
    natural: source of the natural sound that somebody chose, and its first frame, -1 for the most alive.
    """
    timeline = findings.timeline
    at = find_place(timeline, wish.at)
    length = timeline.rate.frames(wish.length_s)
    if length < 1:
        raise NoSuchPlace(timeline.path, "a pause of no length was asked for", "give its length in seconds")
    if _open_already(timeline, at):
        if _open_already(timeline if before is None else before, at):
            findings.note("an earlier run has opened a pause here: no other is opened", at)
        else:
            why = "another pause that was asked for lies here already: no other is opened"
            findings.note(why, at, needs_editor=True)
        return ()
    marked = [marker.text for marker in timeline.markers if marker.at == at]
    found = _moments(findings, " ".join((wish.at, *marked)), length, natural)
    heard = _heard(timeline)
    moments = tuple(moment for moment in found if moment.source not in heard) or tuple(found)
    if (taken := best_moment(moments)) is not None:
        _note_faults(findings, taken, found[taken], at)
    else:
        findings.note("no natural sound was found for this pause", at, needs_editor=True)
    across = [(track, clip) for track, clip in speech_clips(findings) if clip.start < at < clip.span.end]
    if any(span.start < at < span.end for span in speech_in(findings, across)):
        # The place was asked for, so it is used; whoever asked may not have heard this.
        findings.note("the pause begins inside a word: the gap before or after it may be meant", at)
    running = _running_on(findings)
    # Clips across the place whose source ends within the pause, with the frames they can still play on.
    through = runs_through(timeline, running, at)
    short = tuple((track, pieces[-1], spare) for track, pieces, spare in through if spare < length)
    why = _why(marked) if suggested else "a natural-sound pause was asked for here"
    task = _task(findings, OpenPause(at, length, why, running), moments, short)
    name = findings.named(findings.places.pause(at))
    edits = tuple(replace(edit, decision=name) for edit in plan_pause(task))
    heard_there = f", with {taken.name!r}" if taken is not None else ""
    findings.decide(name, at, f"a pause of {float(wish.length_s):g} s{heard_there}")
    _note_shortfalls(findings, task, edits, short)
    return edits


def _task(
    findings: Findings,
    opened: OpenPause,
    moments: tuple[NaturalMoment, ...],
    short: tuple[tuple[Track, Clip, int], ...],
) -> PauseTask:
    """What the planner is told. short: the clips that run out within the pause, as for `_note_shortfalls`."""
    timeline, rules = findings.timeline, findings.recipe.pause
    rate, at = timeline.rate, opened.at
    moves = moves_of(opened, timeline)
    reach = rate.frames(_AROUND_S)
    around = Span(max(0, at - reach), min(timeline.length, at + reach))
    return PauseTask(
        at=at,
        length=opened.length,
        empty=_empty(timeline, opened.run_on),
        run_on=opened.run_on,
        moments=moments,
        target_lufs=speech_lufs(findings, around) - rules.under_speech_lu,
        lead=rules.lead_frames,
        trail=rules.trail_frames,
        fade=rate.frames(rules.fade_s),
        run_out=tuple(
            RunOut(
                track.index,
                Span(moves.clip(track.index, clip.start)[1], clip.span.end + spare),
                clip.source.key,
            )
            for track, clip, spare in short
            if clip.plays_sound and clip.plain_speed
        ),
        run_out_fade=rate.frames(rules.run_out_s),
        bare=blanks(timeline),
        why=opened.reason,
    )


def suggested_places(findings: Findings, many: int, taken: Iterable[str] = ()) -> tuple[int, ...]:
    """Frames where a pause would fit best, in order: where speech rests longest, after a topic.

    Raises NoSuchPlace when there are fewer than one; fewer than asked for are noted.
    """
    timeline = findings.timeline
    spoken = speech_activity(findings)
    edits = speech_edits(timeline, findings.elements)
    items = [item for track in timeline.tracks for item in track.items]
    dissolves = [item.span for item in items if isinstance(item, Dissolve)]
    places = suggest_places(
        rests(spoken, timeline.length),
        [(edit.at, edit.kind is CutKind.CHANGE) for edit in edits],
        joined(dissolves),
        [find_place(timeline, text) for text in taken],
        length=timeline.length,
        spacing=timeline.rate.frames(findings.recipe.pause.spacing_s),
        many=many,
    )
    if not places:
        raise NoSuchPlace(
            timeline.path, "speech rests nowhere long enough for a pause", "give a place instead"
        )
    if len(places) < many:
        findings.note(
            f"only {len(places)} of {many} pauses could be suggested: the others would lie too close"
        )
    return places


def _why(marked: Iterable[str]) -> str:
    """The reason for a pause that was suggested."""
    markers = "; ".join(filter(None, (text.strip() for text in marked)))
    return "suggested: speech rests here" + (f", and a marker says: {markers}" if markers else "")


def _heard(timeline: Timeline) -> set[str]:
    """Natural sound of earlier pauses: another pause plays another clip while there is one."""
    track = timeline.of_role("natural")
    return set() if track is None else {clip.source.key for clip in track.clips()}


def _open_already(timeline: Timeline, at: int) -> bool:
    """True where natural sound of ours lies: the marker of a pause moves to its end as it is opened."""
    track = timeline.of_role("natural")
    return track is not None and any(clip.start <= at <= clip.span.end for clip in track.clips())


def _note_shortfalls(
    findings: Findings,
    task: PauseTask,
    edits: tuple[Edit, ...],
    short: tuple[tuple[Track, Clip, int], ...],
) -> None:
    for _, clip, spare in short if any(isinstance(edit, OpenPause) for edit in edits) else ():
        early = format_timecode(task.length - spare, findings.timeline.rate)
        findings.note(
            f"{clip.name!r} is not long enough to run on: it ends {early} early", task.at, needs_editor=True
        )
    if any(isinstance(edit, LayNatural) and edit.gain_db > MOST_GAIN_DB for edit in edits):
        findings.note(
            f"the natural sound is very quiet and is raised by more than {MOST_GAIN_DB:g} dB",
            task.at,
            needs_editor=True,
        )


def _running_on(findings: Findings) -> tuple[int, ...]:
    """Sound tracks that are not split: music and places play on, speech does not."""
    return tuple(
        track.index
        for track in findings.timeline.tracks
        if track.kind == "sound"
        and not track.ours
        and not any(findings.elements.of_clip(track, clip) in (*SPEECH, None) for clip in track.clips())
    )


def _empty(timeline: Timeline, running: tuple[int, ...]) -> tuple[Span, ...]:
    """Stretches with neither picture nor speech; `running` are the tracks whose clips play on."""
    busy = [
        item.span
        for track in timeline.tracks
        if track.index not in running
        for item in track.items
        if not isinstance(item, Gap)
    ]
    return without([Span(0, timeline.length)], joined(busy))


def _moments(
    findings: Findings, place: str, length: int, natural: tuple[str, int] | None = None
) -> dict[NaturalMoment, Window]:
    """The most alive clean stretch of every natural-sound clip that is long enough, or of the one chosen."""
    rules, rate = findings.recipe.pause, findings.timeline.rate
    handle = rate.frames(rules.handle_s)
    whole = length + rules.lead_frames + rules.trail_frames
    window = max(1, ceil(rate.seconds(whole) * BLOCKS_PER_S))
    run = findings.run
    words = set(re.findall(r"\w+", place.lower()))
    found: dict[NaturalMoment, Window] = {}
    for clip in run.each("listening to natural sound", natural_clips(findings, natural)):
        room = clip.source.length - whole - 2 * handle
        if room < 0 or clip.source.path is None:
            continue
        try:
            heard = _listened(findings, clip)
            best = best_window(heard, window, _used(findings, clip, handle, heard.blocks))
            start = handle + min(room, rate.frames(Fraction(best.start, BLOCKS_PER_S)))
            if natural is not None and natural[1] >= 0:
                start = min(max(0, natural[1] - rules.lead_frames), clip.source.length - whole)
            offset = rate.samples(start, MIX_HZ)
            meter = Meter()
            meter.add(as_stereo(read_sound(clip.source.path, offset, rate.samples(whole, MIX_HZ))))
        except MediaError as error:
            findings.missing(clip.source.path, str(error))
            continue
        loudness = meter.read().integrated_lufs
        if loudness == -inf:
            continue
        moment = NaturalMoment(
            source=clip.source.key,
            name=clip.name,
            span=Span(start, start + whole),
            loudness_lufs=loudness,
            alive=best.alive,
            fits=tuple(subject for subject in subjects_of(clip) if set(subject.split()) & words),
        )
        found[moment] = best
    return found


def _listened(findings: Findings, clip: BinClip) -> Liveness:
    """What happens in a natural sound between its handles. Raises MediaError where it cannot be read."""
    assert clip.source.path is not None  # noqa: S101 - whoever asks has looked
    rate = findings.timeline.rate
    handle = rate.frames(findings.recipe.pause.handle_s)
    first = rate.samples(handle, MIX_HZ)
    count = rate.samples(clip.source.length - handle, MIX_HZ) - first
    return listen_natural(clip.source.path, first, count, detector=findings.run.voices)


def listen_ahead(findings: Findings) -> Iterator[BinClip]:
    """Listen to natural sound, one clip after the other: a pause that is asked for later finds it heard."""
    shortest = 3 * findings.timeline.rate.frames(findings.recipe.pause.handle_s)
    for clip in natural_clips(findings):
        if clip.source.path is None or clip.source.length < shortest:
            continue
        with suppress(MediaError):  # it is told of where a pause asks for it
            _listened(findings, clip)
        yield clip


def _used(findings: Findings, clip: BinClip, first: int, blocks: int) -> NDArray[np.float64]:
    """1 for each block, counted from frame `first` of the clip, that lies on the timeline already."""
    rate, used = findings.timeline.rate, np.zeros(blocks)
    for track in findings.timeline.tracks:
        for laid in track.clips():
            if laid.source.key == clip.source.key:
                shown = laid.source_span
                start, end = (rate.seconds(max(0, f - first)) for f in (shown.start, shown.end))
                used[floor(start * BLOCKS_PER_S) : ceil(end * BLOCKS_PER_S)] = 1.0
    return used


def _note_faults(findings: Findings, taken: NaturalMoment, window: Window, at: int) -> None:
    """What could not be kept away from in the natural sound that will be heard."""
    faults = (
        ("someone speaks", window.speech),
        ("the recording is clipped", window.clipped),
        ("there is wind", window.wind),
        ("the microphone is knocked", window.handling),
    )
    for fault, share in faults:
        if share > 0:
            findings.note(
                f"{fault} in the natural sound chosen, {taken.name!r}: listen to it", at, needs_editor=True
            )


def natural_clips(findings: Findings, chosen: tuple[str, int] | None = None) -> tuple[BinClip, ...]:
    """Clips of the bin that hold natural sound with its picture; the one that was chosen alone."""

    def may_be_heard(clip: BinClip) -> bool:
        if chosen is not None:
            return clip.source.key == chosen[0]
        never = findings.run.choices.never
        serves = findings.elements.serves(clip.source.key, Element.NATURAL)
        return serves and not any(is_called(clip, one) for one in never)

    found = {
        clip.source.key: clip
        for clip in findings.timeline.bin
        if may_be_heard(clip) and clip.source.has_sound and clip.source.has_picture
    }
    return tuple(sorted(found.values(), key=lambda clip: clip.source.key))
