"""Labelled rushes in two halves that share no recording of a voice, no music and no kind of place.

TUNING sets the weights of the evidence; HELD_OUT is looked at once they are set. What both share is said
here: the talking head of the open films, which there is only once, is mirrored, cropped and darkened for
the held-out half, and both have slides, each of its own look.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import platformdirs
import soundfile

from mltassist.timeline.elements import Element
from tests.rushes.labelled import heard, seen
from tests.rushes.labelled.heard import HZ, Mono, in_room, levelled, music, place, voice
from tests.rushes.labelled.seen import Painter

TUNING, HELD_OUT = "tuning", "held-out"
HOME = platformdirs.user_cache_path("mltassist-tests") / "labelled-rushes-1"
"""Where the files are kept once they are made; a change of what is made needs another number."""
FPS = 25


@dataclass(frozen=True)
class Rush:
    """A recording with what it is to a film; None: no element (a screen, a slide).

    shoot: recordings of one name were made together. part: whose sound or picture it is, for recordings
    of one interview. silent: no sound stream at all.
    """

    name: str
    half: str
    element: Element | None
    length_s: float
    suffix: str
    shoot: str
    picture: Callable[[], Painter] | None = None
    sound: Callable[[], Mono] | None = None
    still: Callable[[], seen.Picture] | None = None
    part: str = ""


# --- how speech is given in an interview --------------------------------------------------------


def answers(name: str, length_s: float, seed: int, *, gaps_s: float = 1.5, start_s: float = 0.0) -> Mono:
    """Answers of some seconds, and the quiet in which the question is asked."""
    random = np.random.default_rng(seed)
    said = np.roll(voice(name), -int(start_s * HZ))
    parts, at = [], 0
    total = 0.0
    while total < length_s:
        long = float(random.uniform(5, 11))
        parts.append(np.take(said, np.arange(at, at + int(long * HZ)), mode="wrap"))
        parts.append(np.zeros(int(random.uniform(0.3, 2) * gaps_s * HZ), np.float32))
        at += int(long * HZ)
        total = sum(map(len, parts)) / HZ
    return np.concatenate(parts)[: int(length_s * HZ)]


def over(speech: Mono, ground: Mono, ratio_db: float) -> Mono:
    """Speech with a place under it, so many dB lower."""
    return levelled(levelled(speech, -22) + levelled(ground[: speech.size], -22 - ratio_db), -22)


def remark(ground: Mono, name: str, at_s: float, length_s: float) -> Mono:
    """A place in which somebody near the camera says a few words."""
    words = voice(name)[HZ : HZ + int(length_s * HZ)] * 0.25
    out = ground.copy()
    first = int(at_s * HZ)
    out[first : first + words.size] += words[: out.size - first]
    return out


def turns(one: str, other: str, length_s: float, seed: int) -> Mono:
    """Two who speak in turn for some seconds each, hardly ever at once, with little quiet between them."""
    random = np.random.default_rng(seed)
    parts, total, at = [], 0.0, 0.0
    while total < length_s:
        for name in (one, other):
            long = float(random.uniform(2.5, 9))
            first, said = int(at * HZ), voice(name)
            parts.append(np.take(said, np.arange(first, first + int(long * HZ)), mode="wrap"))
            parts.append(np.zeros(int(random.uniform(0.05, 0.7) * HZ), np.float32))
            total += long
        at += long + 1
    return np.concatenate(parts)[: int(length_s * HZ)]


def _loud(sound: Mono) -> np.ndarray:
    frames = sound[: sound.size // (HZ // FPS) * (HZ // FPS)].reshape(-1, HZ // FPS)
    return np.clip(np.sqrt(np.square(frames).mean(axis=1)) / 0.15, 0, 1).astype(np.float32)


# --- the two halves ------------------------------------------------------------------------------


def _interviews_tuning() -> Iterator[Rush]:
    head = lambda: seen.filmed("carphone_pristine", 0, 120)  # noqa: E731
    for part in range(3):  # one long take that the camera has split
        yield Rush(
            f"split-{part}",
            TUNING,
            Element.INTERVIEW,
            36,
            ".mp4",
            "split",
            head,
            lambda part=part: in_room(answers("tale", 36, 5 + part, start_s=11.0 * part), 3),
        )
    cat = answers
    yield Rush(
        "cat",
        TUNING,
        Element.INTERVIEW,
        52,
        ".mov",
        "cat",
        lambda: seen.sitter("chelsea.png", 7, _loud(cat("prompts", 52, 8))),
        lambda: in_room(answers("prompts", 52, 8, gaps_s=2.5), 9, wet=0.6, noise_db=-48),
    )
    yield Rush(
        "two",
        TUNING,
        Element.INTERVIEW,
        44,
        ".mp4",
        "two",
        lambda: seen.sitter("camera.png", 17, size=1.0),
        lambda: over(answers("two talk", 44, 12, gaps_s=0.3), place("street", 45, 3), 18),
    )
    yield Rush(
        "walk",
        TUNING,
        Element.INTERVIEW,
        30,
        ".mp4",
        "street day",
        lambda: seen.handheld("motorcycle_left.png", 31, drift=2.5),
        lambda: over(answers("low reader", 30, 14), place("street", 31, 5), 12),
    )
    yield Rush(
        "vox pop",
        TUNING,
        Element.INTERVIEW,
        16,
        ".mp4",
        "street day",
        lambda: seen.filmed("bikes", 31, 75, every=2),
        lambda: over(answers("reader", 16, 15, gaps_s=0.5), place("street", 17, 6), 15),
    )
    apart = lambda: answers("high tale", 48, 21)  # noqa: E731
    yield Rush(
        "apart picture",
        TUNING,
        Element.INTERVIEW,
        48,
        ".mp4",
        "apart",
        lambda: seen.changed(seen.filmed("carphone_distorted", 0, 120), gain=0.8),
        lambda: levelled(in_room(apart(), 22, wet=1.2, noise_db=-38), -34),
        part="apart",
    )
    yield Rush(
        "apart sound",
        TUNING,
        Element.INTERVIEW,
        56,
        ".wav",
        "apart",
        sound=lambda: (
            np.concatenate([np.zeros(int(3.3 * HZ), np.float32), apart(), np.zeros(5 * HZ, np.float32)])
            + 1e-4 * heard.coloured(56.5, 2, 100, 4000)[: int(56.3 * HZ)]
        ),
        part="apart",
    )
    for name, one, other, suffix in (
        ("by telephone", "two talk", "", ".m4a"),
        ("at the table", "reader", "prompts", ".wav"),
        ("in the car", "tale", "low reader", ".wav"),
    ):
        yield _conversation(name, TUNING, one, other, suffix)
    yield from _recorded_apart(
        "booth",
        lambda: seen.sitter("motorcycle_right.png", 25, size=1.0),
        lambda: answers("prompts", 40, 26, gaps_s=1.0, start_s=30),
        40,
        beyond_s=(-1.5, 0.5),
        suffix=".wav",
    )
    yield from _recorded_apart(
        "porch",
        lambda: seen.sitter("brick.png", 27, size=1.0),
        lambda: answers("low reader", 34, 28, start_s=8),
        34,
        beyond_s=(6.0, 9.0),
        suffix=".m4a",
    )


def _conversation(name: str, half: str, one: str, other: str, suffix: str) -> Rush:
    """Two voices recorded as sound alone: `other` "" where `one` holds both."""
    seed = sum(map(ord, name))

    def sound() -> Mono:
        said = turns(one, other, 60, seed) if other else heard.filled(voice(one), 60)
        return in_room(said, seed, wet=0.4, noise_db=-52)

    return Rush(name, half, Element.INTERVIEW, 60, suffix, name, sound=sound, part=name)


def _recorded_apart(
    name: str,
    picture: Callable[[], Painter],
    said: Callable[[], Mono],
    length_s: float,
    *,
    beyond_s: tuple[float, float],
    suffix: str,
) -> Iterator[Rush]:
    """A picture with the sound of its own microphone, and the recorder's, begun earlier and ended later."""
    early_s, late_s = beyond_s
    yield Rush(
        f"{name} picture",
        TUNING,
        Element.INTERVIEW,
        length_s,
        ".mp4",
        name,
        picture,
        lambda: levelled(in_room(said(), 29, wet=1.1, noise_db=-40), -35),
        part=name,
    )

    def recorded() -> Mono:
        whole = np.concatenate([np.zeros(10 * HZ, np.float32), said(), np.zeros(10 * HZ, np.float32)])
        part = whole[int((10 - early_s) * HZ) : int((10 + length_s + late_s) * HZ)]
        return np.asarray(
            part + 1e-4 * heard.coloured(part.size / HZ + 1, 3, 100, 4000)[: part.size], np.float32
        )

    yield Rush(
        f"{name} sound",
        TUNING,
        Element.INTERVIEW,
        length_s + early_s + late_s,
        suffix,
        name,
        sound=recorded,
        part=name,
    )


def _interviews_held_out() -> Iterator[Rush]:
    head = lambda: seen.changed(  # noqa: E731
        seen.filmed("carphone_distorted", 0, 120), mirrored=True, gain=0.7, crop=0.8
    )
    for part in range(2):
        yield Rush(
            f"long-{part}",
            HELD_OUT,
            Element.INTERVIEW,
            50,
            ".mp4",
            "long",
            head,
            lambda part=part: in_room(answers("long talk", 50, 40 + part, start_s=45.0 * part), 33),
        )
    yield Rush(
        "astronaut",
        HELD_OUT,
        Element.INTERVIEW,
        60,
        ".mov",
        "astronaut",
        lambda: seen.sitter("astronaut.png", 47, _loud(answers("talk", 60, 48))),
        lambda: in_room(answers("talk", 60, 48, gaps_s=2.0), 49, wet=0.5, noise_db=-50),
    )
    yield Rush(
        "player",
        HELD_OUT,
        Element.INTERVIEW,
        34,
        ".mp4",
        "stadium",
        lambda: seen.sitter("messi5.jpg", 51, size=1.0),
        lambda: over(answers("other prompts", 34, 52, gaps_s=0.8), place("crowd", 35, 53), 16),
    )
    yield Rush(
        "walk out",
        HELD_OUT,
        Element.INTERVIEW,
        26,
        ".mp4",
        "stadium",
        lambda: seen.handheld("building.jpg", 54, drift=2.5),
        lambda: over(answers("low talk", 26, 55), place("steps", 27, 56), 12),
    )
    yield Rush(
        "passer-by",
        HELD_OUT,
        Element.INTERVIEW,
        14,
        ".mp4",
        "stadium",
        lambda: seen.filmed("bikes", 138, 186, every=2),
        lambda: over(answers("high talk", 14, 57, gaps_s=0.4), place("sea", 15, 58), 14),
    )
    for name, one, other, suffix in (
        ("on the line", "other prompts", "low talk", ".m4a"),
        ("over coffee", "talk", "high talk", ".wav"),
    ):
        yield _conversation(name, HELD_OUT, one, other, suffix)
    apart = lambda: answers("high talk", 46, 61, start_s=70.0)  # noqa: E731
    yield Rush(
        "own picture",
        HELD_OUT,
        Element.INTERVIEW,
        46,
        ".mp4",
        "own",
        lambda: seen.sitter("basketball1.png", 62, size=1.0),
        lambda: levelled(in_room(apart(), 63, wet=1.0, noise_db=-40), -36),
        part="own",
    )
    yield Rush(
        "own sound",
        HELD_OUT,
        Element.INTERVIEW,
        51,
        ".wav",
        "own",
        sound=lambda: (
            np.concatenate([np.zeros(2 * HZ, np.float32), apart(), np.zeros(3 * HZ, np.float32)])
            + 1e-4 * heard.coloured(52, 4, 100, 4000)[: 51 * HZ]
        ),
        part="own",
    )


def _narrations(half: str, names: tuple[tuple[str, float, str], ...]) -> Iterator[Rush]:
    for number, (name, length_s, suffix) in enumerate(names):
        start = 9.0 * number
        yield Rush(
            f"voice {number} {name}",
            half,
            Element.NARRATION,
            length_s,
            suffix,
            "voices",
            sound=lambda name=name, length_s=length_s, start=start: (
                np.roll(heard.filled(voice(name), length_s), -int(start * HZ))
                + 3e-4 * heard.coloured(length_s + 1, 71, 60, 5000)[: int(length_s * HZ)]
            ),
        )


def _cutaways_tuning() -> Iterator[Rush]:
    def cut(
        name: str, length_s: float, picture: Callable[[], Painter], sound: Callable[[], Mono] | None
    ) -> Rush:
        return Rush(name, TUNING, Element.CUTAWAY, length_s, ".mp4", name.partition(" ")[0], picture, sound)

    street = lambda first, last: lambda: seen.filmed("bikes", first, last, every=3)  # noqa: E731
    yield cut("street a", 6, street(0, 29), lambda: place("street", 6, 101))
    yield cut("street b", 9, street(31, 75), lambda: place("street", 9, 102))
    yield cut("street c", 12, street(77, 136), lambda: remark(place("street", 12, 103), "reader", 4, 1.6))
    yield cut(
        "rabbit a", 7, lambda: seen.filmed("bigbuckbunny", 0, 60, every=2), lambda: place("birds", 7, 104)
    )
    yield cut(
        "rabbit b", 8, lambda: seen.filmed("bigbuckbunny", 61, 132, every=2), lambda: place("wind", 8, 105)
    )
    yield cut("coffee a", 8, lambda: seen.handheld("coffee.png", 106), lambda: place("kitchen", 8, 106))
    yield cut(
        "coffee b", 10, lambda: seen.handheld("coffee.png", 107, size=0.35), lambda: place("kitchen", 10, 107)
    )
    yield cut("grass a", 9, lambda: seen.handheld("grass.png", 108), lambda: place("wind", 9, 108))
    yield cut("grass b", 20, lambda: seen.handheld("gravel.png", 109), lambda: place("rain", 20, 109))
    yield cut("brick a", 7, lambda: seen.handheld("brick.png", 110, drift=0.2), None)
    yield cut(
        "motor a", 11, lambda: seen.handheld("motorcycle_left.png", 111), lambda: place("engine", 11, 111)
    )
    yield cut(
        "motor b",
        14,
        lambda: seen.handheld("motorcycle_right.png", 112, size=0.4),
        lambda: place("workshop", 14, 112),
    )
    yield cut(
        "rocket a",
        13,
        lambda: seen.handheld("rocket.jpg", 113),
        lambda: remark(place("wind", 13, 113), "prompts", 8, 2.2),
    )
    yield cut(
        "band a",
        15,
        lambda: seen.handheld("chelsea.png", 114, size=0.4),
        lambda: levelled(in_room(music("robot", 5, 15), 7, echo_s=0.9, wet=1.5), -26),
    )
    yield cut(
        "locked a", 40, lambda: seen.sitter("coins.png", 115, size=1.0), lambda: place("workshop", 40, 115)
    )


def _cutaways_held_out() -> Iterator[Rush]:
    def cut(
        name: str, length_s: float, picture: Callable[[], Painter], sound: Callable[[], Mono] | None
    ) -> Rush:
        return Rush(name, HELD_OUT, Element.CUTAWAY, length_s, ".mp4", name.partition(" ")[0], picture, sound)

    street = lambda first, last: lambda: seen.filmed("bikes", first, last, every=3)  # noqa: E731
    yield cut("street d", 7, street(138, 186), lambda: place("steps", 7, 201))
    yield cut("street e", 6, street(188, 241), lambda: place("crowd", 6, 202))
    yield cut("square a", 30, lambda: seen.filmed("vtest", 0, 300), lambda: place("crowd", 30, 203))
    yield cut(
        "square b",
        12,
        lambda: seen.filmed("vtest", 301, 600, every=2),
        lambda: remark(place("steps", 12, 204), "talk", 3, 1.5),
    )
    yield cut("tree a", 9, lambda: seen.filmed("tree", 0, 60, every=3), lambda: place("crickets", 9, 205))
    yield cut("fruit a", 8, lambda: seen.handheld("fruits.jpg", 206), lambda: place("clock", 8, 206))
    yield cut(
        "fruit b", 10, lambda: seen.handheld("fruits.jpg", 207, size=0.35), lambda: place("clock", 10, 207)
    )
    yield cut("home a", 9, lambda: seen.handheld("home.jpg", 208), lambda: place("sea", 9, 208))
    yield cut("shelf a", 14, lambda: seen.handheld("aloeL.jpg", 209), lambda: place("brook", 14, 209))
    yield cut("stuff a", 7, lambda: seen.handheld("stuff.jpg", 210, drift=0.2), None)
    yield cut("mill a", 11, lambda: seen.handheld("board.jpg", 211), lambda: place("mill", 11, 211))
    yield cut(
        "leuven a",
        13,
        lambda: seen.handheld("leuvenA.jpg", 212),
        lambda: remark(place("sea", 13, 212), "low talk", 7, 2.0),
    )
    yield cut(
        "butterfly a",
        12,
        lambda: seen.handheld("butterfly.jpg", 213, size=0.5),
        lambda: place("sauna", 12, 213),
    )
    yield cut(
        "dance a",
        15,
        lambda: seen.handheld("graf1.png", 214, size=0.5),
        lambda: levelled(in_room(music("system", 40, 15), 8, echo_s=0.9, wet=1.5), -26),
    )
    yield cut(
        "locked b", 36, lambda: seen.sitter("rubberwhale1.png", 215, size=1.0), lambda: place("mill", 36, 215)
    )


def _wild(half: str, names: tuple[tuple[str, float], ...]) -> Iterator[Rush]:
    for number, (name, length_s) in enumerate(names):
        yield Rush(
            f"wild {name}",
            half,
            Element.NATURAL,
            length_s,
            ".wav",
            "wild",
            sound=lambda name=name, length_s=length_s, number=number: place(name, length_s, 300 + number),
        )


def _music(half: str, names: tuple[tuple[str, float, float, str], ...]) -> Iterator[Rush]:
    for name, start_s, length_s, suffix in names:
        yield Rush(
            f"music {name}",
            half,
            Element.MUSIC,
            length_s,
            suffix,
            "music",
            sound=lambda name=name, start_s=start_s, length_s=length_s: music(name, start_s, length_s),
        )


def _stills(half: str, names: tuple[str, ...], looks: tuple[str, ...]) -> Iterator[Rush]:
    for name in names:
        yield Rush(
            f"photo {name}",
            half,
            Element.CUTAWAY,
            0,
            ".jpg",
            "photos",
            still=lambda name=name: seen.photograph(name),
        )
    for number, look in enumerate(looks):
        yield Rush(
            f"card {look}",
            half,
            None,
            0,
            ".png",
            "cards",
            still=lambda number=number, look=look: seen.enlarged(seen.slides(900 + number, look)(0), 4),
        )


def _screens(half: str, painters: tuple[tuple[str, float, Callable[[], Painter]], ...]) -> Iterator[Rush]:
    for name, length_s, painter in painters:
        yield Rush(f"screen {name}", half, None, length_s, ".mp4", "screens", painter)


def rushes() -> tuple[Rush, ...]:
    """Every labelled recording of both halves."""
    return (
        *_interviews_tuning(),
        *_narrations(
            TUNING,
            (
                ("reader", 22, ".wav"),
                ("high tale", 34, ".m4a"),
                ("prompts", 9, ".wav"),
                ("low reader", 6, ".wav"),
                ("tale", 130, ".wav"),
            ),
        ),
        *_cutaways_tuning(),
        *_wild(TUNING, (("rain", 40), ("birds", 25), ("engine", 18), ("hiss", 30))),
        *_music(
            TUNING,
            (
                ("intro", 20, 60, ".m4a"),
                ("one player", 30, 45, ".wav"),
                ("cold day", 10, 50, ".wav"),
                ("robot", 0, 30, ".m4a"),
                ("feelings", 20, 70, ".m4a"),
                ("chaos", 30, 24, ".wav"),
            ),
        ),
        Rush(
            "song a",
            TUNING,
            Element.MUSIC,
            40,
            ".m4a",
            "music",
            sound=lambda: heard.song(10, music("feelings", 90, 40)),
        ),
        Rush(
            "song c",
            TUNING,
            Element.MUSIC,
            30,
            ".wav",
            "music",
            sound=lambda: heard.song(10, music("chaos", 60, 30)),
        ),
        Rush(
            "song d",
            TUNING,
            Element.MUSIC,
            50,
            ".m4a",
            "music",
            sound=lambda: heard.song(10, music("one player", 90, 50)),
        ),
        *_stills(TUNING, ("coffee.png", "rocket.jpg", "astronaut.png"), ("light", "blue")),
        *_screens(
            TUNING,
            (
                ("slides", 32, lambda: seen.slides(1)),
                ("lines", 20, lambda: seen.terminal(2)),
                ("blue", 24, lambda: seen.slides(3, "blue", 6.0)),
            ),
        ),
        *_interviews_held_out(),
        *_narrations(
            HELD_OUT,
            (
                ("talk", 30, ".wav"),
                ("long talk", 48, ".m4a"),
                ("arctic", 3.1, ".wav"),
                ("other prompts", 12, ".wav"),
            ),
        ),
        *_cutaways_held_out(),
        *_wild(HELD_OUT, (("brook", 35), ("sea", 22), ("crowd", 28), ("mill", 16), ("applause", 9))),
        *_music(
            HELD_OUT,
            (
                ("two players", 20, 60, ".m4a"),
                ("simplicity", 30, 45, ".wav"),
                ("morning", 20, 50, ".wav"),
                ("system", 10, 30, ".m4a"),
                ("metal", 20, 70, ".m4a"),
                ("freedom", 30, 24, ".wav"),
            ),
        ),
        Rush(
            "song b",
            HELD_OUT,
            Element.MUSIC,
            40,
            ".m4a",
            "music",
            sound=lambda: heard.song(14, music("freedom", 60, 40)),
        ),
        *_stills(HELD_OUT, ("fruits.jpg", "home.jpg", "building.jpg"), ("dark", "light")),
        *_screens(
            HELD_OUT,
            (
                ("page", 30, lambda: seen.page(11)),
                ("dark", 24, lambda: seen.slides(12, "dark", 7.0)),
                ("chart", 12, lambda: seen.chart(13)),
            ),
        ),
    )


# --- files ---------------------------------------------------------------------------------------


def file_of(rush: Rush) -> Path:
    """Where the recording lies."""
    return HOME / rush.half / (rush.name.replace(" ", "-").replace(".", "-") + rush.suffix)


def write(rush: Rush) -> Path:
    """The recording as a file, made if it is not there yet."""
    path = file_of(rush)
    if path.exists():
        return path
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name("part-" + path.name)
    if rush.still is not None:
        seen.save_png(part, rush.still())
    elif rush.suffix == ".wav":
        assert rush.sound is not None
        soundfile.write(str(part), rush.sound(), HZ, subtype="PCM_16")
    else:
        _write_film(part, rush)
    part.replace(path)
    return path


def _write_film(path: Path, rush: Rush) -> None:
    sound = rush.sound() if rush.sound is not None else None
    kind = "mp4" if rush.suffix in (".mp4", ".m4a") else "mov"
    with av.open(str(path), "w", format=kind, options={"fflags": "+bitexact"}) as out:
        picture = None
        if rush.picture is not None:
            picture = out.add_stream("libx264", rate=Fraction(FPS))
            picture.width, picture.height, picture.pix_fmt = seen.WIDTH, seen.HEIGHT, "yuv420p"
            picture.options = {"crf": "24", "preset": "ultrafast", "g": str(12 + 13 * (len(rush.name) % 3))}
        heard_as = "pcm_s16le" if kind == "mov" else "aac"
        track = None if sound is None else out.add_stream(heard_as, rate=HZ, layout="mono")
        painter = rush.picture() if rush.picture is not None else None
        for second in range(int(np.ceil(rush.length_s))):
            if picture is not None and painter is not None:
                for frame in range(second * FPS, min(int(rush.length_s * FPS), (second + 1) * FPS)):
                    shown = av.VideoFrame.from_ndarray(np.ascontiguousarray(painter(frame)), format="rgb24")
                    out.mux(picture.encode(shown))
            if track is not None and sound is not None:
                part = sound[second * HZ : (second + 1) * HZ]
                if part.size:
                    whole = np.clip(part * 32767, -32768, 32767).astype(np.int16)[None]
                    block = av.AudioFrame.from_ndarray(whole, format="s16", layout="mono")
                    block.sample_rate, block.pts = HZ, second * HZ
                    out.mux(track.encode(block))
        for stream in (picture, track):
            if stream is not None:
                out.mux(stream.encode(None))
