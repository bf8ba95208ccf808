"""Writing a project as a new file: whole or not at all, and never over the one that was read."""

from __future__ import annotations

import codecs
import contextlib
import os
import re
from collections.abc import Mapping
from pathlib import Path

from lxml import etree

from mltassist.document.leftovers import sweep, temporary_name
from mltassist.document.load import Document
from mltassist.errors import OutputError
from mltassist.files import here


def save(
    document: Document,
    target: Path | str,
    *,
    beside: Mapping[Path, str] | None = None,
    force: bool = False,
) -> Path:
    """Write `document` to `target` and return that path.

    The XML declaration, encoding and line ends are those of the file that was read. `beside`: text of
    other files that belong to it; either all are written, or none. `force` permits other existing files to
    be replaced, never the document's own, under any of its names. A crash leaves either the old file or
    the new one, whole.

    Raises OutputError when one of them may not or cannot be written.
    """
    target = Path(target)
    files = {path: text.encode("utf-8") for path, text in (beside or {}).items()}
    for path in (target, *files):
        permit(document.path, path, force=force)
    _write({**files, target: serialized(document)}, force=force)
    return target


def save_text(text: str, target: Path | str, *, original: Path, force: bool = False) -> Path:
    """Write text (a plan, a sheet) as carefully as a document: whole, and never over the original."""
    target = Path(target)
    permit(original, target, force=force)
    _write({target: text.encode("utf-8")}, force=force)
    return target


def replace_text(text: str, target: Path) -> None:
    """Write text in place of what a file of ours holds: a crash leaves the old one or the new one, whole."""
    _write({target: text.encode("utf-8")}, force=True)


def serialized(document: Document) -> bytes:
    """The document's bytes in the form in which it was read."""
    form = document.form
    if form.encoding.lower() in ("utf-8", "utf8"):
        return _in_utf8(document)
    text: str = etree.tostring(document.tree, encoding="unicode")
    declaration, encoding = form.declaration, form.encoding
    try:
        codecs.lookup(encoding)
    except LookupError:
        declaration, encoding = re.sub(r"(encoding\s*=\s*.)[^\"']+", r"\1utf-8", declaration), "utf-8"
    opening = declaration + "\n" if declaration else ""
    mark = "\ufeff" if form.marked else ""
    ending = "\n" if form.newline_at_end else ""
    whole = mark + opening + text.rstrip("\n") + ending
    return whole.replace("\n", form.line_end).encode(encoding, "xmlcharrefreplace")


def _in_utf8(document: Document) -> bytes:
    """`serialized` for the encoding that documents have: no text is made on the way."""
    form = document.form
    opening = (form.declaration + "\n").encode() if form.declaration else b""
    mark = codecs.BOM_UTF8 if form.marked else b""
    data: bytes = etree.tostring(document.tree, encoding="utf-8", xml_declaration=False)
    whole = b"".join((mark, opening, data.rstrip(b"\n"), b"\n" if form.newline_at_end else b""))
    return whole if form.line_end == "\n" else whole.replace(b"\n", form.line_end.encode())


def free_name(path: Path | str, suffix: str = "-rough", extension: str | None = None) -> Path:
    """The first free name beside `path`: NAME-rough.ext, NAME-rough-2.ext, NAME-rough-3.ext ...

    `extension` includes its dot; None keeps that of `path`.
    """
    path = Path(path)
    ending = path.suffix if extension is None else extension
    candidate = path.with_name(f"{path.stem}{suffix}{ending}")
    number = 2
    while os.path.lexists(candidate):
        candidate = path.with_name(f"{path.stem}{suffix}-{number}{ending}")
        number += 1
    return candidate


def permit(original: Path, target: Path, *, force: bool = False) -> None:
    """Raise OutputError unless `target` may be written: not the original, free (or `force`), in a folder.

    `force` permits to replace a regular file or a link to one: never a pipe, a device, a link to nothing.
    """
    original, target = here(original), here(target)
    try:
        if _same_file(original, target):
            raise OutputError(target, "is the project that was read", "choose another name")
        if target.is_dir():
            raise OutputError(target, "is a folder", "name a file inside it")
        if os.path.lexists(target):
            _permit_replacing(target, force=force)
        if not target.parent.is_dir():
            raise OutputError(target, "its folder does not exist", "make the folder or choose another")
    except OutputError:
        raise
    except (OSError, ValueError, RuntimeError) as error:  # RuntimeError: a loop of links
        raise OutputError(target, f"is not a usable name ({error})", "choose another") from None


def _same_file(one: Path, other: Path) -> bool:
    """True for one file under two names: links, ``..``, letter case where the disk ignores it."""
    if os.path.normcase(one.resolve()) == os.path.normcase(other.resolve()):
        return True
    # The file system's own answer covers hard links and disks that ignore letter case.
    return one.exists() and other.exists() and one.samefile(other)


def _permit_replacing(target: Path, *, force: bool) -> None:
    if not force:
        raise OutputError(target, "exists already", "choose another name, or use --force")
    if not target.is_file():
        raise OutputError(target, "is no file that can be replaced", "choose another name")


def _write(files: Mapping[Path, bytes], *, force: bool) -> None:
    """Write all of the files, in order, or none. Raises OutputError."""
    files = {here(target): data for target, data in files.items()}
    for folder in {target.parent for target in files}:
        sweep(folder)
    temporaries = {target: temporary_name(target) for target in files}
    replaced: dict[Path, bytes | None] = {}
    target = Path()
    try:
        for target, data in files.items():
            with temporaries[target].open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        *companions, last = files
        for target in companions:
            old = target.read_bytes() if target.is_file() else None
            _place(temporaries[target], target, force=force)
            replaced[target] = old
        _place(temporaries[target := last], last, force=force)
    except BaseException as error:
        with contextlib.suppress(OSError):
            for temporary in temporaries.values():
                temporary.unlink(missing_ok=True)
            for path, old in replaced.items():
                path.unlink() if old is None else path.write_bytes(old)
        if not isinstance(error, OSError) or isinstance(error, OutputError):
            raise
        why = f"cannot be written ({error.strerror or error})"
        raise OutputError(target, why, "choose another folder or name") from error
    if os.name == "posix":
        # The files are in place; some file systems cannot flush a folder, which is no failure.
        with contextlib.suppress(OSError):
            _flush_folder(last.parent)


def _place(temporary: Path, target: Path, *, force: bool) -> None:
    """Give a written file its name, which another run may have taken since it was permitted."""
    if os.path.lexists(target):
        _permit_replacing(target, force=force)
    elif not force:
        try:
            os.link(temporary, target)  # unlike a renaming, it never replaces
        except FileExistsError:
            _permit_replacing(target, force=False)
        except OSError:
            pass  # a disk without hard links: what was looked at just now has to do
        else:
            temporary.unlink()
            return
    os.replace(temporary, target)  # noqa: PTH105 - the atomic call, as the manuals name it


def _flush_folder(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
