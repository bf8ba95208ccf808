import errno
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from lxml import etree

from mltassist.document import leftovers
from mltassist.document import save as module
from mltassist.document.load import Document, load
from mltassist.document.save import free_name, save, save_text, serialized
from mltassist.errors import OutputError

BODY = """<!-- a note -->
  <producer id="p"><property name="resource">Fähre &amp; 東京 "1".mp4</property>
\t<property name="notes">two
lines &#13; and a <![CDATA[<b>]]></property><property name="empty"/></producer>"""
PROFILE = '<profile frame_rate_num="25" frame_rate_den="1"/>'
FLUSHED = os.fsync


@pytest.fixture(autouse=True)
def _the_disk_is_waited_for(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(os, "fsync", FLUSHED)


def canonical(path: Path) -> bytes:
    return etree.tostring(load(path).tree, method="c14n")


@pytest.mark.parametrize(
    ("declaration", "encoding", "ending"),
    [
        ('<?xml version="1.0" encoding="utf-8"?>', "utf-8", "\n"),
        ("<?xml version='1.0' encoding='utf-8'?>", "utf-8", ""),
        ('<?xml version="1.0" standalone="no"?>', "utf-8", "\n"),
        ('<?xml version="1.0" encoding="UTF-8" standalone="yes"?>', "utf-8-sig", "\n"),
        ('<?xml version="1.0" encoding="UTF-16"?>', "utf-16", "\n"),
        ('<?xml version="1.0" encoding="ISO-8859-1"?>', "latin-1", "\n"),
        ("", "utf-8", "\n"),
    ],
)
def test_saving_unchanged_changes_nothing(tmp_path: Path, declaration: str, encoding: str, ending: str):
    body = BODY.replace("東京", "&#26481;&#20140;") if encoding == "latin-1" else BODY
    text = f"{declaration}\n<mlt>{PROFILE}{body}</mlt>{ending}".lstrip("\n")
    source = tmp_path / "film.mlt"
    source.write_bytes(text.encode(encoding))
    target = save(load(source), tmp_path / "film-rough.mlt")
    assert canonical(target) == canonical(source)
    again = target.read_bytes().decode(encoding)
    assert again.startswith(declaration or "<mlt>")
    assert again.endswith("</mlt>" + ending)
    assert "<![CDATA[<b>]]>" in again
    # Saving what was saved is the same to the byte.
    assert serialized(load(target)) == target.read_bytes()


@pytest.mark.parametrize("encoding", ["", "utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_line_ends_are_those_of_the_original(tmp_path: Path, encoding: str):
    name = encoding.removesuffix("-sig")
    declaration = f'<?xml version="1.0" encoding="{name}"?>\n' if encoding else ""
    text = f'{declaration}<mlt>\n {PROFILE}\n <producer id="é">\n\n<a>&#13;</a></producer>\n</mlt>\n'
    for ends in ("\n", "\r\n"):
        source = tmp_path / "film.mlt"
        source.write_bytes(text.replace("\n", ends).encode(encoding or "utf-8"))
        assert save(load(source), tmp_path / "new.mlt", force=True).read_bytes() == source.read_bytes()


def test_mixed_line_ends_become_those_that_most_lines_have(tmp_path: Path):
    source = tmp_path / "film.mlt"
    source.write_bytes(f"<mlt>\r\n{PROFILE}\n</mlt>\r\n".encode())
    assert b"/>\r\n<" in serialized(load(source))
    source.write_bytes(f"<mlt>\n{PROFILE}\r\n</mlt>\n".encode())
    assert b"\r" not in serialized(load(source))


def test_an_old_document_with_an_unbound_prefix_survives(tmp_path: Path):
    source = tmp_path / "old.kdenlive"
    source.write_text(f'<mlt>{PROFILE}<playlist id="main bin" kdenlive:customeffects="&lt;x/>&#xa;"/></mlt>')
    target = save(load(source).copy(), tmp_path / "new.kdenlive")
    assert load(target).root[1].attrib == load(source).root[1].attrib
    assert canonical(target) == canonical(source)


# --- never over the project that was read ---------------------------------------------------------


def aliases(path: Path) -> dict[str, Path]:
    hard, soft, folder = path.with_name("hard.mlt"), path.with_name("soft.mlt"), path.parent.parent / "link"
    os.link(path, hard)
    soft.symlink_to(path)
    folder.symlink_to(path.parent)
    return {
        "same": path,
        "dots": path.parent / ".." / path.parent.name / path.name,
        "relative": Path(os.path.relpath(path)),
        "hard link": hard,
        "symbolic link": soft,
        "linked folder": folder / path.name,
    }


@pytest.mark.parametrize("name", ["same", "dots", "relative", "hard link", "symbolic link", "linked folder"])
def test_the_project_is_not_written_over_under_any_name(project: Callable[..., Document], name: str):
    document = project()
    before = document.path.read_bytes()
    target = aliases(document.path)[name]
    document.root.set("title", "changed")
    with pytest.raises(OutputError, match="is the project that was read"):
        save(document, target, force=True)
    assert document.path.read_bytes() == before


def test_letter_case_is_left_to_the_file_system(project: Callable[..., Document], monkeypatch):
    document = project()
    other = document.path.with_name("FILM.MLT")
    other.write_text("other")
    monkeypatch.setattr(Path, "samefile", lambda *_: True)  # as a disk that ignores case answers
    with pytest.raises(OutputError, match="is the project that was read"):
        save(document, other, force=True)
    assert other.read_text() == "other"


def test_the_project_s_name_stays_protected_after_the_file_is_gone(project: Callable[..., Document]):
    document = project()
    document.path.unlink()
    with pytest.raises(OutputError, match="is the project that was read"):
        save(document, document.path)


# --- other refusals -------------------------------------------------------------------------------


def test_an_existing_file_is_replaced_only_when_permitted(project: Callable[..., Document]):
    document = project()
    target = document.path.with_name("other.mlt")
    target.write_text("old")
    with pytest.raises(OutputError, match="exists already"):
        save(document, target)
    assert target.read_text() == "old"
    save(document, target, force=True)
    assert canonical(target) == canonical(document.path)


def test_a_dangling_link_counts_as_existing(project: Callable[..., Document]):
    document = project()
    target = document.path.with_name("other.mlt")
    target.symlink_to("nowhere")
    with pytest.raises(OutputError, match="exists already"):
        save(document, target)


def test_a_folder_a_missing_folder_and_a_file_as_folder_are_refused(project: Callable[..., Document]):
    document = project()
    with pytest.raises(OutputError, match="is a folder"):
        save(document, document.path.parent, force=True)
    with pytest.raises(OutputError, match="folder does not exist"):
        save(document, document.path.parent / "none" / "x.mlt")
    with pytest.raises(OutputError):
        save(document, document.path / "x.mlt")
    with pytest.raises(OutputError):
        save(document, document.path.with_name("x" * 400 + ".mlt"))
    with pytest.raises(OutputError):
        save(document, document.path.with_name("a\0b"))


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_write_permission_is_refused(project: Callable[..., Document], tmp_path: Path):
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o500)
    with pytest.raises(OutputError, match="cannot be written"):
        save(project(), folder / "x.mlt")


# --- all or nothing -------------------------------------------------------------------------------


@pytest.mark.parametrize("call", ["replace", "fsync"])
@pytest.mark.parametrize("failure", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failed_save_leaves_no_trace(
    project: Callable[..., Document], monkeypatch, call: str, failure: BaseException
):
    document = project()
    target = document.path.with_name("other.mlt")
    target.write_text("old")

    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr(module.os, call, fail)
    expected = OutputError if isinstance(failure, OSError) else KeyboardInterrupt
    with pytest.raises(expected, match="No space left" if expected is OutputError else None):
        save(document, target, force=True)
    assert target.read_text() == "old"
    assert sorted(path.name for path in target.parent.iterdir()) == ["film.mlt", "other.mlt"]


@pytest.mark.parametrize("failing", ["film.ass", "other.ass", "other.mlt"])
@pytest.mark.parametrize("failure", [OSError(errno.ENOSPC, "No space left on device"), KeyboardInterrupt()])
def test_a_failed_save_leaves_nothing_of_what_lies_beside(
    project: Callable[..., Document], monkeypatch, failing: str, failure: BaseException
):
    document = project()
    folder = document.path.parent
    (folder / "film.ass").write_text("old")
    real = os.replace

    def fail(temporary: Path, target: Path) -> None:
        if target.name == failing:
            raise failure
        real(temporary, target)

    monkeypatch.setattr(module.os, "replace", fail)
    beside = {folder / "film.ass": "new", folder / "other.ass": "new"}
    expected = OutputError if isinstance(failure, OSError) else KeyboardInterrupt
    with pytest.raises(expected, match=failing if expected is OutputError else None):
        save(document, folder / "other.mlt", beside=beside, force=True)
    assert sorted(path.name for path in folder.iterdir()) == ["film.ass", "film.mlt"]
    assert (folder / "film.ass").read_text() == "old"


def test_what_lies_beside_is_refused_before_anything_is_written(project: Callable[..., Document]):
    document = project()
    folder = document.path.parent
    (folder / "other.ass").write_text("old")
    with pytest.raises(OutputError, match=r"other\.ass: exists already"):
        save(document, folder / "new.mlt", beside={folder / "new.ass": "new", folder / "other.ass": "new"})
    assert sorted(path.name for path in folder.iterdir()) == ["film.mlt", "other.ass"]


def test_a_folder_that_cannot_be_flushed_is_no_failure(project: Callable[..., Document], monkeypatch):
    document = project()
    real, calls = os.fsync, []

    def fsync(handle: int) -> None:
        calls.append(handle)
        if len(calls) > 1:
            raise OSError(errno.EINVAL, "Invalid argument")
        real(handle)

    monkeypatch.setattr(module.os, "fsync", fsync)
    target = save(document, document.path.with_name("other.mlt"))
    assert canonical(target) == canonical(document.path)
    assert len(calls) == (2 if os.name == "posix" else 1)


@pytest.mark.skipif(os.name != "posix", reason="permissions of posix")
def test_a_new_project_is_as_readable_as_any_new_file(project: Callable[..., Document]):
    document = project()
    target = save(document, document.path.with_name("other.mlt"))
    assert target.stat().st_mode == document.path.stat().st_mode


# --- free names -----------------------------------------------------------------------------------


def test_the_first_free_name_is_taken(tmp_path: Path):
    film = tmp_path / "my.film.mlt"
    names = []
    for _ in range(3):
        name = free_name(film)
        name.touch()
        names.append(name.name)
    assert names == ["my.film-rough.mlt", "my.film-rough-2.mlt", "my.film-rough-3.mlt"]
    assert free_name(film, "-list", ".csv") == tmp_path / "my.film-list.csv"
    assert free_name(film, extension="").name == "my.film-rough"


# --- only regular files are replaced --------------------------------------------------------------


def pipe(path: Path) -> Path:
    os.mkfifo(path)
    return path


def link_to(target: str) -> Callable[[Path], Path]:
    def make(path: Path) -> Path:
        path.symlink_to(target)
        return path

    return make


ODD = {
    "pipe": pipe,
    "link to a device": link_to("/dev/null"),
    "link to nothing": link_to("nowhere"),
    "link to a folder": link_to("."),
}


@pytest.mark.skipif(os.name != "posix", reason="pipes and devices of posix")
@pytest.mark.parametrize("kind", ODD)
def test_only_a_file_or_a_link_to_one_is_ever_replaced(project: Callable[..., Document], kind: str):
    document = project()
    target = ODD[kind](document.path.with_name("other.mlt"))
    before = target.lstat()
    for write in (
        lambda: save(document, target, force=True),
        lambda: save_text("plan", target, original=document.path, force=True),
        lambda: save(document, target.with_name("new.mlt"), beside={target: "lines"}, force=True),
    ):
        with pytest.raises(OutputError, match=r"is no file that can be replaced|is a folder"):
            write()
    assert target.lstat() == before
    assert sorted(path.name for path in target.parent.iterdir()) == ["film.mlt", "other.mlt"]


@pytest.mark.skipif(os.name != "posix", reason="pipes of posix")
def test_what_became_a_pipe_while_it_was_written_is_not_replaced(
    project: Callable[..., Document], monkeypatch
):
    document = project()
    target = document.path.with_name("other.mlt")
    target.write_text("old")

    def fsync(_: int) -> None:
        target.unlink()
        os.mkfifo(target)

    monkeypatch.setattr(module.os, "fsync", fsync)
    with pytest.raises(OutputError, match="is no file that can be replaced"):
        save(document, target, force=True)
    assert target.is_fifo()


def test_a_link_to_a_file_is_replaced_and_the_file_kept(project: Callable[..., Document]):
    document = project()
    kept, target = document.path.with_name("kept.mlt"), document.path.with_name("other.mlt")
    kept.write_text("old")
    target.symlink_to(kept)
    save(document, target, force=True)
    assert kept.read_text() == "old"
    assert canonical(target) == canonical(document.path)


@pytest.mark.parametrize("linking", [True, False])
def test_of_two_runs_that_save_one_name_only_one_is_told_that_it_wrote(
    project: Callable[..., Document], monkeypatch, linking: bool
):
    document = project()
    target = document.path.with_name("other.mlt")

    def fsync(_: int) -> None:
        if not target.exists():
            target.write_text("the other run's")

    def link(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, "this disk has no hard links")

    monkeypatch.setattr(module.os, "fsync", fsync)
    if not linking:
        monkeypatch.setattr(module.os, "link", link)
    with pytest.raises(OutputError, match="exists already"):
        save(document, target)
    assert target.read_text() == "the other run's"
    assert sorted(path.name for path in target.parent.iterdir()) == ["film.mlt", "other.mlt"]
    # Where nobody else wants the name, a disk without hard links takes the file as well.
    assert save(document, target.with_name("third.mlt")).exists()


# --- what killed runs left ------------------------------------------------------------------------


def test_the_next_run_sweeps_what_a_killed_run_left(project: Callable[..., Document]):
    document = project()
    folder = document.path.parent
    killed = subprocess.Popen([sys.executable, "-c", ""])
    killed.wait()
    gone, alive = killed.pid, os.getpid()

    def left(number: int, owner: str, age_s: float) -> str:
        path = folder / f".mltassist-{owner}-{number}-0123456789abcdef.tmp"
        path.write_text("half")
        then = time.time() - age_s
        os.utime(path, (then, then))
        return path.name

    here = leftovers.machine()
    swept = {left(gone, here, 60), left(alive, "0" * 8, 2 * 86400)}
    kept = {left(alive, here, 2 * 86400), left(gone, "0" * 8, 3600)}
    for name in (".0123456789abcdef.tmp", ".mltassist-notes.tmp"):
        (folder / name).write_text("somebody's")
        os.utime(folder / name, (0, 0))
        kept.add(name)
    save(document, folder / "new.mlt")
    names = {path.name for path in folder.iterdir()}
    assert not swept & names
    assert names == kept | {"film.mlt", "new.mlt"}


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL and pipes of posix")
def test_a_run_killed_while_it_writes_leaves_the_old_file_and_nothing_after_the_next(tmp_path: Path):
    film, target = tmp_path / "film.mlt", tmp_path / "other.mlt"
    film.write_text(f"<mlt>{PROFILE}</mlt>")
    target.write_text("old")
    code = """
import os, sys
from mltassist.document import save
from mltassist.document.load import load
save.os.fsync = lambda _: os.kill(os.getpid(), 9)
save.save(load(sys.argv[1]), sys.argv[2], force=True)
"""
    subprocess.run([sys.executable, "-c", code, film, target], check=False)
    assert target.read_text() == "old"
    (left,) = tmp_path.glob(".mltassist-*.tmp")
    os.utime(left, (0, 0))
    save(load(film), target, force=True)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["film.mlt", "other.mlt"]
