"""Producers and chains as sources: what file or thing stands behind a clip."""

from __future__ import annotations

import os
import re
from fractions import Fraction
from pathlib import Path

from lxml.etree import _Element as Element

from mltassist.document import paths, properties
from mltassist.hosts.parts import PRODUCERS, Parts
from mltassist.timeline.model import Source, SourceKind

_COLOURS = ("color", "colour")
_TITLES = ("kdenlivetitle", "qtext", "pango", "dynamictext", "text")
_IMAGES = ("qimage", "pixbuf")
_SOUND_FILES = (".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".wma")
_IMAGE_FILES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".svg", ".webp", ".bmp", ".gif")
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
    return _file_source(part, service, path, whole)


def _file_source(part: Element, service: str, path: Path, length: int) -> Source:
    path = Path(os.path.normpath(path))  # one file, one key, however its name is spelt
    suffix = path.suffix.lower()
    if service == "xml":
        return Source(str(path), SourceKind.SEQUENCE, path, length)
    if service in _IMAGES or (not service and suffix in _IMAGE_FILES):
        return Source(str(path), SourceKind.IMAGE, path, has_sound=False)
    picture, sound = _streams(part)
    if picture is None:
        picture = suffix not in _SOUND_FILES
    return Source(str(path), SourceKind.FILE, path, length, picture, True if sound is None else sound)


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
    proxy = properties.get(part, "kdenlive:proxy") or "-"
    original = properties.get(part, "kdenlive:originalurl")
    return original if original and proxy != "-" else resource


def _streams(part: Element) -> tuple[bool | None, bool | None]:
    """Whether the file has picture and sound, where the host has stored what it found in it."""
    kinds = {
        value
        for name, value in properties.all_of(part).items()
        if re.fullmatch(r"meta\.media\.\d+\.stream\.type", name)
    }
    return ("video" in kinds, "audio" in kinds) if kinds else (None, None)
