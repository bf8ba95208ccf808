"""What evidence tells of a project, written as a recipe to correct."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import PurePath

from mltassist.timeline.elements import Element, Elements, Identification, matches
from mltassist.timeline.model import BinClip, Timeline

_HEAD = """\
# What mltassist takes the clips of {name} for, where no name tells.
# Correct what is wrong, then give this file to any command: --recipe {file}
# A pin decides whatever the evidence says. Elements: {elements}.
"""
_STARS = re.compile(r"([*?\[])")


def pins_recipe(timeline: Timeline, elements: Elements, file: str) -> str:
    """A recipe with a pin for every guess, its reasons beside it; TOML text. file: its own name.

    What is unknown, and screens, stand in it as comments.
    """
    clips = {clip.source.key: clip for clip in timeline.bin if elements.sources[clip.source.key].judged}
    taken = {key: elements.sources[key] for key in clips}
    patterns = _patterns(timeline, tuple(clips.values()))
    order = sorted(clips, key=lambda key: (taken[key].seems or "", clips[key].name))
    groups = {
        "unknown, or no element: write what each is, and take the # away": [
            key for key in order if taken[key].element is None
        ],
        "guesses": [key for key in order if taken[key].element and not taken[key].sure],
        "told by evidence": [key for key in order if taken[key].element and taken[key].sure],
    }
    names = {"name": _told(timeline.path.name), "file": _told(file)}
    lines = [_HEAD.format(**names, elements=", ".join(Element)), "[pins]"]
    for title, keys in groups.items():
        if keys:
            lines += ["", f"# {title}", *(_line(patterns[key], taken[key]) for key in keys)]
    if serving := [key for key in order if taken[key].also]:
        lines += ["", "# what they may serve as besides: a place lives in their sound", "[also]"]
        lines += [f"{_quoted(patterns[key])} = {_quoted(e)}" for key in serving for e in taken[key].also]
    return "\n".join(lines) + "\n"


def _line(pattern: str, taken: Identification) -> str:
    mark = "# " if taken.element is None else ""
    return f"{mark}{_quoted(pattern)} = {_quoted(taken.seems or '')}  # {_told(taken.why)}"


def _told(text: str) -> str:
    """Text that a comment can hold: on one line, and without what no one can read."""
    return "".join(letter if letter.isprintable() else "?" for letter in " ".join(text.split()))


def _quoted(text: str) -> str:
    """Text as a string of TOML, which is that of JSON but for one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _patterns(timeline: Timeline, clips: tuple[BinClip, ...]) -> dict[str, str]:
    """By source key, a pattern that only this clip of the bin has: its name, or else the end of its path."""
    found = {}
    for clip in clips:
        others = [other for other in timeline.bin if other.source != clip.source]
        tails = (tail for tail in _tails(clip) if not any(_is(other, tail) for other in others))
        found[clip.source.key] = next(tails, _plainly(clip.source.key))
    return found


def _tails(clip: BinClip) -> Iterator[str]:
    yield _plainly(clip.name)
    parts = PurePath(clip.source.key).parts
    for first in range(len(parts) - 1, 0, -1):
        yield "*/" + _plainly("/".join(parts[first:]))


def _plainly(name: str) -> str:
    """A pattern for this very name, which may hold what has a meaning in patterns."""
    return _STARS.sub(r"[\1]", name)


def _is(clip: BinClip, pattern: str) -> bool:
    return matches(pattern, (clip.folder, clip.name, clip.source.key))
