"""What evidence tells of a project, written as a recipe to correct."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import PurePath

from mltassist.timeline.elements import Element, Elements, Identification
from mltassist.timeline.model import BinClip, Timeline

_HEAD = """\
# What mltassist takes the clips of {name} for, where no name tells.
# Correct what is wrong, then give this file to any command: --recipe {file}
# A pin decides whatever the evidence says. Elements: {elements}.
"""
_KEPT = "no pin is needed: it may serve as {also} besides, which a pin would end"
_STARS = re.compile(r"([*?\[])")


def pins_recipe(timeline: Timeline, elements: Elements, file: str) -> str:
    """A recipe with a pin for every guess, its reasons beside it; TOML text. file: its own name.

    What a pin could only spoil, what is unknown, and screens stand in it as comments.
    """
    clips = {clip.source.key: clip for clip in timeline.bin if elements.sources[clip.source.key].judged}
    lines = [_HEAD.format(name=timeline.path.name, file=file, elements=", ".join(Element)), "[pins]"]
    patterns = _patterns(timeline, tuple(clips.values()))
    for title, wanted in (
        (
            "unknown: write what each is, and take the # away",
            lambda one: one.seems is None or one.element is None,
        ),
        ("guesses", lambda one: one.element is not None and not one.sure),
        ("told by evidence", lambda one: one.element is not None and one.sure),
    ):
        rows = [key for key in clips if wanted(elements.sources[key])]
        rows.sort(key=lambda key: (elements.sources[key].seems or "", clips[key].name))
        if rows:
            lines += ["", f"# {title}"]
            lines += [_line(patterns[key], elements.sources[key]) for key in rows]
    return "\n".join(lines) + "\n"


def _line(pattern: str, taken: Identification) -> str:
    told = " ".join(taken.why.split())
    kept = f"; {_KEPT.format(also=', '.join(taken.also))}" if taken.also else ""
    mark = "# " if taken.element is None or taken.also else ""
    return (
        f"{mark}{json.dumps(pattern, ensure_ascii=False)} = {json.dumps(taken.seems or '')}  # {told}{kept}"
    )


def _patterns(timeline: Timeline, clips: tuple[BinClip, ...]) -> dict[str, str]:
    """By source key, the shortest pattern that only this clip of the bin has: its name, or the end of its path."""
    found = {}
    for clip in clips:
        for pattern in _tails(clip):
            if sum(_ends(other, pattern) for other in timeline.bin if other.source != clip.source) == 0:
                found[clip.source.key] = pattern
                break
        else:
            found[clip.source.key] = _STARS.sub(r"[\1]", clip.source.key)
    return found


def _tails(clip: BinClip) -> Iterator[str]:
    yield _STARS.sub(r"[\1]", clip.name)
    parts = PurePath(clip.source.key).parts
    for first in range(len(parts) - 1, 0, -1):
        yield "*/" + _STARS.sub(r"[\1]", "/".join(parts[first:]))


def _ends(clip: BinClip, pattern: str) -> bool:
    from mltassist.timeline.elements import matches

    return matches(pattern, (clip.folder, clip.name, clip.source.key))
