"""What effects do to how much a picture hides: where it is transparent, and where text stands over it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from lxml.etree import _Element as Element

from mltassist.document import keyframes, properties
from mltassist.document.rectangles import UNTOLD, rectangle
from mltassist.document.values import number
from mltassist.frames import Span, joined
from mltassist.hosts.levels import filters, key_length
from mltassist.hosts.parts import Parts
from mltassist.timeline.model import NO_VEIL, Veil

_FAR = 10**9
_LETTERS = (
    "dynamictext",
    "text",
    "qtext",
    "pango",
    "timer",
    "typewriter",
    "gpstext",
    "subtitle",
    "watermark",
    "avfilter.drawtext",
    "avfilter.subtitles",
    "avfilter.ass",
)
"""Filters that write, or lay a picture, over the one they hang on."""
RECTANGLES = {
    "qtblend": ("rect", "geometry"),
    "affine": ("transition.rect", "transition.geometry", "rect", "geometry"),
}
"""Filters that put the picture into a rectangle with an opacity, and the names of its property."""
_OPENING = (
    "chroma",
    "lumakey",
    "mask_start",
    "mask_apply",
    "rotoscoping",
    "shape",
    "strobe",
    "cairoblend_mode",
    "crop",
    "qtcrop",
    "movit.crop",
    "movit.rect",
    "movit.opacity",
    "frei0r.alpha0ps",
    "frei0r.alpha0ps_alpha0ps",
    "frei0r.alphagrad",
    "frei0r.alphaspot",
    "frei0r.bluescreen0r",
    "frei0r.c0rners",
    "frei0r.defish0r",
    "frei0r.lenscorrection",
    "frei0r.mask0mate",
    "frei0r.perspective",
    "frei0r.select0r",
    "frei0r.transparency",
    "boxblur",
    "box_blur",
    "avfilter.alphamerge",
    "avfilter.backgroundkey",
    "avfilter.chromakey",
    "avfilter.colorhold",
    "avfilter.colorkey",
    "avfilter.hsvkey",
    "avfilter.lenscorrection",
    "avfilter.lumakey",
    "avfilter.perspective",
    "avfilter.rotate",
    "avfilter.shear",
    "avfilter.v360",
)
"""Filters that make a part of the picture transparent; which, only the picture itself would tell."""
_FAMILIES = ("avfilter.", "frei0r.", "movit.", "sox.", "sox", "ladspa.", "lv2.", "vst2.", "jack", "opencv.")
"""Of these libraries all other filters leave opacity alone: their own lists name those that do not."""
_CLOSED = (
    ("audiochannels", "audioconvert", "audiolevel", "audiolevelgraph", "audiomap", "audiopitch", "audioseam"),
    ("audiospectrum", "audiowave", "audiowaveform", "autofade", "avcolor_space", "avcolour_space"),
    ("avdeinterlace", "burningtv", "BurningTV", "channelcopy", "channelswap"),
    (
        "charcoal",
        "choppy",
        "chroma_hold",
        "dance",
        "data_feed",
        "data_show",
        "deshake",
        "deinterlace",
        "dust",
    ),
    ("dynamic_loudness", "fft", "fieldorder", "fieldrate", "freeze", "gamma", "glsl.manager", "gpsgraphic"),
    ("gradientmap", "grain", "grayscale", "greyscale", "imageconvert", "invert", "lift_gamma_gain", "lines"),
    ("lightshow", "loudness", "loudness_meter", "luma", "lumaliftgaingamma", "mirror", "mono", "obscure"),
    ("oldfilm", "outline", "panner", "pillar_echo", "rbpitch", "rescale", "resize", "rgblut", "sepia"),
    ("spot_remover", "swresample", "swscale", "tcolor", "telecide", "threshold", "transition", "vidstab"),
    ("vignette", "volume", "wave", "normalise"),
)
"""Filters of the engine that leave opacity alone."""
_KEEPING = (
    "brightness",
    "qtblend",
    *("boxblur", "box_blur"),
    *("audio", "channel", "dynamic_loudness", "fft", "jack", "ladspa.", "loudness", "lv2.", "mono", "panner"),
    *("rbpitch", "sox", "swresample", "volume", "vst2."),
)
"""What names of filters begin with that leave transparent what they get so: these, and those of sound.

Others may make it opaque: the engine hands them pictures without opacity (measured on melt 7.12).
"""


class _Key(NamedTuple):
    """A value from a frame on; hold: until the next key, else in a straight line to it."""

    frame: int
    value: Fraction
    hold: bool


def veil_of(parts: Parts, filtered: Iterable[tuple[Element, int]]) -> Veil:
    """What the filters do that hang on these parts, each with the timeline frame of its own frame 0."""
    thin: list[Span] = []
    gone: list[Span] = []
    lettered: list[Span] = []
    unknown: dict[str, None] = {}
    worked, placed = False, False
    for part, offset in filtered:
        for element in filters(part):
            service = (properties.get(element, "mlt_service") or "").strip()
            active = _active(parts, element, offset)
            worked = worked or (service not in _LETTERS and not service.startswith(_KEEPING))
            placed = placed or service in RECTANGLES
            if service in _LETTERS:
                lettered.append(active)
            elif service in _OPENING:
                thin.append(active)
            elif service == "brightness" or service in RECTANGLES:
                keys = sorted(_opacity(parts, part, element, service, active.start))
                some, none = _below_one(keys)
                thin += [both for span in some if (both := span.shared(active)).length > 0]
                # A rectangle of the one service that is not seen at all may be black (melt 7.12).
                nothing = thin if service == "affine" else gone
                nothing += [both for span in none if (both := span.shared(active)).length > 0]
            elif not any(service in row for row in _CLOSED) and not service.startswith(_FAMILIES):
                unknown[service] = None
    if not (thin or gone or lettered or unknown or worked or placed):
        return NO_VEIL
    return Veil(joined(thin), joined(gone), joined(lettered), tuple(unknown), worked, placed)


def _active(parts: Parts, element: Element, offset: int) -> Span:
    first, out = parts.frames(element.get("in")), element.get("out")
    last = parts.frames(out) if out else _FAR
    if (first, last) == (0, 0) or last >= _FAR:  # the engine takes in="0" out="0" as no limits
        return Span(offset + first, _FAR)
    return Span(offset + first, offset + last + 1)


def _opacity(parts: Parts, part: Element, element: Element, service: str, first: int) -> Iterator[_Key]:
    """The keys of a filter's opacity, 0 to 1, in timeline frames; none where it has none."""
    if service == "brightness":
        for frame, text, hold in _texts(parts, part, element, ("alpha",)):
            value = number(text)
            if value is not None and value < 0:  # then it goes with the level
                yield from (
                    _Key(first + frame, level, hold)
                    for frame, text, hold in _texts(parts, part, element, ("level", "start"))
                    if (level := number(text)) is not None
                )
                return
            if value is not None:
                yield _Key(first + frame, value, hold)
        return
    width, height = parts.document.width, parts.document.height
    for frame, text, hold in _texts(parts, part, element, RECTANGLES[service]):
        try:
            placed = rectangle(text, width, height, opacity=UNTOLD.get(service, 1))
            yield _Key(first + frame, placed.opacity, hold)
        except ValueError:
            continue


def _texts(
    parts: Parts, part: Element, element: Element, names: tuple[str, ...]
) -> Iterator[tuple[int, str, bool]]:
    text = next((value for name in names if (value := properties.get(element, name))), "")
    if not text:
        return
    if not keyframes.is_animated(text):
        yield 0, text, True
        return
    keys = parts.keys(text)
    end = key_length(parts, part, element) if any(key.frame < 0 for key in keys) else 0
    for key in keys:
        yield key.frame + end if key.frame < 0 else key.frame, key.value, key.ease in ("|", "!")


def _below_one(keys: list[_Key]) -> tuple[list[Span], list[Span]]:
    """Where keys in order stand for less than a whole picture, and where for nothing at all."""
    if not keys:
        return [], []
    ends = _Key(-_FAR, keys[0].value, hold=True), _Key(_FAR, keys[-1].value, hold=True)
    thin, gone = [], []
    for one, other in pairwise((ends[0], *keys, ends[1])):
        if one.value <= 0 and (one.hold or other.value <= 0):
            gone.append(Span(one.frame, other.frame))
        elif one.value < 1:
            nothing = int(one.value <= 0)  # a fade begins with a frame of it
            gone.append(Span(one.frame, one.frame + nothing))
            thin.append(Span(one.frame + nothing, other.frame))
        elif other.value < 1 and not one.hold:
            thin.append(Span(one.frame + 1, other.frame))
    return [span for span in thin if span.length > 0], [span for span in gone if span.length > 0]
