"""Music under speech on one timeline: passages measured, curves planned, the mix measured again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from mltassist.findings import Clips, Findings, level_over, muted_help, plain, speech_clips, speech_in
from mltassist.frames import Rate, Span, format_timecode, joined, shared, without
from mltassist.media.sound.hearing import Level
from mltassist.music.planner import MusicClip, Passage, Ramps, depth_db, passages, plan_duck
from mltassist.timeline.edits import Edit
from mltassist.timeline.elements import Element, clips_of
from mltassist.timeline.model import Clip, Track
from mltassist.timeline.wholes import whole_clips

OUT = 1000.0
"""Separation, in LU, that stands for music that is to be out."""
VOICED = 0.1
"""From this part of its time under speech on, a voice in music is told.

Of 79 loops, pads, drums and a choir's vowels (open recordings) the speech detector takes none for a voice in
more than 0.02 of its time; a lead guitar alone reaches 0.04 of its piece, and 0.4 of its first 15 seconds, so
the limit is not lower. Two people singing are found in nearly every mix where they are as loud as the band,
and less the further they lie under it: `tests/bench/test_voice_in_music.py`.

What differs between left and right could be taken out first. Tried on 47 pieces in stereo, this found a
singer 6 dB under the band in 0.64 of the mixes instead of 0.36; but of 125 stretches of 15 s without a singer
7 reached the limit instead of 2 (flutes, hum), so it is not done.
"""
VOICED_S = 1
"""Shorter in all it may be a shout in a recording, and is not worth a word."""
NEAR_DB = 0.1
"""Locked music so near to its level is where it should be, as where an earlier run has set it."""


@dataclass(frozen=True, slots=True)
class Mix:
    """Passages of one timeline with the loudness of speech and music in each."""

    passages: tuple[Passage, ...]
    depths_db: tuple[float, ...]
    music: bool

    def figures(self, after: tuple[Passage, ...], rate: Rate) -> dict[str, Any]:
        """Figures of a plan: every passage before and after; None where music or speech is silent."""
        rows = [
            {
                "at": p.span.start,
                "timecode": format_timecode(p.span.start, rate),
                "length": p.span.length,
                "kind": "natural sound" if p.natural else "speech",
                "foreground_lufs": plain(p.foreground_lufs),
                "music_lufs": plain(p.music_lufs),
                "depth_db": round(depth, 2),
                "target_lu": p.separation_lu if p.separation_lu < OUT else None,
                "separation_before_lu": plain(p.foreground_lufs - p.music_lufs),
                "separation_after_lu": plain(a.foreground_lufs - a.music_lufs),
                "plain_after_db": plain(a.foreground_db - a.music_db),
            }
            for p, a, depth in zip(self.passages, after, self.depths_db, strict=True)
        ]
        return {"passages": rows}


def music_clips(findings: Findings) -> tuple[tuple[Track, Clip], ...]:
    """Clips of music that sound."""
    return clips_of(findings.timeline, findings.elements, (Element.MUSIC,))


def _wholes(findings: Findings, music: Clips) -> list[tuple[Track, Clip]]:
    """The clips that music can be taken down on: whole ones, dissolves included, on tracks not locked."""
    tracks = {track.index: track for track, _ in music if not track.locked}
    return [
        (track, clip)
        for track in tracks.values()
        for clip in whole_clips(track)
        if clip.plays_sound and findings.elements.of_clip(track, clip) is Element.MUSIC
    ]


def pause_spans(findings: Findings, speech: tuple[Span, ...]) -> tuple[Span, ...]:
    """Stretches in which natural sound is to be heard alone: pictures of ours on natural sound."""
    strip = findings.timeline.of_role("natural picture")
    spans = [clip.span for clip in strip.clips()] if strip is not None else []
    return without(spans, speech)


def ramps_of(findings: Findings) -> Ramps:
    """The recipe's ramps in frames."""
    rules, rate = findings.recipe.duck, findings.timeline.rate
    return Ramps(max(1, rate.frames(rules.ramp_in_s)), max(1, rate.frames(rules.ramp_out_s)))


def duck_edits(
    findings: Findings, speech: tuple[Span, ...], separation: float | None = None
) -> tuple[tuple[Edit, ...], Mix]:
    """Level curves for the music of a timeline on which no curve of ours lies, and what was measured."""
    rules, rate = findings.recipe.duck, findings.timeline.rate
    if separation is not None:
        rules = replace(rules, separation_lu=separation)
    ramps = ramps_of(findings)
    pauses = pause_spans(findings, speech)
    spoken = _apart(passages(speech, rate.frames(rules.bridge_s), ramps), speech, pauses)
    blank = [Passage(span, 0.0, 0.0, rules.separation_lu) for span in spoken]
    # Music that is to be out in a pause goes down as far as it may.
    in_pause = rules.pause_separation_lu if rules.in_pause == "under" else OUT
    blank += [Passage(span, 0.0, 0.0, in_pause, natural=True) for span in pauses]
    blank.sort(key=lambda passage: passage.span)
    measured = measure_mix(findings, tuple(blank))
    music = music_clips(findings)
    if music and not speech:
        findings.note("nobody is heard speaking: the music stays as it is", needs_editor=True)
    elif not music and (why := muted_help(findings, (Element.MUSIC,))):
        findings.note(f"no music is heard: {why}")
    edits = plan_duck(
        [MusicClip(track.index, clip.span, clip.source.key) for track, clip in _wholes(findings, music)],
        measured,
        ramps=ramps,
        depth_limit_db=rules.depth_limit_db,
    )
    wanted = [(passage.span, depth_db(passage, rules.depth_limit_db)) for passage in measured]
    for track, clip in music:
        if track.locked and any(depth < -NEAR_DB and span.overlaps(clip.span) for span, depth in wanted):
            findings.note(
                f"music {clip.name!r} is on a locked track and stays as it is", clip.start, needs_editor=True
            )
    note_voices(findings, speech)
    movable = [clip.span for track, clip in music if not track.locked]
    depths = tuple(depth if any(span.overlaps(m) for m in movable) else 0.0 for span, depth in wanted)
    for passage, depth in zip(measured, depths, strict=True):
        if not passage.natural and depth <= -rules.depth_limit_db:
            findings.note("music is too loud for the depth limit here", passage.span.start, needs_editor=True)
    return edits, Mix(measured, depths, bool(music))


def note_voices(findings: Findings, speech: tuple[Span, ...]) -> None:
    """Name every piece of music in which a voice is heard while someone speaks: words beside words."""
    if findings.run.voices is None:
        return
    for track, clip in findings.run.each("listening to the music", music_clips(findings)):
        under = shared([clip.span], speech)
        if not under:
            continue
        both = shared(speech_in(findings, [(track, clip)]), under)
        frames = sum(span.length for span in both)
        share = frames / sum(span.length for span in under)
        if share >= VOICED and frames >= findings.timeline.rate.frames(VOICED_S):
            findings.note(
                f"a voice is heard in the music {clip.name!r}, from here on in {share:.0%} of the time"
                " that it lies under speech: words beside words; use a part without a voice, or other music",
                both[0].start,
                needs_editor=True,
            )


def _apart(found: tuple[Span, ...], speech: tuple[Span, ...], pauses: tuple[Span, ...]) -> tuple[Span, ...]:
    """Passages of speech that end at the last word before a pause and begin at the first after it."""
    trimmed = []
    for part in without(found, pauses):
        words = shared([part], speech)
        if words:
            trimmed.append(Span(words[0].start, words[-1].end))
    return joined(trimmed)


def measure_mix(
    findings: Findings, found: tuple[Passage, ...], *, music_only: bool = False
) -> tuple[Passage, ...]:
    """The same passages with the loudness of foreground and music as they now are.

    music_only: nothing but the music has changed since the foreground was measured.
    """
    foreground = {
        False: speech_clips(findings),
        True: clips_of(findings.timeline, findings.elements, (Element.NATURAL,)),
    }
    music = music_clips(findings)
    measured = []
    for passage in findings.run.each("measuring the mix", found):
        if music_only:
            over = Level(passage.foreground_lufs, passage.foreground_db)
        else:
            over = level_over(findings, foreground[passage.natural], passage.span)
        under = level_over(findings, music, passage.span)
        measured.append(
            replace(
                passage,
                foreground_lufs=over.lufs,
                music_lufs=under.lufs,
                foreground_db=over.db,
                music_db=under.db,
            )
        )
    return tuple(measured)
