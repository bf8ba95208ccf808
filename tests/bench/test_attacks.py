"""Documents made to harm, through the whole pass. Run by name only: pytest tests/bench/test_attacks.py.

Each ends in a result or one line, in bounded time and memory; what was read stays as it was, and what is
written has no kind of fault that the document has not.
"""

from __future__ import annotations

import re
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

import mltassist
from mltassist.checking import check
from tests.cli.films import short, write

HEAD = '<?xml version="1.0"?>'
TALK = re.compile(r">media/interview/[^<]+<")
LONGEST_S = 60
MOST_MIB = 1_200


def plays(name: str) -> Callable[[str], str]:
    """The interview is another file."""
    return lambda text: TALK.sub(lambda _: f">{name}<", text)


def within(what: str, where: str = "</mlt>") -> Callable[[str], str]:
    return lambda text: text.replace(where, what + where, 1)


def every(pattern: str, by: str) -> Callable[[str], str]:
    return lambda text: re.sub(pattern, by, text)


def entity(declared: str) -> Callable[[str], str]:
    return lambda text: f"{HEAD}<!DOCTYPE mlt {declared}>" + text


ATTACKS: dict[str, Callable[[str], str | bytes]] = {
    "entities": entity('[<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;&a;">]'),
    "outer entity": entity('[<!ENTITY a SYSTEM "file:///etc/passwd">]'),
    "outer type": entity('SYSTEM "http://127.0.0.1:9/x.dtd"'),
    "type in UTF-16": lambda text: (
        HEAD.replace("?>", ' encoding="utf-16"?>') + "<!DOCTYPE mlt>" + text
    ).encode("utf-16"),
    "UTF-16": lambda text: (HEAD.replace("?>", ' encoding="utf-16"?>') + text).encode("utf-16"),
    "UTF-7": lambda text: HEAD.replace("?>", ' encoding="utf-7"?>') + text,
    "inclusion": within('<xi:include xmlns:xi="http://www.w3.org/2001/XInclude" href="/etc/passwd"/>'),
    "style sheet": lambda text: f'{HEAD}<?xml-stylesheet href="http://127.0.0.1:9/x.xsl"?>' + text,
    "endless attribute": every("<mlt", f'<mlt big="{"x" * 60_000_000}"'),
    "many attributes": every("<mlt", "<mlt " + " ".join(f'a{number}="1"' for number in range(100_000))),
    "deep": lambda _: "<mlt>" + "<a>" * 100_000 + "</a>" * 100_000 + "</mlt>",
    "wide": within("<x/>" * 1_000_000),
    "many names": within("".join(f'<x xmlns:n{number}="u{number}"/>' for number in range(50_000))),
    "endless remark": within("<!--" + "-x" * 5_000_000 + "--" + ">"),
    "no rate": every('frame_rate_num="25"', 'frame_rate_num="0"'),
    "absurd rate": every('frame_rate_num="25"', 'frame_rate_num="999999999999"'),
    "absurd picture": every(r'width="\d+" ', 'width="999999999" '),
    "gaps below zero": every(r'<blank length="[^"]+"', '<blank length="-100000"'),
    "clips before their beginning": every(r'in="\d[^"]*"', 'in="-500"'),
    "endless clips": every(r' out="\d[^"]*"', ' out="999999999"'),
    "zero byte": every(">media/", ">med\\0ia/"),
    "control letters": every(">media/", ">&#x1b;]0;x&#7;media/"),
    "plays itself": plays("attack.mlt"),
    "plays itself as a document": lambda text: re.sub(r">avformat[^<]*<", ">xml<", plays("attack.mlt")(text)),
    "links in a ring": plays("ring-a"),
    "plays a folder": plays("media"),
    "endless name": plays("d/" * 3000 + "x.mp4"),
    "plays a file of the system": plays("/etc/passwd"),
    "plays a device": plays("/dev/zero"),
    "plays a list": plays("concat:/etc/passwd|/etc/hosts"),
    "plays an address": plays("http://127.0.0.1:9/a.mp4"),
    "root in the kernel": every("<mlt", '<mlt root="/proc/self"'),
    "nothing": lambda _: b"",
    "one name for all": every(r' id="[^"]+"', ' id="a"'),
    "no UTF-8": lambda text: text.encode().replace(b">media/", b">\xff\xfemedia/"),
}
NAMES = [
    "a\nb.mlt",
    "a\u202egpj.mlt",
    "a\x1b[31m.mlt",
    "a\udcff.mlt",
    "-rf.mlt",
    "n" * 250 + ".mlt",
    "a\"'`$(x)%s.mlt",
]


def passed(path: Path, target: Path) -> tuple[int, float]:
    """The status of the pass on a document, and the seconds it took; all else is held to what is asked."""
    before, began = path.read_bytes(), resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "mltassist", "rough", "--no-look", "--no-mend", "-o", str(target), "--"]
    done = subprocess.run([*command, str(path)], check=False, capture_output=True, timeout=600)
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    told = (done.stdout + done.stderr).decode("utf-8")
    assert not [word for word in ("Traceback", "unexpected") if word in told], told[-500:]
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202e]", told)
    assert path.read_bytes() == before
    assert target.exists() == (done.returncode in (0, 1))
    assert done.returncode in (0, 1) or len(done.stderr.splitlines()) == 1
    assert ended.ru_maxrss // 1024 < MOST_MIB
    if target.exists():
        had, has = ({fault.kind for fault in check(mltassist.open(one))} for one in (path, target))
        assert has <= had
    return done.returncode, ended.ru_utime - began.ru_utime


def made(folder: Path) -> str:
    text = write(short(700), folder, "plain.mlt").read_text(encoding="utf-8")
    (folder / "ring-a").symlink_to(folder / "ring-b")
    (folder / "ring-b").symlink_to(folder / "ring-a")
    return re.sub(r' root="[^"]*"', "", text[text.index("<mlt") :])


@pytest.mark.parametrize("attack", ATTACKS)
def test_an_attack_ends_in_a_result_or_one_line(tmp_path, attack):
    data = ATTACKS[attack](made(tmp_path))
    path = tmp_path / "attack.mlt"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    status, seconds = passed(path, tmp_path / "new.mlt")
    sys.stdout.write(f"{attack}: {status} in {seconds:.1f} s\n")
    assert seconds < LONGEST_S


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have fewer names")
@pytest.mark.parametrize("name", NAMES, ids=ascii)
def test_a_name_of_any_kind_is_only_a_name(name):
    with tempfile.TemporaryDirectory() as place:  # pytest's own folder would take the test's name
        folder = Path(place)
        text = made(folder)
        (folder / name).write_text(text, encoding="utf-8")
        assert passed(folder / name, folder / "new.mlt")[0] in (0, 1)
        assert not list(folder.glob(".*.tmp"))
