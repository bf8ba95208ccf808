"""What sounds under speech on one timeline: passages measured, curves planned, the mix measured again."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from mltassist.findings import Clips, Findings, muted_help, speech_clips, speech_in
from mltassist.frames import Rate, Span, joined, shared, without
from mltassist.media.sound.meter import together
from mltassist.music.chosen import as_chosen
from mltassist.music.layers import Layer, clips_in, layer_stretches, layers_of
from mltassist.music.measuring import Reading, read_again, read_stretch
from mltassist.music.planner import (
    ABOVE,
    PLAIN_DB,
    Hold,
    Passage,
    PassagePart,
    Ramps,
    Sounding,
    depth_db,
    excess_db,
    passages,
    plain_depth_db,
    plan_duck,
    sounding_parts,
)
from mltassist.music.settling import settled
from mltassist.recipe.rules import DuckRules
from mltassist.timeline.edits import ClearOurs, Edit
from mltassist.timeline.elements import Element, clips_of
from mltassist.timeline.model import Clip, Track

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
_PIECE_S = 10
"""Seconds of a recording that are listened to for a voice at a time."""
STEADY_LU = 0.7
"""A level that changes by less within a passage is not heard to change: it stays, and is right to 1 LU."""
_NEAR_DB = 0.1
"""Locked music so near to its level is where it should be, as where an earlier run has set it."""


@dataclass(frozen=True, slots=True)
class Section:
    """A passage as it is heard: of speech, or of natural sound alone in a pause."""

    natural: bool
    stretches: tuple[PassagePart, ...]


@dataclass(frozen=True, slots=True)
class Mix:
    """What was measured on one timeline, and the levels that everything beneath gets.

    holds: by number of layer, in order of time. Of a stretch in which nothing of a layer can be moved its
    hold is told as 0.
    """

    layers: tuple[Layer, ...]
    sections: tuple[Section, ...]
    readings: Mapping[PassagePart, Reading]
    holds: Mapping[int, tuple[Hold, ...]]
    ramps: Ramps


def pause_spans(findings: Findings, speech: tuple[Span, ...]) -> tuple[Span, ...]:
    """Stretches in which natural sound is to be heard alone: pictures of ours on natural sound."""
    strip = findings.timeline.of_role("natural picture")
    spans = [clip.span for clip in strip.clips()] if strip is not None else []
    return without(spans, speech)


def ramps_of(findings: Findings) -> Ramps:
    """The recipe's ramps in frames."""
    rules, rate = findings.recipe.duck, findings.timeline.rate
    return Ramps(max(1, rate.frames(rules.ramp_in_s)), max(1, rate.frames(rules.ramp_out_s)))


def duck_edits(findings: Findings, speech: tuple[Span, ...]) -> tuple[tuple[Edit, ...], Mix]:
    """Level curves for all that sounds under speech, on a timeline on which no curve of ours lies."""
    rules = findings.recipe.duck
    bare = measured_mix(findings, speech, rules)
    layers, sections, readings, ramps = bare.layers, bare.sections, bare.readings, bare.ramps
    clips = {number: layer.beneath(findings) for number, layer in enumerate(layers)}
    spoken = [one for section in sections if not section.natural for one in section.stretches]
    planned = {
        number: settled(
            number,
            layers[number].separation_lu,
            some,
            clips[number],
            spoken=spoken,
            readings=readings,
            ramps=ramps,
            rate=findings.timeline.rate,
        )
        for number, some in _holds(layers, sections, readings, rules.depth_limit_db).items()
    }
    wanted = as_chosen(findings, layers, planned)
    edits: list[Edit] = [ClearOurs("duck", "level curves of an earlier run are replaced")]
    told: dict[int, tuple[Hold, ...]] = {}
    for number, layer in enumerate(layers):
        holds = wanted.get(number, ())
        edits += plan_duck(clips[number], holds, ramps=ramps, name=layer.name)
        told[number] = tuple(
            hold
            if any(hold.span.overlaps(one.span) for one in clips[number])
            else replace(hold, depth_db=0.0)
            for hold in holds
        )
        _note_locked(findings, layer, holds)
    mix = replace(bare, holds=told)
    _note_silent(findings, speech, layers)
    _note_unknown(findings, mix)
    note_voices(findings, speech)
    for hold in (hold for holds in told.values() for hold in holds):
        if hold.depth_db <= -rules.depth_limit_db and not sections[hold.passage].natural:
            name = next(layers[sound[0]].name for sound in hold.sounds)
            findings.note(f"{name} is too loud for the depth limit here", hold.span.start, needs_editor=True)
    return tuple(edits), mix


def measured_mix(findings: Findings, speech: tuple[Span, ...], rules: DuckRules) -> Mix:
    """What sounds in every passage as the timeline is, with no level planned for anything."""
    layers, ramps = layers_of(findings, rules), ramps_of(findings)
    sections = _sections(findings, speech, layers, ramps)
    return Mix(layers, sections, _read(findings, layers, sections), {}, ramps)


def _sections(
    findings: Findings, speech: tuple[Span, ...], layers: tuple[Layer, ...], ramps: Ramps
) -> tuple[Section, ...]:
    """Passages of speech and of natural sound in pauses, divided where what sounds in them changes."""
    bridge = findings.timeline.rate.frames(findings.recipe.duck.bridge_s)
    pauses = pause_spans(findings, speech)
    spoken = _apart(passages(speech, bridge, ramps), speech, pauses)
    # Natural sound that is heard alone is what it is all about in a pause: nothing of it lies beneath.
    under = tuple(layer if layer.in_pause_lu is not None else replace(layer, clips=()) for layer in layers)
    found = [
        Section(False, parts) for parts in layer_stretches(findings, spoken, layers, speech_clips(findings))
    ]
    found += [Section(True, parts) for parts in layer_stretches(findings, pauses, under)]
    return tuple(sorted(found, key=lambda section: section.stretches[0].span))


def _read(
    findings: Findings, layers: tuple[Layer, ...], sections: tuple[Section, ...]
) -> dict[PassagePart, Reading]:
    foreground = {False: speech_clips(findings), True: _natural(findings)}
    every = [(section.natural, stretch) for section in sections for stretch in section.stretches]
    return {
        stretch: read_stretch(
            findings,
            stretch.span,
            clips_in(foreground[natural], stretch.span),
            clips_beneath(layers, stretch),
            speech=not natural,
        )
        for natural, stretch in findings.run.each("measuring the mix", every)
    }


def _natural(findings: Findings) -> Clips:
    return clips_of(findings.timeline, findings.elements, (Element.NATURAL,))


def clips_beneath(layers: tuple[Layer, ...], stretch: PassagePart) -> dict[int, Clips]:
    """By number of layer, its clips that lie beneath a stretch."""
    numbers = sorted({sound[0] for sound in stretch.beneath} - {ABOVE})
    return {number: clips_in(layers[number].clips, stretch.span) for number in numbers}


def measured_again(findings: Findings, mix: Mix) -> dict[PassagePart, Reading]:
    """The same stretches on the timeline with our curves: only what lies beneath has changed in speech.

    In a pause the natural sound is heard anew: it may lie on its way up from a passage.
    """
    layers = layers_of(findings, findings.recipe.duck)
    again: dict[PassagePart, Reading] = {}
    every = [(section.natural, stretch) for section in mix.sections for stretch in section.stretches]
    for natural, stretch in findings.run.each("measuring the mix", every):
        beneath = clips_beneath(layers, stretch)
        if natural:
            over = clips_in(_natural(findings), stretch.span)
            again[stretch] = read_stretch(findings, stretch.span, over, beneath, speech=False)
        else:
            again[stretch] = read_again(findings, stretch.span, beneath, mix.readings[stretch])
    return again


def note_unclear(findings: Findings, mix: Mix, after: Mapping[PassagePart, Reading]) -> None:
    """Name every passage in which words come through with trouble, with what covers most of them."""
    least, rate = findings.recipe.duck.words_least, findings.timeline.rate
    for section in mix.sections:
        low = [one for one in section.stretches if not section.natural and after[one].words < least]
        if not low:
            continue
        worst = min(low, key=lambda one: after[one].words)
        heard = after[worst]
        nearest = max(heard.beneath, key=lambda number: together([heard.beneath[number]])[1])
        seconds = float(rate.seconds(sum(one.span.length for one in low)))
        findings.note(
            f"words are hard to understand here, over {seconds:.0f} s (index of intelligibility"
            f" {heard.words:.2f}, under {least:g}): {mix.layers[nearest].name} covers most of them",
            low[0].span.start,
            needs_editor=True,
        )


def _holds(
    layers: tuple[Layer, ...],
    sections: tuple[Section, ...],
    readings: Mapping[PassagePart, Reading],
    limit_db: float,
) -> dict[int, tuple[Hold, ...]]:
    """The level of every layer in every passage."""
    found: dict[int, tuple[Hold, ...]] = {}
    for number, layer in enumerate(layers):
        holds = []
        for which, section in enumerate(sections):
            target = layer.in_pause_lu if section.natural else layer.separation_lu
            if target is None:
                continue
            measured = partial(_passage, number, readings, target, section.natural)
            for part in sounding_parts(number, section.stretches):
                for some in _steady(part, measured, limit_db):
                    passage = measured(some)
                    # Loudness may be right to some decimals; the plain level is a promise in every stretch.
                    alone = (plain_depth_db(measured([one]), limit_db) for one in some)
                    depth = min(depth_db(passage, limit_db), *alone)
                    sounds = frozenset[Sounding]().union(*(one.of_layer(number) for one in some))
                    holds.append(Hold(passage.span, depth, which, sounds))
        found[number] = tuple(holds)
    if all(layer.separation_lu is None or layer.separation_lu >= PLAIN_DB for layer in layers):
        return _together_under(sections, readings, found, limit_db)
    return found


def _passage(
    layer: int,
    readings: Mapping[PassagePart, Reading],
    target: float,
    natural: bool,
    part: Sequence[PassagePart],
) -> Passage:
    """Successive stretches as one, for one layer."""
    over, over_db = together([readings[stretch].over for stretch in part])
    under, under_db = together([readings[stretch].beneath[layer] for stretch in part])
    span = Span(part[0].span.start, part[-1].span.end)
    return Passage(span, over, under, target, natural, over_db, under_db)


def _steady(
    part: tuple[PassagePart, ...], measured: Callable[[Sequence[PassagePart]], Passage], limit_db: float
) -> list[tuple[PassagePart, ...]]:
    """The stretches of a part, together as long as one level serves each of them as well as its own."""
    found = [part[:1]]
    for stretch in part[1:]:
        grown = (*found[-1], stretch)
        level = depth_db(measured(grown), limit_db)
        if all(abs(depth_db(measured([one]), limit_db) - level) <= STEADY_LU for one in grown):
            found[-1] = grown
        else:
            found.append((stretch,))
    return found


def _together_under(
    sections: tuple[Section, ...],
    readings: Mapping[PassagePart, Reading],
    holds: Mapping[int, tuple[Hold, ...]],
    limit_db: float,
) -> dict[int, tuple[Hold, ...]]:
    """The holds, lower in the stretches where several layers together come nearer to speech than each may."""
    found: dict[int, list[Hold]] = {number: [] for number in holds}
    for which, section in enumerate(sections):
        for stretch in section.stretches:
            here = {
                number: hold
                for number, some in holds.items()
                for hold in some
                if hold.passage == which and hold.span.covers(stretch.span)
            }
            levels = [
                together([readings[stretch].beneath[number]])[1] + hold.depth_db
                for number, hold in here.items()
            ]
            spoken_db = together([readings[stretch].over])[1]
            excess = excess_db(spoken_db, levels) if len(here) > 1 and not section.natural else 0.0
            for number, hold in here.items():
                depth = max(-limit_db, hold.depth_db - excess)
                before = found[number][-1] if found[number] else None
                if before is not None and (before.passage, before.depth_db) == (which, depth):
                    stretched = Span(before.span.start, stretch.span.end)
                    found[number][-1] = replace(before, span=stretched)
                else:
                    found[number].append(replace(hold, span=stretch.span, depth_db=depth))
    return {number: tuple(some) for number, some in found.items()}


def _note_locked(findings: Findings, layer: Layer, holds: tuple[Hold, ...]) -> None:
    for track, clip in layer.clips:
        low = any(hold.depth_db < -_NEAR_DB and hold.span.overlaps(clip.span) for hold in holds)
        if track.locked and low:
            findings.note(
                f"{layer.name} {clip.name!r} is on a locked track and stays as it is",
                clip.start,
                needs_editor=True,
            )


def _note_unknown(findings: Findings, mix: Mix) -> None:
    """Name the tracks of which nobody knows what sounds on them under speech: it stays as it is."""
    first: dict[int, int] = {}
    for section in mix.sections:
        for stretch in section.stretches:
            for layer, track, _ in sorted(stretch.beneath):
                if layer != ABOVE and mix.layers[layer].element is None:
                    first.setdefault(track, stretch.span.start)
    for number, at in first.items():
        name = next(track.name for track in findings.timeline.tracks if track.index == number)
        findings.note(
            f"what sounds under speech on track {name!r} is of no known element and stays as it is:"
            " name its track, or pin it in a recipe",
            at,
        )


def _note_silent(findings: Findings, speech: tuple[Span, ...], layers: tuple[Layer, ...]) -> None:
    """Why nothing is done, where it might have been expected."""
    music = any(layer.element is Element.MUSIC for layer in layers)
    if music and not speech:
        findings.note("nobody is heard speaking: the music stays as it is", needs_editor=True)
    elif not music and (why := muted_help(findings, (Element.MUSIC,))):
        findings.note(f"no music is heard: {why}")


def note_voices(findings: Findings, speech: tuple[Span, ...]) -> None:
    """Name every piece of music in which a voice is heard while someone speaks: words beside words."""
    if findings.run.voices is None:
        return
    for track, clip in findings.run.each(
        "listening to the music", clips_of(findings.timeline, findings.elements, (Element.MUSIC,))
    ):
        under = shared([clip.span], speech)
        if not under:
            continue
        both = shared(speech_in(findings, _pieces(track, clip, findings.timeline.rate)), under)
        frames = sum(span.length for span in both)
        share = frames / sum(span.length for span in under)
        if share >= VOICED and frames >= findings.timeline.rate.frames(VOICED_S):
            findings.note(
                f"a voice is heard in the music {clip.name!r}, from here on in {share:.0%} of the time"
                " that it lies under speech: words beside words; use a part without a voice, or other music",
                both[0].start,
                needs_editor=True,
            )


def _pieces(track: Track, clip: Clip, rate: Rate) -> Iterator[tuple[Track, Clip]]:
    """The clip in pieces of its recording that are the same wherever it begins and ends.

    Each is listened to alone, and remembered: music that is let run on for a pause is heard again in one.
    """
    step, shown = rate.frames(_PIECE_S), clip.source_span
    if not clip.plain_speed:
        yield track, clip
        return
    for first in range(shown.start // step * step, shown.end, step):
        last = min(first + step, max(clip.source.length, shown.end))
        yield (
            track,
            replace(clip, start=clip.start + first - shown.start, source_in=first, length=last - first),
        )


def _apart(found: tuple[Span, ...], speech: tuple[Span, ...], pauses: tuple[Span, ...]) -> tuple[Span, ...]:
    """Passages of speech that end at the last word before a pause and begin at the first after it."""
    trimmed = []
    for part in without(found, pauses):
        words = shared([part], speech)
        if words:
            trimmed.append(Span(words[0].start, words[-1].end))
    return joined(trimmed)
