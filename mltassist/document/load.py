"""Reading a project: bytes in, a checked tree and the project's frame rate out.

A first pass with expat builds nothing and refuses what no real project has (a DOCTYPE, absurd size)
before the tree is made; absurd depth is refused at the latest when it is. It knows no namespaces, so
it also says whether a document whose only fault is an unbound prefix is otherwise whole.
"""

from __future__ import annotations

import contextlib
import copy
import re
import stat
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.parsers import expat

from lxml import etree

from mltassist.document.values import number
from mltassist.errors import HostileDocument, NotAProject, ProjectError
from mltassist.files import here
from mltassist.frames import Rate

MAX_BYTES = 256 * 1024 * 1024
_MAX_DEPTH = 256
"""What the parser itself permits as long as it is not told that a document is huge."""
MAX_ELEMENTS = 5_000_000

LONGEST_S = 24 * 3600
"""Timecode counts a day and begins anew (SMPTE ST 12-1): what lies beyond could not be named."""
LONGEST_FRAMES = LONGEST_S * 120
"""The same at the highest rate of a programme (ITU-R BT.2020), whatever rate a document claims."""
_SLOWEST, _FASTEST = 1, 1000
"""Frames a second: the slowest and the quickest video mode that an editor lets one choose lie well within."""

_ROOTS = ("mlt", "westley")  # westley: the root's name in documents of the engine's early years
_BROADCAST = (Fraction(24000, 1001), Fraction(30000, 1001), Fraction(60000, 1001))
# Faults of an unbound prefix, after which the recovering parser keeps every name as it is written.
_HARMLESS = {"NS_ERR_UNDEFINED_NAMESPACE", "NS_ERR_QNAME", "NS_ERR_COLON"}
_ASCII_AS_IT_IS = frozenset(
    (b"utf-8", b"utf8", b"us-ascii", b"ascii", b"iso-8859-1", b"iso-8859-15", b"latin1", b"windows-1252")
)
_TOO_DEEP = etree.XPath(f"boolean({'/*' * (_MAX_DEPTH + 1)})")
_DECLARATION = re.compile(r"<\?xml\s[^>]*\?>")
_ENCODING = re.compile(r"encoding\s*=\s*[\"']([^\"']+)")
_ENCODING_IN_BYTES = re.compile(rb"(?:\xef\xbb\xbf)?<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._-]+)")


@dataclass(frozen=True, slots=True)
class Form:
    """How the file was written, so that it can be written in the same way.

    declaration: the XML declaration as it stood, empty when there was none.
    encoding: name of the encoding, as declared or as the byte order mark shows.
    marked: True when a UTF-8 file began with a byte order mark (UTF-16 always does).
    newline_at_end: True when the last character was a line end.
    line_end: what most lines end with.
    """

    declaration: str = ""
    encoding: str = "utf-8"
    marked: bool = False
    newline_at_end: bool = True
    line_end: str = "\n"


@dataclass
class Document:
    """A project as it was read. `width` and `height` are picture pixels, 0 where not given.

    sequence: name of the edit to work on where the document holds several; "" for the open one.
    companions: text of files that go with the document when it is written, by the name it uses.
    unmoved: what could not be read, and so did not move with the film: what it is, and what to do about it.
    """

    path: Path
    tree: etree._ElementTree
    rate: Rate
    width: int = 0
    height: int = 0
    form: Form = field(default_factory=Form)
    sequence: str = ""
    companions: dict[str, str] = field(default_factory=dict)
    unmoved: dict[str, str] = field(default_factory=dict)

    @property
    def root(self) -> etree._Element:
        """The ``<mlt>`` element."""
        return self.tree.getroot()

    @property
    def shape(self) -> Fraction:
        """Width by height of the picture as it is shown (its pixels may be no squares); 0 where not told."""
        profile = self.root.find("profile")
        told = [_pixels(profile, f"display_aspect_{which}") for which in ("num", "den")]
        for wide, high in (told, (self.width, self.height)):
            if wide > 0 and high > 0 and Fraction(1, 10) <= Fraction(wide, high) <= 10:
                return Fraction(wide, high)
        return Fraction(0)

    @property
    def longest(self) -> int:
        """Frames beyond which no film and no file is taken to reach."""
        return min(self.rate.frames(LONGEST_S), LONGEST_FRAMES)

    def copy(self) -> Document:
        """The same document with a tree of its own."""
        return replace(
            self,
            tree=copy.deepcopy(self.tree),
            companions=dict(self.companions),
            unmoved=dict(self.unmoved),
        )


def load(path: Path | str) -> Document:
    """Read the project at `path`.

    Raises NotAProject (no such file, not XML, another kind of XML), HostileDocument (a DOCTYPE, more
    than MAX_BYTES, MAX_DEPTH or MAX_ELEMENTS) and ProjectError (unreadable, or without a frame rate).
    """
    path = Path(path)
    data = _read(path)
    _check_whole(path, data)
    tree = _parse(path, data)
    root = tree.getroot()
    if root.tag not in _ROOTS:
        raise NotAProject(
            path, f"an XML file of another kind, <{root.tag}>", "choose a project saved by the editor"
        )
    profile = root.find("profile")
    return Document(
        path,
        tree,
        _rate(path, profile),
        _pixels(profile, "width"),
        _pixels(profile, "height"),
        _form(data),
    )


def _read(path: Path) -> bytes:
    try:
        lies = here(path)
        found = lies.stat()
        if stat.S_ISDIR(found.st_mode):
            raise NotAProject(path, "a folder", "name the project file inside it")
        if not stat.S_ISREG(found.st_mode):
            raise NotAProject(path, "not an ordinary file", "choose a project saved by the editor")
        with lies.open("rb") as file:
            # Up to its end: to ask for the most that may come would ask for a quarter of a gigabyte.
            data = b"" if found.st_size > MAX_BYTES else file.read()
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        if isinstance(error, ProjectError):
            raise
        raise NotAProject(path, "no such file", "check the name and the folder") from None
    except OSError as error:
        raise ProjectError(path, f"cannot be read ({error.strerror})", "check its permissions") from None
    if max(found.st_size, len(data)) > MAX_BYTES:
        raise HostileDocument(path, f"larger than {MAX_BYTES >> 20} MiB", "no real project is that large")
    return data


def _check_whole(path: Path, data: bytes) -> None:
    """Refuse a broken document, one with a DOCTYPE and one that is too large, without building anything.

    Elements are counted one by one only where the file has more angle brackets than any project has;
    how deep they are nested is seen quickly in the tree, whose size is bounded by then.
    """
    if len(data) > MAX_ELEMENTS * len(b"<a/>") and data.count(b"<") > MAX_ELEMENTS:
        _inspect(path, data)
        return
    if _declares_nothing(data):
        return  # the parser itself says what else is wrong

    def doctype(*_: object) -> None:
        raise expat.ExpatError

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, LookupError, ValueError):
        _inspect(path, data)  # slower, and says what is wrong


def _declares_nothing(data: bytes) -> bool:
    """True when a document type cannot be in there: its keyword is nowhere, and could not be disguised.

    That can be told from the bytes only in encodings that write ASCII as it is.
    """
    declared = _ENCODING_IN_BYTES.match(data)
    name = declared[1].lower() if declared else b"utf-8"
    return name in _ASCII_AS_IT_IS and data[:1] in (b"<", b"\xef") and b"<!DOCTYPE" not in data


def _inspect(path: Path, data: bytes) -> None:
    """Refuse a hostile or broken document, with the reason."""
    depth = elements = 0

    def doctype(*_: object) -> None:
        raise HostileDocument(
            path, "declares a document type or entities", "save it again from the editor, which does not"
        )

    def start(_name: str, _attributes: object) -> None:
        nonlocal depth, elements
        depth += 1
        elements += 1
        if depth > _MAX_DEPTH:
            raise HostileDocument(path, f"nested deeper than {_MAX_DEPTH}", "no real project is that deep")
        if elements > MAX_ELEMENTS:
            raise HostileDocument(path, f"more than {MAX_ELEMENTS} elements", "no real project is that large")

    def end(_name: str) -> None:
        nonlocal depth
        depth -= 1

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = doctype
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise _broken(path, error.lineno, expat.ErrorString(error.code)) from None
    except (LookupError, ValueError) as error:
        if isinstance(error, ProjectError):
            raise
        raise _broken(path, 1, str(error)) from None  # an encoding that Python does not have


def _parse(path: Path, data: bytes) -> etree._ElementTree:
    # To look for what is too deep takes a quarter of the time that parsing does. What is huge for the parser
    # itself (a text of ten million letters) is parsed once more.
    with contextlib.suppress(etree.XMLSyntaxError):
        return etree.fromstring(data, _parser(huge=False)).getroottree()
    parser = _parser()
    try:
        tree = etree.fromstring(data, parser).getroottree()
        if _TOO_DEEP(tree):
            _inspect(path, data)
        return tree
    except etree.XMLSyntaxError as error:
        # The parser's own log: that of the error holds faults of other files too.
        log: Any = parser.error_log
        faults = {entry.type_name for entry in log}
        if not faults or not faults <= _HARMLESS:
            _inspect(path, data)
            raise _broken(path, error.lineno or 1, error.msg or "") from None
    # Old documents use the prefix kdenlive: without binding it. Where the inspection finds the document
    # whole, recovering loses nothing.
    _inspect(path, data)
    return etree.fromstring(data, _parser(recover=True)).getroottree()


def _parser(*, recover: bool = False, huge: bool = True) -> etree.XMLParser:
    return etree.XMLParser(
        recover=recover,
        resolve_entities=False,
        load_dtd=False,
        no_network=True,
        strip_cdata=False,
        huge_tree=huge,  # depth and size are bounded above; pictures inside titles can be large
    )


def _broken(path: Path, line: int, what: str) -> NotAProject:
    reason = what.partition(", line ")[0]
    return NotAProject(
        path,
        f"not well-formed XML at line {line}: {reason}",
        "name the editor's own document; if this is it, restore a backup or save it again from the editor",
    )


def _rate(path: Path, profile: etree._Element | None) -> Rate:
    parts = [] if profile is None else [profile.get(f"frame_rate_{part}", "") for part in ("num", "den")]
    values = [_number(part) for part in parts]
    if not all(values) or not values:
        raise ProjectError(
            path, "has no frame rate", "open it in the editor, choose a video mode and save it again"
        )
    value = values[0] / values[1]
    if any(part.denominator > 1 for part in values):
        # 29.97 and 23.98 are roundings of the broadcast rates, never rates of their own.
        near = [known for known in _BROADCAST if abs(known - value) < Fraction(1, 200)]
        value = near[0] if near else value
    if not _SLOWEST <= value <= _FASTEST:
        raise HostileDocument(
            path,
            f"{float(value):g} frames a second",
            f"no film has less than {_SLOWEST} or more than {_FASTEST}: choose a video mode in the editor",
        )
    return Rate(value.numerator, value.denominator)


def _number(text: str) -> Fraction:
    """A decimal number with a point or comma; 0 for anything else, or less."""
    return max(Fraction(0), number(text) or Fraction(0))


def _pixels(profile: etree._Element | None, name: str) -> int:
    return 0 if profile is None else int(_number(profile.get(name, "")))


def _form(data: bytes) -> Form:
    wide = {b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16", b"<\0": "utf-16-le", b"\0<": "utf-16-be"}
    encoding = wide.get(data[:2], "")
    marked = data.startswith(b"\xef\xbb\xbf")
    head = data[:400].decode(encoding or "latin-1", "replace")
    head = head[3:] if marked else head
    found = _DECLARATION.match(head)
    declaration = found[0] if found else ""
    declared = _ENCODING.search(declaration)
    return Form(
        declaration,
        declared[1] if declared and not encoding else encoding or "utf-8",
        marked,
        data.rstrip(b"\0")[-1:] == b"\n",
        "\r\n" if b"\r" in data and _mostly_crlf(data, encoding) else "\n",
    )


def _mostly_crlf(data: bytes, encoding: str) -> bool:
    return 2 * _count(data, "\r\n", encoding) > _count(data, "\n", encoding)


def _count(data: bytes, text: str, encoding: str) -> int:
    """How often a text stands in bytes of this wide encoding; "" for one that writes ASCII as it is."""
    if encoding == "utf-16":
        encoding += "-le" if data.startswith(b"\xff\xfe") else "-be"
    return data.count(text.encode(encoding or "ascii"))
