"""Media opened by name: as local files of known kinds, whatever a document calls them.

The decoder takes a name for an address where it looks like one (``http:``, ``concat:``, ``data:``), and
formats for lists of further files. Here a name is a path, the only protocol is that of files, and a
format that names other files (playlists, lists of parts, session descriptions, drawings) is none of ours.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from mltassist.errors import MediaError, SourceMissing
from mltassist.files import NotOrdinary, ordinary

if TYPE_CHECKING:
    from av.container import InputContainer

_CONTAINERS = (
    *("mov", "mp4", "matroska", "webm", "avi", "mxf", "mpegts", "mpeg", "asf", "flv", "gxf", "lxf", "nut"),
    *("ogg", "wav", "w64", "aiff", "caf", "au", "flac", "mp3", "aac", "loas", "ac3", "eac3", "dts", "dtshd"),
    *("truehd", "mlp", "wv", "ape", "tta", "tak", "mpc", "mpc8", "amr", "dsf", "iff", "oma", "shn", "voc"),
    *("dv", "h264", "hevc", "vvc", "av1", "obu", "ivf", "m4v", "mpegvideo", "h261", "h263", "vc1", "dnxhd"),
    *("mjpeg", "yuv4mpegpipe", "cine", "rm", "wtv", "r3d", "dirac"),
)
_PICTURES = (
    *("gif", "apng", "ico", "image2", "webp_pipe", "png_pipe", "jpeg_pipe", "jpegls_pipe", "j2k_pipe"),
    *("jpegxl_pipe", "jpegxl_anim", "tiff_pipe", "bmp_pipe", "dpx_pipe", "exr_pipe", "hdr_pipe", "psd_pipe"),
    *("sgi_pipe", "sunrast_pipe", "ppm_pipe", "pgm_pipe", "pbm_pipe", "pam_pipe", "pcx_pipe", "dds_pipe"),
    *("qoi_pipe", "xpm_pipe", "xbm_pipe", "gif_pipe", "pfm_pipe", "cri_pipe"),
)
_AS_FILE = "file:"
_OPTIONS = {
    "protocol_whitelist": "file",
    "format_whitelist": ",".join((*_CONTAINERS, *_PICTURES)),
    "pattern_type": "none",  # a % in the name of a picture is part of the name
}


def ordinary_media(path: Path) -> os.stat_result:
    """The state of an ordinary file. Raises SourceMissing where nothing is, MediaError for anything else."""
    try:
        return ordinary(path)
    except NotOrdinary as problem:
        raise MediaError(path, f"{problem.strerror}; relink the clip to a file") from None
    except OSError as problem:
        if isinstance(problem, PermissionError):
            raise MediaError(path, f"it cannot be seen ({problem.strerror}); check its rights") from None
        raise SourceMissing(path, "the file is not there; relink the clip or bring the file back") from None


_MOST_PIXELS = 200_000_000
"""Of one picture: 16K cinema has 133 million, the largest camera backs 150."""
_MOST_CHANNELS = 128
"""Of one stream: ambisonics of the tenth order has 121."""
_MOST_HZ = 768_000
"""The highest rate of samples in use; sound of one bit is decoded at 352.8 kHz and twice as much."""


def believable(path: Path, *, width: int = 0, height: int = 0, channels: int = 0, rate_hz: int = 0) -> None:
    """Refuse what no camera or recorder writes, before memory is asked for it. 0: not said.

    Raises MediaError.
    """
    told = ""
    if width * height > _MOST_PIXELS:
        told = f"a picture of {width} x {height} pixels"
    elif channels > _MOST_CHANNELS:
        told = f"{channels} channels of sound"
    elif rate_hz > _MOST_HZ:
        told = f"{rate_hz} samples a second"
    if told:
        raise MediaError(path, f"it says that it has {told}: it is damaged, or too large; convert it first")


def open_media(path: Path) -> InputContainer:
    """The container of a media file, to be closed by the caller.

    Raises SourceMissing, MediaError for what is no ordinary file, of no known kind or not to be believed,
    and av.error.FFmpegError where it is damaged.
    """
    import av  # noqa: PLC0415 - heavy, and not wanted where results are remembered

    ordinary_media(path)
    try:
        container = av.open(_AS_FILE + str(path.absolute()), options=_OPTIONS, metadata_errors="replace")
    except av.error.ArgumentError:  # what the decoder answers about formats that are none of ours
        raise MediaError(path, "it is no recording or picture of a known kind; convert it first") from None
    try:
        # A stream of no known codec has no context.
        for picture in filter(None, (stream.codec_context for stream in container.streams.video)):
            believable(path, width=picture.width, height=picture.height)
        for sound in filter(None, (stream.codec_context for stream in container.streams.audio)):
            believable(path, channels=sound.channels, rate_hz=sound.sample_rate)
    except MediaError:
        container.close()
        raise
    return container


def path_of(container: InputContainer) -> Path:
    """The file of a container that `open_media` gave."""
    return Path(container.name.removeprefix(_AS_FILE))
