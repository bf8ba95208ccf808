"""The figures of a plan that sets what sounds under speech: a row for every stretch of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import inf, log10
from typing import Any

from mltassist.findings import plain
from mltassist.frames import Rate, format_timecode
from mltassist.media.sound.meter import Meter, together
from mltassist.music.duck import Mix, Section
from mltassist.music.layers import OUT
from mltassist.music.measuring import Reading
from mltassist.music.planner import PassagePart, up_again
from mltassist.timeline.elements import Element


def mix_figures(mix: Mix, after: Mapping[PassagePart, Reading], rate: Rate) -> list[dict[str, Any]]:
    """Every stretch before and after; None where something is silent. See docs/formats.md."""
    return [
        _row(mix, section, stretch, after[stretch], rate)
        for section in mix.sections
        for stretch in section.stretches
    ]


def _row(mix: Mix, section: Section, stretch: PassagePart, after: Reading, rate: Rate) -> dict[str, Any]:
    before = mix.readings[stretch]
    beneath = list(_beneath(mix, section, stretch, after))
    heard = [row for row in beneath if row["separation_before_lu"] is not None]
    loudest = min(heard, key=lambda row: row["separation_before_lu"], default=None)
    music_up = _music_up(mix, stretch)
    return {
        "at": stretch.span.start,
        "timecode": format_timecode(stretch.span.start, rate),
        "length": stretch.span.length,
        "kind": "natural sound" if section.natural else "speech",
        "foreground_lufs": plain(_lufs(before.over)),
        "loudest": None if loudest is None else loudest["sound"],
        "depth_db": 0.0 if loudest is None else loudest["depth_db"],
        "target_lu": None if loudest is None else loudest["target_lu"],
        "separation_before_lu": None if loudest is None else loudest["separation_before_lu"],
        "separation_after_lu": min(
            (row["separation_after_lu"] for row in heard if row["separation_after_lu"] is not None),
            default=None,
        ),
        "plain_after_db": plain(_db(after.over) - _sum_db(after.beneath.values())),
        "words_before": plain(before.words),
        "words_after": plain(after.words),
        "music_up_at": music_up,
        "music_up": None if music_up is None else format_timecode(music_up, rate),
        "beneath": beneath,
    }


def _beneath(mix: Mix, section: Section, stretch: PassagePart, after: Reading) -> Iterator[dict[str, Any]]:
    """A row for each layer that lies beneath a stretch."""
    before = mix.readings[stretch]
    for number, meter in before.beneath.items():
        layer = mix.layers[number]
        target = layer.in_pause_lu if section.natural else layer.separation_lu
        depth = next((hold.depth_db for hold in mix.holds[number] if hold.span.covers(stretch.span)), 0.0)
        yield {
            "sound": layer.name,
            "lufs": plain(_lufs(meter)),
            "depth_db": round(depth, 2),
            "target_lu": target if target is None or target < OUT else None,
            "separation_before_lu": plain(_lufs(before.over) - _lufs(meter)),
            "separation_after_lu": plain(_lufs(after.over) - _lufs(after.beneath[number])),
        }


def _music_up(mix: Mix, stretch: PassagePart) -> int | None:
    """Where the music that is held down over a stretch has come up again, if it still plays there."""
    for number, layer in enumerate(mix.layers):
        holds = mix.holds[number]
        held = any(hold.depth_db < 0 and hold.span.covers(stretch.span) for hold in holds)
        if layer.element is not Element.MUSIC or not held:
            continue
        at = up_again(stretch.span, holds, mix.ramps)
        if at is not None and any(at in clip.span for _, clip in layer.clips):
            return at
    return None


def _lufs(meter: Meter) -> float:
    return together([meter])[0]


def _db(meter: Meter) -> float:
    return together([meter])[1]


def _sum_db(meters: Iterable[Meter]) -> float:
    power = sum(10 ** (_db(meter) / 10) for meter in meters)
    return 10 * log10(power) if power else -inf
