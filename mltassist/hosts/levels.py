"""Volume filters as level curves in timeline frames, and our own curve as a filter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from lxml import etree
from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.gains import gain_db, level_db
from mltassist.frames import Span
from mltassist.hosts.parts import ROLE, Parts
from mltassist.timeline.edits import MOST_GAIN_DB
from mltassist.timeline.model import LevelCurve, LevelKey

VOLUME = {"window": "75", "max_gain": f"{MOST_GAIN_DB:g}dB", "mlt_service": "volume"}
"""The volume filter of both editors."""


def filters(part: Element) -> Iterator[Element]:
    """The filters that hang on a part and are not switched off."""
    for element in part.iterchildren("filter"):
        if (properties.get(element, "disable") or "0").strip() in ("", "0"):
            yield element


def is_ours(element: Element, role: str | None = None) -> bool:
    """True for what an earlier run of ours has put in (with this role, where one is named)."""
    found = properties.get(element, ROLE)
    return bool(found) and (role is None or found == role)


def curves(parts: Parts, part: Element, offset: int) -> tuple[LevelCurve, ...]:
    """The volume curves on a part whose own frame 0 is timeline frame `offset`."""
    found = (_curve(parts, part, element, offset) for element in filters(part))
    return tuple(curve for curve in found if curve is not None)


def _curve(parts: Parts, part: Element, element: Element, offset: int) -> LevelCurve | None:
    if properties.get(element, "mlt_service") != "volume":
        return None
    first = parts.frames(element.get("in"))
    out = element.get("out")
    span = None
    if element.get("in") or out:
        last = parts.frames(out) if out else None
        if (first, last) != (0, 0):  # the engine takes in="0" out="0" as no limits
            span = Span(offset + first, offset + (last if last is not None else 10**9) + 1)
    ours, matched = is_ours(element), is_ours(element, "match")
    limit = _limit(properties.get(element, "max_gain"))
    if properties.get(element, "level") is not None:
        keys = tuple(
            LevelKey(offset + first + frame, min(limit, gain), hold)
            for frame, gain, hold in _level_keys(parts, part, element)
        )
        return LevelCurve(keys or (LevelKey(offset + first, 0.0),), span, ours=ours, matched=matched)
    gain, end = properties.get(element, "gain"), properties.get(element, "end")
    start_db = min(limit, gain_db(gain))
    if end is not None and span is not None:
        keys = (LevelKey(span.start, start_db), LevelKey(span.end - 1, min(limit, gain_db(end))))
        return LevelCurve(keys, span, linear_amplitude=True, ours=ours)
    return LevelCurve((LevelKey(offset + first, start_db),), span, ours=ours)


def _level_keys(parts: Parts, part: Element, element: Element) -> Iterator[tuple[int, float, bool]]:
    text = properties.get(element, "level") or ""
    if not keyframes.is_animated(text):
        yield 0, level_db(text), True
        return
    keys = parts.keys(text)
    end = key_length(parts, part, element) if any(key.frame < 0 for key in keys) else 0
    found = {key.frame + end if key.frame < 0 else key.frame: key for key in keys}  # the last one counts
    for frame, key in sorted(found.items()):
        yield frame, level_db(key.value), key.ease in ("|", "!")


def key_length(parts: Parts, part: Element, element: Element) -> int:
    """How long a filter on a part lasts for those of its keys whose times count from the end.

    Measured with melt 7.12: up to its out where it has one; else as long as the tractor, or as the producer
    or chain that is played; on a playlist as the first of these.
    """
    first, out = parts.frames(element.get("in")), element.get("out")
    if out and (first, parts.frames(out)) != (0, 0):
        return parts.frames(out) - first + 1
    entry = next(part.iterchildren("entry"), None) if part.tag == "playlist" else part
    if entry is not None and entry.tag == "entry":
        return parts.length_of(parts.get(entry.get("producer")))
    return parts.length_of(part)


def _limit(text: str | None) -> float:
    """`max_gain`, which limits level and gain: 20 dB unless given; 0 means none."""
    value = MOST_GAIN_DB if text is None else level_db(text)
    return value if value else float("inf")


def volume_filter(values: Mapping[str, str], keys: Iterable[tuple[str, float]]) -> Element:
    """A new volume filter; `values` are the properties its host writes, keys (time, dB), time "" if steady.

    Where it goes further up than the engine plays by itself, it lifts the engine's limit.
    """
    element = etree.Element("filter")
    level, most = [], MOST_GAIN_DB
    for time, gain in keys:
        # Two decimal places are less than anyone hears; no needless sign or zero.
        text, most = f"{round(gain, 2) + 0.0:g}", max(most, gain)
        level.append(f"{time}={text}" if time else text)
    lifted = {"max_gain": "0"} if most > MOST_GAIN_DB else {}
    for name, value in {**values, **lifted, "level": ";".join(level)}.items():
        properties.put(element, name, value)
    return element
