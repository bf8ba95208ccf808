"""Producers and chains as sources: what file or thing stands behind a clip."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from lxml.etree import _Element as Element

from mltassist.document import properties
from mltassist.document.values import number, whole
from mltassist.hosts.inside import within
from mltassist.hosts.parts import PRODUCERS, Parts
from mltassist.timeline.model import Coverage, Source, SourceKind

_COLOURS = ("color", "colour")
_TITLES = ("kdenlivetitle", "qtext", "pango", "dynamictext", "text")
_IMAGES = ("qimage", "pixbuf")
_SOUND_FILES = (".wav", ".flac", ".mp3", ".ogg", ".oga", ".opus", ".m4a", ".aac", ".aif", ".aiff", ".wma")
_IMAGE_FILES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".svg", ".webp", ".bmp", ".gif")
_DIGEST_LIMIT = 200
_NORMAL = Fraction(1)
_NUMBER = re.compile(r"0x[0-9a-f]{1,8}|-?\d{1,10}", re.ASCII)
_STREAM = re.compile(r"meta\.media\.(\d{1,9})\.stream\.type", re.ASCII)


Values = Mapping[str, str]
"""All properties of a part."""


def service_of(part: Element, values: Values | None = None) -> str:
    """The engine's service, e.g. avformat; "" where the engine is to guess from the file.

    Here and below `values` are the part's properties, where they have been read already.
    """
    values = properties.all_of(part) if values is None else values
    return (values.get("mlt_service") or part.get("mlt_service") or "").strip()


def speed_of(part: Element, values: Values | None = None) -> Fraction:
    """How fast it plays: 1 is normal, negative is backward."""
    values = properties.all_of(part) if values is None else values
    return (number(values.get("warp_speed")) if service_of(part, values) == "timewarp" else None) or _NORMAL


def keeps_pitch(values: Values) -> bool:
    """Whether sound at another speed is shifted back to its own pitch."""
    return (values.get("warp_pitch") or "0").strip() not in ("", "0")


def source_of(parts: Parts, part: Element, values: Values | None = None) -> Source:
    """The source behind a producer, chain, or (a nested edit) tractor or playlist."""
    length = parts.length_of(part)
    if part.tag not in PRODUCERS:
        coverage, inside = within(parts, part, source_of)
        key = f"sequence:{part.get('id', '')}"
        return Source(key, SourceKind.SEQUENCE, None, length, coverage=coverage, inside=inside)
    values = properties.all_of(part) if values is None else values
    service = service_of(part, values)
    resource = values.get("resource") or ""
    if service in _COLOURS:
        covers = _coverage_of(resource)
        return Source(f"colour:{resource}", SourceKind.COLOUR, has_sound=False, coverage=covers)
    if service in _TITLES:
        text = values.get("xmldata") or resource
        return Source(f"title:{text[:_DIGEST_LIMIT]}", SourceKind.TITLE, has_sound=False)
    whole = max(length + parts.begins(part), parts.frames(values.get("length")))
    whole = min(whole, parts.document.longest)
    path = parts.file(_file_of(values, service, resource), service)
    if path is None:
        return Source(f"{service}:{resource}", SourceKind.OTHER, None, whole)
    return _file_source(parts, values, service, path, whole)


def _coverage_of(colour: str) -> Coverage:
    """How much a colour hides: the engine reads #AARRGGBB, numbers (0xRRGGBBAA) and names.

    Measured on melt 7.12: of a number the lowest byte is its opacity, however many digits are written.
    """
    text = colour.rpartition(":")[2].strip().lower()
    alpha = 255
    if len(text) == len("#aarrggbb") and text.startswith("#"):
        text = f"0x{text[1:3]}"
    if _NUMBER.fullmatch(text):
        alpha = int(text, 16 if "x" in text else 10) & 255
    elif text == "transparent":
        alpha = 0
    return {255: Coverage.WHOLE, 0: Coverage.NONE}.get(alpha, Coverage.PART)


def _file_source(parts: Parts, values: Values, service: str, path: Path, length: int) -> Source:
    suffix = path.suffix.lower()
    if service == "xml":
        return Source(str(path), SourceKind.SEQUENCE, path, length, coverage=Coverage.PART)
    aspect = number(values.get("force_aspect_ratio"))
    if service in _IMAGES or (not service and suffix in _IMAGE_FILES):
        aspect = aspect or number(values.get("aspect_ratio"))
        aspect = None if aspect == 1 else aspect
        return Source(str(path), SourceKind.IMAGE, path, has_sound=False, pixel_aspect=_believed(aspect))
    picture, sound = _streams(values)
    if picture is None:
        picture = suffix not in _SOUND_FILES
    heard = True if sound is None else sound
    found = Source(
        str(path),
        SourceKind.FILE,
        path,
        length,
        picture,
        heard,
        pixel_aspect=_believed(aspect),
        turned=_turned(values),
    )
    stand_in = values.get("resource") or ""
    if _has_proxy(values) and not path.exists() and (proxy := parts.file(stand_in)) is not None:
        return replace(found, path=proxy, proxy=True)
    return found


def _believed(aspect: Fraction | None) -> Fraction | None:
    """A pixel aspect that a picture may have."""
    return aspect if aspect is not None and Fraction(1, 10) <= aspect <= 10 else None


def _turned(values: Values) -> int | None:
    """Degrees by which the document turns a film, whatever its file says; None where it says none."""
    told = whole(values.get("rotate"))
    if told is None and (values.get("autorotate") or "1").strip() == "0":
        return 0
    return None if told is None else told % 360


def remap_of(parts: Parts, part: Element) -> tuple[tuple[int, Fraction], ...]:
    """Points (own frame, source frame) of a chain whose speed changes; none for any other.

    The link's keys give source seconds at times of its output (or of frames); lines between are straight.
    """
    for link in part.iterchildren("link"):
        if properties.get(link, "mlt_service") == "timeremap" and (
            text := properties.get(link, "time_map") or properties.get(link, "map")
        ):
            read = ((key.frame, number(key.value)) for key in parts.keys(text))
            points = ((at, seconds * parts.rate.fraction) for at, seconds in read if seconds is not None)
            return tuple(sorted(points))
    return ()


def stream_of(part: Element, values: Values | None = None) -> int:
    """Which of a file's sound streams is heard, from 0. Files count all their streams together."""
    values = properties.all_of(part) if values is None else values
    chosen, index = whole(values.get("astream")), whole(values.get("audio_index"))
    if chosen is not None and chosen >= 0:
        return chosen
    return sum(
        value == "audio" and index is not None and int(found[1]) < index
        for name, value in values.items()
        if (found := _STREAM.fullmatch(name))
    )


def plays(part: Element, values: Values | None = None) -> tuple[bool, bool]:
    """Whether this copy plays its picture and its sound: hosts make half copies of one file."""
    values = properties.all_of(part) if values is None else values
    picture = values.get("set.test_image") != "1" and values.get("video_index") != "-1"
    sound = values.get("set.test_audio") != "1" and values.get("audio_index") != "-1"
    return picture, sound


def silence(part: Element, *, picture: bool, sound: bool) -> None:
    """Switch off the stream of a file that a copy is not to play."""
    if service_of(part) in ("", "avformat", "avformat-novalidate"):
        if not sound:
            properties.put(part, "audio_index", "-1")
        if not picture:
            properties.put(part, "video_index", "-1")


def _file_of(values: Values, service: str, resource: str) -> str:
    """The file to analyse: the original where the document knows one besides a proxy."""
    if service == "timewarp":
        resource = values.get("warp_resource") or resource.partition(":")[2]
    original = values.get("kdenlive:originalurl")
    return original if original and _has_proxy(values) else resource


def _has_proxy(values: Values) -> bool:
    """True when the part plays a proxy; the host writes "-" for none."""
    return (values.get("kdenlive:proxy") or "-").strip() not in ("", "-")


def _streams(values: Values) -> tuple[bool | None, bool | None]:
    """Whether the file has picture and sound, where the host has stored what it found in it."""
    kinds = {
        value for name, value in values.items() if name.startswith("meta.media.") and _STREAM.fullmatch(name)
    }
    return ("video" in kinds, "audio" in kinds) if kinds else (None, None)
