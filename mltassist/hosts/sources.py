"""Producers and chains as sources: what file or thing stands behind a clip."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from lxml.etree import _Element as Element

from mltassist.document import keyframes, paths, properties
from mltassist.document.load import Document
from mltassist.hosts.parts import PRODUCERS, Parts
from mltassist.timeline.model import Source, SourceKind

_COLOURS = ("color", "colour")
_TITLES = ("kdenlivetitle", "qtext", "pango", "dynamictext", "text")
_IMAGES = ("qimage", "pixbuf")
_SOUND_FILES = (".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".wma")
_IMAGE_FILES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".svg", ".webp", ".bmp", ".gif")
_REFRAMING = ("affine", "qtblend", "crop", "qtcrop", "rotoscoping", "mask_start", "frei0r.alphaspot")
_DIGEST_LIMIT = 200


def service_of(part: Element) -> str:
    """The engine's service, e.g. avformat; "" where the engine is to guess from the file."""
    return (properties.get(part, "mlt_service") or part.get("mlt_service") or "").strip()


def speed_of(part: Element) -> Fraction:
    """How fast it plays: 1 is normal, negative is backward."""
    text = properties.get(part, "warp_speed") if service_of(part) == "timewarp" else None
    try:
        return Fraction((text or "1").strip().replace(",", ".")) or Fraction(1)
    except ValueError:
        return Fraction(1)


def source_of(parts: Parts, part: Element) -> Source:
    """The source behind a producer, chain, or (a nested edit) tractor or playlist."""
    length = parts.length_of(part)
    if part.tag not in PRODUCERS:
        return Source(f"sequence:{part.get('id', '')}", SourceKind.SEQUENCE, None, length)
    service = service_of(part)
    resource = properties.get(part, "resource") or ""
    if service in _COLOURS:
        return Source(f"colour:{resource}", SourceKind.COLOUR, has_sound=False)
    if service in _TITLES:
        text = properties.get(part, "xmldata") or resource
        return Source(f"title:{text[:_DIGEST_LIMIT]}", SourceKind.TITLE, has_sound=False)
    whole = max(length + parts.frames(part.get("in")), parts.frames(properties.get(part, "length")))
    path = paths.resolve(parts.document, _file_of(part, service, resource), service)
    if path is None:
        return Source(f"{service}:{resource}", SourceKind.OTHER, None, whole)
    return _file_source(parts.document, part, service, path, whole)


def _file_source(document: Document, part: Element, service: str, path: Path, length: int) -> Source:
    path = Path(os.path.normpath(path))  # one file, one key, however its name is spelt
    suffix = path.suffix.lower()
    if service == "xml":
        return Source(str(path), SourceKind.SEQUENCE, path, length)
    if service in _IMAGES or (not service and suffix in _IMAGE_FILES):
        return Source(str(path), SourceKind.IMAGE, path, has_sound=False)
    picture, sound = _streams(part)
    if picture is None:
        picture = suffix not in _SOUND_FILES
    found = Source(str(path), SourceKind.FILE, path, length, picture, True if sound is None else sound)
    stand_in = properties.get(part, "resource") or ""
    if _has_proxy(part) and not path.exists() and (proxy := paths.resolve(document, stand_in)) is not None:
        return replace(found, path=proxy, proxy=True)
    return found


def remap_of(parts: Parts, part: Element) -> tuple[tuple[int, Fraction], ...]:
    """Points (own frame, source frame) of a chain whose speed changes; none for any other.

    The link's keys give source seconds at times of its output (or of frames); lines between are straight.
    """
    for link in part.iterchildren("link"):
        if properties.get(link, "mlt_service") == "timeremap" and (
            text := properties.get(link, "time_map") or properties.get(link, "map")
        ):
            points = []
            for key in keyframes.parse(text, parts.rate):
                try:
                    seconds = Fraction(key.value.strip().replace(",", "."))
                except ValueError:
                    continue
                points.append((key.frame, seconds * parts.rate.fraction))
            return tuple(sorted(points))
    return ()


def stream_of(part: Element) -> int:
    """Which of a file's sound streams is heard, from 0. Files count all their streams together."""
    if (chosen := (properties.get(part, "astream") or "").strip()).isdigit():
        return int(chosen)
    index = (properties.get(part, "audio_index") or "").strip()
    if not index.isdigit():
        return 0
    kinds = properties.all_of(part)
    earlier = (kinds.get(f"meta.media.{number}.stream.type") for number in range(int(index)))
    return sum(kind == "audio" for kind in earlier)


def is_reframed(parts: Iterable[Element]) -> bool:
    """True when a filter on one of these parts crops, moves or scales the picture."""
    return any(
        properties.get(element, "mlt_service") in _REFRAMING
        and (properties.get(element, "disable") or "0").strip() in ("", "0")
        for part in parts
        for element in part.iterchildren("filter")
    )


def plays(part: Element) -> tuple[bool, bool]:
    """Whether this copy plays its picture and its sound: hosts make half copies of one file."""
    picture = (
        properties.get(part, "set.test_image") not in ("1",) and properties.get(part, "video_index") != "-1"
    )
    sound = (
        properties.get(part, "set.test_audio") not in ("1",) and properties.get(part, "audio_index") != "-1"
    )
    return picture, sound


def _file_of(part: Element, service: str, resource: str) -> str:
    """The file to analyse: the original where the document knows one besides a proxy."""
    if service == "timewarp":
        resource = properties.get(part, "warp_resource") or resource.partition(":")[2]
    original = properties.get(part, "kdenlive:originalurl")
    return original if original and _has_proxy(part) else resource


def _has_proxy(part: Element) -> bool:
    """True when the part plays a proxy; the host writes "-" for none."""
    return (properties.get(part, "kdenlive:proxy") or "-").strip() not in ("", "-")


def _streams(part: Element) -> tuple[bool | None, bool | None]:
    """Whether the file has picture and sound, where the host has stored what it found in it."""
    kinds = {
        value
        for name, value in properties.all_of(part).items()
        if re.fullmatch(r"meta\.media\.\d+\.stream\.type", name)
    }
    return ("video" in kinds, "audio" in kinds) if kinds else (None, None)
