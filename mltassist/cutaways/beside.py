"""What is laid beside a cover: the next best clips on a track that is switched off, and kept sound."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from mltassist.cutaways.kept import changed_by_hand
from mltassist.cutaways.planner.plan import Cover
from mltassist.errors import MediaError
from mltassist.findings import Findings, level_over, speech_in, speech_lufs
from mltassist.frames import Span
from mltassist.media.probe import probe
from mltassist.timeline.edits import FADE_DB, MOST_GAIN_DB, ClearOurs, Edit, LayShot, LayUnder
from mltassist.timeline.model import Clip, LevelCurve, LevelKey, Source, Timeline, Track, TrackKind

ROLES = ("cover", "alternatives", "under")
"""Roles of the tracks that a cover is laid on."""
_ALONE = Track(0, TrackKind.SOUND, "kept sound")


def clear_cover(timeline: Timeline, *, keep_changed: bool) -> ClearOurs:
    """The edit that takes an earlier cover away, but for clips changed by hand where they are to stay."""
    changed = {clip.start for role in ROLES for clip in changed_by_hand(timeline, role)}
    keep = tuple(sorted(changed)) if keep_changed else ()
    return ClearOurs("cover", "cover of an earlier run is replaced", keep)


def note_changed(findings: Findings, timeline: Timeline, clearing: ClearOurs) -> None:
    """Tell of every clip of an earlier cover that was changed by hand, and what becomes of it."""
    for role in ROLES:
        for clip in changed_by_hand(timeline, role):
            fate = "is kept" if clip.start in clearing.keep else "is replaced (--keep-changed keeps it)"
            findings.note(f"{clip.name!r} was changed by hand and {fate}", clip.start)
    if clearing.keep == () and timeline.of_role("cover") is not None and timeline.laid is None:
        findings.note("the document no longer tells what the last run laid: its whole cover is replaced")


def beside_cover(findings: Findings, cover: Cover, laid: Iterable[Edit]) -> tuple[Edit, ...]:
    """What the recipe lays beside these shots, on a timeline on which only clips that are kept lie."""
    rules = findings.recipe.cover
    shots = [edit for edit in laid if isinstance(edit, LayShot)]
    stack = stacked(findings, cover) if rules.stack_alternatives else ()
    kept = sounds_under(findings, shots) if rules.keep_sound else ()
    return *stack, *kept


def stacked(findings: Findings, cover: Cover) -> Iterator[LayShot]:
    """The next best clip of every shot at its place, where no clip of the editor's lies on that track."""
    track = findings.timeline.of_role("alternatives")
    taken = () if track is None else tuple(clip.span for clip in track.clips())
    if track is not None and taken and not track.hidden:
        findings.note("the track of alternatives is switched on: no others are laid on it", taken[0].start)
        return
    for shot, others in zip(cover.shots, cover.others, strict=False):
        if others and not any(shot.span.overlaps(span) for span in taken):
            other = others[0]
            yield LayShot(
                other.span.start,
                other.span.length,
                other.moment.source,
                other.source_in,
                f"the next best clip in place of {shot.moment.name!r}",
                "alternatives",
                other.moment.name,
            )


def sounds_under(findings: Findings, shots: Iterable[LayShot]) -> tuple[LayUnder, ...]:
    """The own sound of every shot, far under the film's speech; none where someone speaks in it.

    Shots of an earlier run that are kept have theirs too, from the frames they show by now.
    """
    timeline, rules = findings.timeline, findings.recipe.cover
    clips = _heard_with(findings, shots)
    if not clips:
        return ()
    target = speech_lufs(findings, Span(0, timeline.length)) - rules.sound_under_lu
    found: list[LayUnder] = []
    left_out: dict[str, list[int]] = {}
    for clip in findings.run.each("listening to cutaways", clips):
        fade = min(timeline.rate.frames(rules.sound_fade_s), max(0, (clip.length - 2) // 2))
        gain = target - _loudness(findings, clip, fade)
        if gain > MOST_GAIN_DB:  # a recording that wants more holds next to nothing
            left_out.setdefault("it is too quiet", []).append(clip.start)
        elif speech_in(findings, [(_ALONE, clip)]):  # words under words take from both
            left_out.setdefault("someone speaks in it", []).append(clip.start)
        else:
            found.append(
                LayUnder(
                    at=clip.start,
                    length=clip.length,
                    source=clip.source.key,
                    source_in=clip.source_in,
                    reason=f"own sound of the shot, {rules.sound_under_lu:g} LU under the film's speech",
                    gain_db=round(gain, 2),
                    fade_in=fade,
                    fade_out=fade,
                    name=clip.name,
                )
            )
    for why, places in left_out.items():
        which = "this shot" if len(places) == 1 else f"{len(places)} shots, the first of them here,"
        findings.note(f"the sound of {which} is not kept: {why}", places[0])
    return tuple(found)


def _heard_with(findings: Findings, shots: Iterable[LayShot]) -> list[Clip]:
    """The shots that have sound, as clips in order; those that lie there already among them."""
    timeline = findings.timeline
    sources = {clip.source.key: clip.source for clip in timeline.bin}
    clips = [
        Clip(shot.at, shot.length, sources[shot.source], shot.source_in, shot.name)
        for shot in shots
        if shot.track == "cover" and shot.source in sources
    ]
    cover, under = timeline.of_role("cover"), timeline.of_role("under")
    clips += [replace(clip, levels=()) for clip in (() if cover is None else cover.clips())]
    taken = [] if under is None else [clip.span for clip in under.clips()]
    return sorted(
        (
            clip
            for clip in clips
            if clip.plain_speed
            and not any(clip.span.overlaps(span) for span in taken)
            and _has_sound(findings, clip.source)
        ),
        key=lambda clip: clip.start,
    )


def _has_sound(findings: Findings, source: Source) -> bool:
    if source.path is None or not source.has_sound:
        return False
    try:
        return probe(source.path).has_sound
    except MediaError as error:
        findings.missing(source.path, str(error))
        return False


def _loudness(findings: Findings, clip: Clip, fade: int) -> float:
    """Loudness of what a clip plays with its fades, LUFS; -inf where it is silent."""
    first, last = clip.start, clip.span.end - 1
    keys: tuple[LevelKey, ...] = (LevelKey(first + fade, 0.0), LevelKey(last - fade, 0.0))
    if fade:
        keys = (LevelKey(first, FADE_DB), *keys, LevelKey(last, FADE_DB))
    faded = replace(clip, levels=(LevelCurve(keys),))
    return level_over(findings, [(_ALONE, faded)], clip.span).lufs
