"""Sample accuracy of reads at any place, in the containers that editors meet."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from mltassist.errors import MediaError, SourceMissing
from mltassist.media.sound.decode import as_mono, as_stereo, read_sound

Maker = Callable[[str], Path]
SECONDS = 9
# file name, encoder, its sample format, options, rate
KINDS: dict[str, tuple[str, str, dict[str, str], int]] = {
    "pcm.wav": ("pcm_s16le", "s16", {}, 48000),
    "deep.wav": ("pcm_s24le", "s32", {}, 48000),
    "pcm.mov": ("pcm_s16be", "s16", {}, 48000),
    "free.flac": ("flac", "s16", {}, 48000),
    "free.mkv": ("flac", "s16", {}, 44100),
    "aac.mp4": ("aac", "fltp", {}, 48000),
    "aac44.m4a": ("aac", "fltp", {}, 44100),
    "aac.mkv": ("aac", "fltp", {}, 48000),
    "aac44.mkv": ("aac", "fltp", {}, 44100),
    "opus.ogg": ("libopus", "flt", {}, 48000),
    "opus.mkv": ("libopus", "flt", {}, 48000),
    "vorbis.ogg": ("libvorbis", "fltp", {}, 48000),
    "vorbis44.ogg": ("libvorbis", "fltp", {}, 44100),
    "vorbis.mkv": ("libvorbis", "fltp", {}, 48000),
    "vorbis44.mkv": ("libvorbis", "fltp", {}, 44100),
    "layer3.mp3": ("libmp3lame", "fltp", {}, 48000),
}
# Loss allowed against the original, as the share of its RMS.
LOSSLESS = {"pcm.wav", "deep.wav", "pcm.mov", "free.flac", "free.mkv"}


def sweep(rate_hz: int, seconds: int = SECONDS) -> NDArray[np.float32]:
    """Stereo, never twice alike, with a step of level each half second to mix block sizes."""
    time = np.arange(rate_hz * seconds) / rate_hz
    swell = 0.2 + 0.3 * (np.floor(time * 2) % 2)
    rows = [np.sin(2 * np.pi * (200 + base * time) * time) for base in (60, 45)]
    return (np.stack(rows) * swell).astype(np.float32)


def write(path: Path, sound: NDArray[np.float32], kind: tuple[str, str, dict[str, str], int]) -> None:
    codec, sample_format, options, rate_hz = kind
    if codec == "libvorbis":
        write_vorbis(path, sound, rate_hz)
        return
    layout = {1: "mono", 2: "stereo", 6: "5.1"}[sound.shape[0]]
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, options=options)
        assert isinstance(stream, av.AudioStream)
        stream.layout = layout
        stream.format = sample_format
        if codec in ("aac", "libmp3lame"):
            stream.bit_rate = 192000
        frame = av.AudioFrame.from_ndarray(sound, format="fltp", layout=layout)
        frame.sample_rate, frame.pts = rate_hz, 0
        change = av.AudioResampler(sample_format, layout, rate_hz, frame_size=stream.frame_size or 0)
        for part in [*change.resample(frame), *change.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))


def write_vorbis(path: Path, sound: NDArray[np.float32], rate_hz: int) -> None:
    """By the reference encoder, which soundfile carries; then into another container unchanged."""
    ogg = path.with_suffix(".plain.ogg")
    with soundfile.SoundFile(ogg, "w", rate_hz, sound.shape[0], format="OGG", subtype="VORBIS") as file:
        for at in range(0, sound.shape[1], rate_hz):
            file.write(sound[:, at : at + rate_hz].T)
    with av.open(str(ogg)) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams.audio[0])
        for packet in source.demux(source.streams.audio[0]):
            if packet.dts is not None:
                packet.stream = stream
                target.mux(packet)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Maker:
    folder = tmp_path_factory.mktemp("sound")

    def make(name: str) -> Path:
        path = folder / name
        if not path.exists():
            write(path, sweep(KINDS[name][3]), KINDS[name])
        return path

    return make


def lag(part: NDArray[np.float32], whole: NDArray[np.float32], at: int, reach: int = 600) -> int:
    """Shift of `part` against `whole[at:]` that fits best, in samples."""
    errors = [np.square(part - whole[at + k : at + k + part.size]).sum() for k in range(-reach, reach + 1)]
    return int(np.argmin(errors)) - reach


@pytest.mark.parametrize("name", KINDS)
def test_time_0_is_the_first_sample_that_was_encoded(made: Maker, name: str) -> None:
    rate_hz = KINDS[name][3]
    sound, original = read_sound(made(name), 0, SECONDS * rate_hz, rate_hz=rate_hz), sweep(rate_hz)
    assert sound.shape == original.shape
    assert sound.dtype == np.float32
    late = -lag(sound[0, rate_hz : 2 * rate_hz], original[0], rate_hz)
    if name.startswith("vorbis") and name.endswith("mkv"):
        # Vorbis has a first packet of 128 samples that sounds nothing; Matroska knows no negative
        # time, so every player starts 128 samples late, to the precision of its millisecond clock.
        assert abs(late - 128) <= rate_hz // 2000
        sound, original = sound[:, late:], original[:, : original.shape[1] - late]
    else:
        assert late == 0
    # The band edges of lossy coders and their first blocks differ; the signal itself may not.
    error = float(np.sqrt(np.mean((sound - original)[:, 4096:-4096] ** 2)))
    assert error < (1e-4 if name in LOSSLESS else 0.03)


@pytest.mark.parametrize("name", KINDS)
def test_a_read_from_the_middle_is_the_same_as_a_full_decode(made: Maker, name: str) -> None:
    rate_hz = KINDS[name][3]
    whole = read_sound(made(name), 0, SECONDS * rate_hz, rate_hz=rate_hz)
    for start in (rate_hz * 2 + 17, rate_hz * 3 + 12345, rate_hz * 5 + 1, rate_hz * 8 + 777):
        part = read_sound(made(name), start, 9000, rate_hz=rate_hz)
        assert lag(part[0], whole[0], start, 60) == 0
        assert np.abs(part - whole[:, start : start + 9000]).max() < 2e-3


@pytest.mark.parametrize("name", ["pcm.wav", "free.flac", "aac.mp4", "opus.mkv", "layer3.mp3"])
def test_outside_the_file_is_silence(made: Maker, name: str) -> None:
    before = read_sound(made(name), -1000, 5000)
    assert not before[:, :1000].any()
    assert np.array_equal(before[:, 1000:], read_sound(made(name), 0, 4000))
    end = SECONDS * 48000
    after = read_sound(made(name), end - 1000, 5000)
    assert after[:, :1000].any()
    assert not after[:, 3000:].any()
    assert not read_sound(made(name), 99 * end, 100).any()
    assert read_sound(made(name), 500, 0).shape == (2, 0)


@pytest.mark.parametrize("name", ["vorbis.ogg", "layer3.mp3", "free.flac"])
def test_the_decoder_of_libsndfile_gives_the_same_samples(made: Maker, name: str) -> None:
    reference = soundfile.read(made(name), dtype="float32")[0].T
    sound = read_sound(made(name), 96001, 96000)
    assert sound == pytest.approx(reference[:, 96001:192001], abs=1e-4)


@pytest.mark.parametrize("name", ["free.mkv", "vorbis44.ogg", "aac44.m4a"])
def test_resampled_reads_fit_together_and_have_no_delay(made: Maker, name: str) -> None:
    original = sweep(48000)
    whole = read_sound(made(name), 0, 48000 * SECONDS)
    assert lag(whole[0, 96000:144000], original[0], 96000, 60) == 0
    part = read_sound(made(name), 150001, 20000)
    assert np.abs(part - whole[:, 150001:170001]).max() < 2e-3


@pytest.mark.parametrize(
    ("native_hz", "rate_hz"), [(44100, 48000), (16000, 48000), (48000, 16000), (96000, 48000)]
)
def test_resampling_keeps_a_tone_in_place_to_a_thousandth(
    tmp_path: Path, native_hz: int, rate_hz: int
) -> None:
    def tone(hz: int) -> NDArray[np.float64]:
        return 0.5 * np.sin(2 * np.pi * 1000 * np.arange(2 * hz) / hz)

    soundfile.write(tmp_path / "tone.wav", tone(native_hz), native_hz, subtype="FLOAT")
    for start in (0, 7, 12345):
        read = read_sound(tmp_path / "tone.wav", start, 8000, rate_hz=rate_hz)
        skip = 500 if start < 100 else 0  # the tone begins out of nothing
        assert read[0, skip:] == pytest.approx(tone(rate_hz)[start + skip : start + 8000], abs=1e-3)


def test_sound_that_starts_after_the_picture_keeps_its_place(tmp_path: Path) -> None:
    path = tmp_path / "late.mkv"
    with av.open(str(path), "w") as container:
        video = container.add_stream("mpeg4", rate=25)
        assert isinstance(video, av.VideoStream)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        audio = container.add_stream("pcm_s16le", rate=48000)
        assert isinstance(audio, av.AudioStream)
        audio.layout = "mono"
        for index in range(100):
            picture = av.VideoFrame.from_ndarray(np.full((48, 64, 3), index, np.uint8), format="rgb24")
            picture.pts = index
            container.mux(video.encode(picture))
            block = av.AudioFrame.from_ndarray(
                np.full((1, 1920), 8000, np.int16), format="s16", layout="mono"
            )
            block.sample_rate, block.pts, block.time_base = 48000, 24000 + 1920 * index, Fraction(1, 48000)
            container.mux(audio.encode(block))
        container.mux(video.encode(None))
        container.mux(audio.encode(None))
    sound = read_sound(path, 0, 48000)
    assert not sound[:, :24000].any()
    assert sound[:, 24000:] == pytest.approx(8000 / 32768)
    later = read_sound(path, 48000 * 4, 48000)  # the last sound ends at 4.5 s
    assert later[:, :24000] == pytest.approx(8000 / 32768)
    assert not later[:, 24000:].any()


def test_mono_is_played_on_both_sides_3_db_down() -> None:
    mono = np.ones((1, 4), np.float32)
    assert as_stereo(mono) == pytest.approx(np.full((2, 4), 0.70711), abs=1e-5)


def test_stereo_stays_and_surround_folds_by_bs_775() -> None:
    stereo = np.array([[1, 2], [3, 4]], np.float32)
    assert np.array_equal(as_stereo(stereo), stereo)
    five_one = np.array([[1], [2], [4], [100], [8], [16]], np.float32)
    folded = as_stereo(five_one)[:, 0]
    assert folded == pytest.approx([1 + 0.70711 * (4 + 8), 2 + 0.70711 * (4 + 16)], abs=1e-3)
    assert as_stereo(np.delete(five_one, 3, axis=0))[:, 0] == pytest.approx(folded)
    assert as_stereo(five_one[:3])[:, 0] == pytest.approx([1 + 0.70711 * 4, 2 + 0.70711 * 4], abs=1e-3)
    assert as_stereo(five_one[[0, 1, 4, 5]])[:, 0] == pytest.approx(
        [1 + 0.70711 * 8, 2 + 0.70711 * 16], abs=1e-3
    )


def test_analysis_takes_the_plain_mean() -> None:
    assert np.array_equal(as_mono(np.array([[1, 2], [3, 4]], np.float32)), np.array([[2, 3]], np.float32))


def test_six_channels_come_in_their_order(tmp_path: Path) -> None:
    levels = np.array([[0.1], [0.2], [0.3], [0.4], [0.5], [0.6]], np.float32)
    write(tmp_path / "six.mkv", np.repeat(levels, 9600, axis=1), ("pcm_s16le", "s16", {}, 48000))
    assert read_sound(tmp_path / "six.mkv", 100, 10) == pytest.approx(np.repeat(levels, 10, 1), abs=1e-4)


def test_a_missing_file_a_missing_stream_and_rubbish_are_told_apart(made: Maker, tmp_path: Path) -> None:
    with pytest.raises(SourceMissing, match="not there"):
        read_sound(tmp_path / "gone.wav", 0, 10)
    with pytest.raises(MediaError, match="no sound stream 1, only 1"):
        read_sound(made("aac.mp4"), 0, 10, stream=1)
    rubbish = tmp_path / "rubbish.wav"
    rubbish.write_bytes(b"no sound at all" * 100)
    with pytest.raises(MediaError, match="cannot be decoded"):
        read_sound(rubbish, 0, 10)
    silent = tmp_path / "silent.mkv"
    with av.open(str(silent), "w") as container:
        video = container.add_stream("mpeg4", rate=25)
        assert isinstance(video, av.VideoStream)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        container.mux(
            video.encode(av.VideoFrame.from_ndarray(np.zeros((48, 64, 3), np.uint8), format="rgb24"))
        )
        container.mux(video.encode(None))
    with pytest.raises(MediaError, match="no sound stream"):
        read_sound(silent, 0, 10)
