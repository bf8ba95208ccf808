"""Which clips a recipe means by a name."""

from __future__ import annotations

from pathlib import Path

from mltassist.timeline.elements import matches
from mltassist.timeline.model import BinClip


def is_named(clip: BinClip, patterns: tuple[str, ...]) -> bool:
    """True when a clip's name, file or folder is one of these; * is any text."""
    texts = (clip.name, clip.folder, Path(clip.source.key).name, Path(clip.source.key).stem)
    return any(matches(pattern, texts) for pattern in patterns)
