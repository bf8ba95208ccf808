"""What lays one track of a timeline over another."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.rectangles import UNTOLD, rectangle
from mltassist.document.values import number, whole
from mltassist.frames import Span
from mltassist.hosts.parts import Parts
from mltassist.hosts.tracks import BLENDS
from mltassist.timeline.blend import Blend, PictureFit

_SOUND = ("mix",)
_RECTANGLES = ("rect", "geometry")
_MODES = {
    "qtblend": ("compositing", ("", "0")),
    "frei0r.cairoblend": ("1", ("", "normal", "over")),
    "composite": ("operator", ("", "over")),
}
"""The property that tells how pictures are mixed, and what it says where the upper one hides the lower."""


_ZERO = {
    "qtblend": ("rotation", "distort"),
    "affine": (
        *(f"{way}_{axis}" for way in ("fix_rotate", "rotate", "fix_shear", "shear") for axis in "xyz"),
        "ox",
        "oy",
    ),
}
"""Properties that turn, shear, shift or stretch the upper picture; one service of them may stretch any."""
_ONE = {"affine": ("scale_x", "scale_y", "fill"), "frei0r.cairoblend": ("0",)}
"""Properties that make it smaller, or thin."""


def blends(parts: Parts, timeline: Element) -> tuple[Blend, ...]:
    """The transitions between pictures of tracks that are not switched off, in the engine's order."""
    return tuple(_blends(parts, timeline))


def _blends(parts: Parts, timeline: Element) -> Iterator[Blend]:
    for element in timeline.iterchildren("transition"):
        service = (properties.get(element, "mlt_service") or "").strip()
        lower, upper = (whole(properties.get(element, name)) for name in ("a_track", "b_track"))
        off = (properties.get(element, "disable") or "0").strip() not in ("", "0")
        if service in _SOUND or off or lower is None or upper is None:
            continue
        known = service in BLENDS
        yield Blend(
            lower,
            upper,
            _span(parts, element),
            thin=not known or _is_thin(parts, element, service),
            unknown="" if known else service,
            fit=_fit(element, service),
        )


def _fit(element: Element, service: str) -> PictureFit:
    """How large pictures are that it lays (measured on melt 7.12)."""
    if service in ("composite", "affine") and _is_on(element, "distort"):
        return PictureFit.STRETCHED
    if service != "composite":
        return PictureFit.PLACED
    if _is_on(element, "crop_to_fill"):
        return PictureFit.STRETCHED
    return PictureFit.INSIDE if _is_on(element, "fill") else PictureFit.OWN


def _is_on(element: Element, name: str) -> bool:
    return (properties.get(element, name) or "0").strip() not in ("", "0")


def _span(parts: Parts, element: Element) -> Span | None:
    always = (properties.get(element, "always_active") or "0").strip() not in ("", "0")
    first, out = parts.frames(element.get("in")), element.get("out")
    last = parts.frames(out) if out else 0
    if always or (first, last) == (0, 0):
        return None
    return Span(first, last + 1 if last else 10**9)


def _is_thin(parts: Parts, element: Element, service: str) -> bool:
    """True where some opacity, rectangle or way of mixing lets through what lies beneath."""
    name, plain = _MODES.get(service, ("", ("",)))
    if name and (properties.get(element, name) or "").strip() not in plain:
        return True
    if any(_differs(element, name, 0) for name in _ZERO.get(service, ())):
        return True
    if any(_differs(element, name, 1) for name in _ONE.get(service, ())):
        return True
    text = next((value for name in _RECTANGLES if (value := properties.get(element, name))), "")
    if not text:
        return False
    width, height = parts.document.width, parts.document.height
    animated = keyframes.is_animated(text)
    values = [key.value for key in parts.keys(text)] if animated else [text]
    try:
        read = [rectangle(value, width, height, opacity=UNTOLD.get(service, 1)) for value in values]
    except ValueError:
        return True
    return not read or not all(one.fills(width, height) for one in read)


def _differs(element: Element, name: str, plain: int) -> bool:
    """True where a property, or a key of it, is something else than this number."""
    text = re.sub(r"[^;=]*=", "", properties.get(element, name) or "")
    return bool(text) and any(number(value) != plain for value in text.split(";"))
