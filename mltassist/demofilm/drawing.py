"""Soft-edged shapes painted into RGB pictures with numpy, seen through a camera.

A scene is laid out once in world units (one unit is one pixel at zoom 1); the camera chooses how
close it is seen. Every shape paints in place, touching only the pixels of its own box.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from mltassist.demofilm.strip import HEIGHT, WIDTH, Canvas

Floats = NDArray[np.float32]
Colour = tuple[int, int, int]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Camera:
    """World point in the middle of the picture, and pixels per world unit."""

    x: float = WIDTH / 2
    y: float = HEIGHT / 2
    zoom: float = 1.0

    def place(self, point: Point) -> Point:
        """World point to picture pixels."""
        return (point[0] - self.x) * self.zoom + WIDTH / 2, (point[1] - self.y) * self.zoom + HEIGHT / 2


@dataclass(frozen=True, slots=True)
class Painting:
    """A picture being painted and the camera it is seen through."""

    picture: Canvas
    camera: Camera = field(default_factory=Camera)


def camera_on(focus: Point, zoom: float) -> Camera:
    """A camera on `focus`, moved so that nothing beyond the 640 x 360 world is seen."""
    across, down = WIDTH / 2 / zoom, HEIGHT / 2 / zoom
    x = min(max(focus[0], across), WIDTH - across)
    y = min(max(focus[1], down), HEIGHT - down)
    return Camera(x, y, zoom)


def blank_picture(colour: Colour = (0, 0, 0)) -> Canvas:
    """A 640 x 360 picture of one colour."""
    return np.full((HEIGHT, WIDTH, 3), colour, np.uint8)


def mixed(some: Colour, other: Colour, share: float) -> Colour:
    """`some` with `share` (0 to 1) of `other` stirred in."""
    red, green, blue = (round(a + (b - a) * share) for a, b in zip(some, other, strict=True))
    return red, green, blue


def _box(left: float, top: float, right: float, bottom: float) -> tuple[slice, slice] | None:
    x0, x1 = max(0, int(left) - 1), min(WIDTH, int(right) + 2)
    y0, y1 = max(0, int(top) - 1), min(HEIGHT, int(bottom) + 2)
    return (slice(y0, y1), slice(x0, x1)) if x0 < x1 and y0 < y1 else None


def _grid(box: tuple[slice, slice]) -> tuple[Floats, Floats]:
    rows, columns = box
    x = np.arange(columns.start, columns.stop, dtype=np.float32) + np.float32(0.5)
    y = np.arange(rows.start, rows.stop, dtype=np.float32) + np.float32(0.5)
    return x[np.newaxis, :], y[:, np.newaxis]


def _paint(picture: Canvas, box: tuple[slice, slice], inside: Floats, colour: Colour, cover: float) -> None:
    """Blend by `inside`, a distance in pixels that is positive within the shape."""
    mask = np.clip(inside + np.float32(0.5), 0, 1) * np.float32(cover)
    part = picture[box].astype(np.float32)
    part += (np.asarray(colour, np.float32) - part) * mask[..., np.newaxis]
    picture[box] = (part + np.float32(0.5)).astype(np.uint8)


def ellipse(view: Painting, middle: Point, size: Point, colour: Colour, *, cover: float = 1.0) -> None:
    """An upright ellipse; `size` holds its two half-axes."""
    (x, y), rx, ry = view.camera.place(middle), size[0] * view.camera.zoom, size[1] * view.camera.zoom
    if box := _box(x - rx, y - ry, x + rx, y + ry):
        across, down = _grid(box)
        distance = np.sqrt(((across - x) / rx) ** 2 + ((down - y) / ry) ** 2)
        _paint(view.picture, box, (1 - distance) * np.float32(min(rx, ry)), colour, cover)


def disc(view: Painting, middle: Point, radius: float, colour: Colour, *, cover: float = 1.0) -> None:
    """A filled circle."""
    ellipse(view, middle, (radius, radius), colour, cover=cover)


def bar(
    view: Painting,
    start: Point,
    end: Point,
    width: float,
    colour: Colour,
    *,
    cover: float = 1.0,
) -> None:
    """A thick line with round ends."""
    (ax, ay), (bx, by), half = view.camera.place(start), view.camera.place(end), width * view.camera.zoom / 2
    if box := _box(min(ax, bx) - half, min(ay, by) - half, max(ax, bx) + half, max(ay, by) + half):
        across, down = _grid(box)
        dx, dy = bx - ax, by - ay
        along = ((across - ax) * dx + (down - ay) * dy) / (dx * dx + dy * dy or 1.0)
        along = np.clip(along, 0, 1).astype(np.float32)
        distance = np.hypot(across - ax - along * dx, down - ay - along * dy)
        _paint(view.picture, box, (half - distance).astype(np.float32), colour, cover)


def polygon(view: Painting, corners: Sequence[Point], colour: Colour, *, cover: float = 1.0) -> None:
    """A filled convex polygon; corners run clockwise as seen (y grows downward)."""
    points = [view.camera.place(corner) for corner in corners]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    if box := _box(min(xs), min(ys), max(xs), max(ys)):
        across, down = _grid(box)
        inside = np.full((down.shape[0], across.shape[1]), np.inf, np.float32)
        for (ax, ay), (bx, by) in zip(points, points[1:] + points[:1], strict=True):
            length = float(np.hypot(bx - ax, by - ay)) or 1.0
            edge = ((bx - ax) * (down - ay) - (by - ay) * (across - ax)) / length
            np.minimum(inside, edge, out=inside)
        _paint(view.picture, box, inside, colour, cover)


def block(view: Painting, corner: Point, size: Point, colour: Colour, *, cover: float = 1.0) -> None:
    """An upright rectangle from its upper left corner."""
    (left, top), wide, high = (
        view.camera.place(corner),
        size[0] * view.camera.zoom,
        size[1] * view.camera.zoom,
    )
    if box := _box(left, top, left + wide, top + high):
        across, down = _grid(box)
        inside = np.minimum(
            np.minimum(across - left, left + wide - across), np.minimum(down - top, top + high - down)
        )
        _paint(view.picture, box, inside.astype(np.float32), colour, cover)


def ground(
    view: Painting, edge: Callable[[Floats], NDArray[np.floating]], colour: Colour, *, cover: float = 1.0
) -> None:
    """Everything below a line given as world y for world x."""
    box = (slice(0, HEIGHT), slice(0, WIDTH))
    across, down = _grid(box)
    world_x = (across - WIDTH / 2) / view.camera.zoom + view.camera.x
    line = (edge(world_x.astype(np.float32)) - view.camera.y) * view.camera.zoom + HEIGHT / 2
    first = max(0, int(line.min()) - 1)
    if first < HEIGHT:
        rows = (slice(first, HEIGHT), slice(0, WIDTH))
        _paint(view.picture, rows, (down[first:] - line).astype(np.float32), colour, cover)


def gradient(view: Painting, above: Colour, below: Colour) -> None:
    """The whole picture, from one colour at the world's top to another at its bottom."""
    share = ((np.arange(HEIGHT) - HEIGHT / 2) / view.camera.zoom + view.camera.y) / HEIGHT
    colours = np.asarray(above) + (np.asarray(below) - np.asarray(above)) * share[:, np.newaxis]
    view.picture[:] = colours.round().astype(np.uint8)[:, np.newaxis]


def wheel(
    view: Painting,
    middle: Point,
    radii: tuple[float, float],
    *,
    spokes: int,
    turned: float,
    width: float,
    colour: Colour,
) -> None:
    """`spokes` straight arms of `width` from the inner to the outer radius, `turned` by that many arms."""
    (x, y), inner, outer = view.camera.place(middle), radii[0] * view.camera.zoom, radii[1] * view.camera.zoom
    if box := _box(x - outer, y - outer, x + outer, y + outer):
        across, down = _grid(box)
        radius = np.hypot(across - x, down - y)
        step = 2 * np.pi / spokes
        angle = np.arctan2(down - y, across - x) / np.float32(step) - np.float32(turned)
        aside = np.abs(radius * np.sin((angle - np.round(angle)) * np.float32(step)))
        inside = np.minimum(width * view.camera.zoom / 2 - aside, np.minimum(radius - inner, outer - radius))
        _paint(view.picture, box, inside.astype(np.float32), colour, 1.0)


def ring(view: Painting, middle: Point, radii: tuple[float, float], colour: Colour) -> None:
    """The area between two circles."""
    (x, y), inner, outer = view.camera.place(middle), radii[0] * view.camera.zoom, radii[1] * view.camera.zoom
    if box := _box(x - outer, y - outer, x + outer, y + outer):
        across, down = _grid(box)
        radius = np.hypot(across - x, down - y)
        _paint(view.picture, box, np.minimum(radius - inner, outer - radius), colour, 1.0)


@dataclass(frozen=True, slots=True)
class Scene:
    """A subject: what stands still, what moves, and where a close camera looks.

    `moving` is given the frame number and paints over a copy of the still picture; after `period`
    frames its movement repeats (0: never).
    """

    still: Callable[[Painting], None]
    moving: Callable[[Painting, int], None]
    focus: Point
    period: int = 0
