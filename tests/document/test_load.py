"""Reading projects. Attacks after the public lists (OWASP XXE sheet, CWE-611, CWE-776)."""

import time
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree

from mltassist.document import load as module
from mltassist.document.load import load
from mltassist.errors import HostileDocument, MltAssistError, NotAProject, ProjectError
from mltassist.frames import Rate

PROFILE = '<profile width="1920" height="1080" frame_rate_num="30000" frame_rate_den="1001"/>'
MARKER = "the-marker-text"


def write(path: Path, data: str | bytes) -> Path:
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return path


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "film.mlt"


def laughs(levels: int) -> str:
    entities = ['<!ENTITY a0 "ha">']
    entities += [f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, levels)]
    return f"<!DOCTYPE mlt [{''.join(entities)}]><mlt>{PROFILE}&a{levels - 1};</mlt>"


HOSTILE = {
    "billion laughs": laughs(10),
    "quadratic blowup": f'<!DOCTYPE mlt [<!ENTITY a "{"x" * 100_000}">]><mlt>{"&a;" * 20_000}</mlt>',
    "external entity": f'<!DOCTYPE mlt [<!ENTITY x SYSTEM "SECRET">]><mlt>{PROFILE}<p>&x;</p></mlt>',
    "remote DTD": f'<!DOCTYPE mlt SYSTEM "http://192.0.2.1/mlt.dtd"><mlt>{PROFILE}</mlt>',
    "public DTD": f'<!DOCTYPE mlt PUBLIC "-//x//y" "http://192.0.2.1/mlt.dtd"><mlt>{PROFILE}</mlt>',
    "parameter entity": f'<!DOCTYPE mlt [<!ENTITY % p SYSTEM "SECRET"> %p;]><mlt>{PROFILE}</mlt>',
    "bare DOCTYPE": f"<!DOCTYPE mlt><mlt>{PROFILE}</mlt>",
    "default attributes": f'<!DOCTYPE mlt [<!ATTLIST mlt root CDATA "/etc">]><mlt>{PROFILE}</mlt>',
    "deep nesting": "<mlt>" + "<a>" * 257 + "</a>" * 257 + "</mlt>",
    "very deep nesting": "<a>" * 1_000_000,
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_document_is_refused_at_once(file: Path, name: str, encoding: str):
    secret = write(file.with_name("secret.txt"), MARKER)
    write(file, HOSTILE[name].replace("SECRET", secret.as_uri()).encode(encoding))
    started = time.monotonic()
    with pytest.raises(HostileDocument) as caught:
        load(file)
    assert time.monotonic() - started < 2
    assert MARKER not in str(caught.value)
    assert str(file) in str(caught.value)


def test_xinclude_is_never_followed(file: Path):
    secret = write(file.with_name("secret.txt"), MARKER)
    include = f'<i:include xmlns:i="http://www.w3.org/2001/XInclude" href="{secret.as_uri()}" parse="text"/>'
    write(file, f"<mlt>{PROFILE}{include}</mlt>")
    assert MARKER not in etree.tostring(load(file).tree, encoding="unicode")


def test_a_doctype_as_mere_text_is_no_offence(file: Path):
    write(file, f'<mlt>{PROFILE}<property name="n"><![CDATA[<!DOCTYPE html>]]></property></mlt>')
    assert load(file).root.findtext("property") == "<!DOCTYPE html>"


def test_more_bytes_or_elements_than_any_project_has_are_refused(file: Path, monkeypatch):
    write(file, f"<mlt>{PROFILE}{'<a/>' * 50}</mlt>")
    assert len(load(file).root) == 51
    monkeypatch.setattr(module, "MAX_ELEMENTS", 51)
    with pytest.raises(HostileDocument, match="more than 51 elements"):
        load(file)
    monkeypatch.setattr(module, "MAX_BYTES", 100)
    with pytest.raises(HostileDocument, match="larger"):
        load(file)


def test_the_deepest_permitted_document_loads(file: Path):
    write(file, f"<mlt>{PROFILE}" + "<a>" * 255 + "</a>" * 255 + "</mlt>")
    assert load(file).rate == Rate(30000, 1001)


def test_a_large_picture_inside_a_title_loads(file: Path):
    write(file, f'<mlt>{PROFILE}<property name="xmldata">{"x" * 12_000_000}</property></mlt>')
    assert len(load(file).root.findtext("property") or "") == 12_000_000


def test_a_large_document_is_not_allowed_to_be_deeper(file: Path):
    title = f'<property name="xmldata">{"x" * 12_000_000}</property>'
    write(file, f"<mlt>{PROFILE}{title}" + "<a>" * 255 + "</a>" * 255 + "</mlt>")
    assert load(file).rate == Rate(30000, 1001)
    write(file, f"<mlt>{PROFILE}{title}" + "<a>" * 256 + "</a>" * 256 + "</mlt>")
    with pytest.raises(HostileDocument, match="deeper than 256"):
        load(file)


def test_a_long_text_in_an_encoding_of_shorter_letters_loads(file: Path):
    write(
        file,
        f'<?xml version="1.0" encoding="windows-1252"?><mlt>{PROFILE}<p>{"€" * 5_000_000}</p></mlt>'.encode(
            "cp1252"
        ),
    )
    assert len(load(file).root.findtext("p") or "") == 5_000_000


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"", 1),
        (b"hello", 1),
        (b"\x1f\x8b\x08\x00gz", 1),
        (b"<mlt>\n<a>\n</mlt>", 3),
        (b"<mlt>\n<a", 2),
        (b"<mlt>\n&nbsp;</mlt>", 2),
        (b"<mlt>\n\xff\xfe\xfd</mlt>", 2),
        (b'<mlt>\n<a x="1" x="2"/></mlt>', 2),
        (b'<?xml version="1.0" encoding="no-such"?><mlt/>', 1),
        (b"<mlt/><mlt/>", 1),
    ],
)
def test_what_is_not_xml_is_told_with_its_line(file: Path, data: bytes, line: int):
    with pytest.raises(NotAProject, match=f"not well-formed XML at line {line}: .+; .+"):
        load(write(file, data))


@pytest.mark.parametrize("text", ["<html/>", "<fcpxml/>", '<m:mlt xmlns:m="u"/>'])
def test_another_kind_of_xml_is_not_a_project(file: Path, text: str):
    with pytest.raises(NotAProject, match="another kind"):
        load(write(file, text))


def test_a_missing_file_a_folder_and_a_file_as_folder_are_not_projects(file: Path):
    with pytest.raises(NotAProject, match="no such file"):
        load(file)
    with pytest.raises(NotAProject, match="folder"):
        load(file.parent)
    write(file, "x")
    with pytest.raises(NotAProject, match="no such file"):
        load(file / "inner.mlt")
    with pytest.raises(NotAProject, match="no such file"):
        load(str(file) + "\0")


# --- old documents and encodings ----------------------------------------------------------------


def test_an_unbound_prefix_of_old_documents_is_kept(file: Path):
    body = '<playlist id="main bin" kdenlive:customeffects="&lt;customeffects/>&#xa;"><x:y/></playlist>'
    with pytest.raises(NotAProject):  # the fault of one file is not held against the next
        load(write(file, '<mlt xmlns:a="u" xmlns:b="u"><p a:x="1" b:x="2"/></mlt>'))
    document = load(write(file, f"<mlt>{PROFILE}{body * 150}</mlt>"))
    playlists = document.root.findall("playlist")
    assert len(playlists) == 150
    assert playlists[-1].get("kdenlive:customeffects") == "<customeffects/>\n"
    assert etree.tostring(playlists[-1][0]) == b"<x:y/>"


@pytest.mark.parametrize("fault", ["<a>", "&nope;", "<", '<b c="1" c="2"/>'])
def test_an_unbound_prefix_excuses_no_other_fault(file: Path, fault: str):
    prefixed = '<playlist kdenlive:x="1"/>'
    with pytest.raises(NotAProject, match="not well-formed"):
        load(write(file, f"<mlt>{PROFILE}{prefixed * 150}{fault}</mlt>"))


def test_an_attribute_given_twice_through_two_prefixes_is_not_dropped_silently(file: Path):
    with pytest.raises(NotAProject, match="not well-formed"):
        load(write(file, f'<mlt xmlns:a="u" xmlns:b="u">{PROFILE}<p a:x="1" b:x="2"/></mlt>'))


@pytest.mark.parametrize(
    ("encoding", "declared"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8"),
        ("utf-16", "UTF-16"),
        ("latin-1", "ISO-8859-1"),
        ("cp1252", "windows-1252"),
        ("utf-8", ""),
        ("utf-16", ""),
    ],
)
def test_every_usual_encoding_is_read(file: Path, encoding: str, declared: str):
    declaration = f'<?xml version="1.0" encoding="{declared}"?>\r\n' if declared else ""
    write(file, f'{declaration}<mlt title="Fähre">{PROFILE}</mlt>'.encode(encoding))
    document = load(file)
    assert document.root.get("title") == "Fähre"
    assert document.form.declaration == declaration.strip()


def test_the_old_name_of_the_root_is_accepted(file: Path):
    assert load(write(file, f"<westley>{PROFILE}</westley>")).rate == Rate(30000, 1001)


# --- profile ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("num", "den", "rate"),
    [
        ("25", "1", Rate(25)),
        (" 60000000 ", "1000000", Rate(60)),
        ("29.97", "1", Rate(30000, 1001)),
        ("29,97", "1", Rate(30000, 1001)),
        ("23.98", "1", Rate(24000, 1001)),
        ("23.976", "1", Rate(24000, 1001)),
        ("59.94", "1", Rate(60000, 1001)),
        ("25.0", "1", Rate(25)),
        ("12.5", "1", Rate(25, 2)),
        ("2997", "100", Rate(2997, 100)),
        ("33570000", "1119679", Rate(33570000, 1119679)),
    ],
)
def test_the_frame_rate_is_exact(file: Path, num: str, den: str, rate: Rate):
    write(file, f'<mlt><profile frame_rate_num="{num}" frame_rate_den="{den}"/></mlt>')
    document = load(file)
    assert document.rate == rate
    assert document.rate.fraction == Fraction(rate.numerator, rate.denominator)
    assert (document.width, document.height) == (0, 0)


@pytest.mark.parametrize(
    "profile",
    [
        "",
        "<profile/>",
        '<profile frame_rate_num="25"/>',
        '<profile frame_rate_num="0" frame_rate_den="1"/>',
        '<profile frame_rate_num="25" frame_rate_den="0"/>',
        '<profile frame_rate_num="-25" frame_rate_den="1"/>',
        '<profile frame_rate_num="1e99999999" frame_rate_den="1"/>',
        '<profile frame_rate_num="PAL" frame_rate_den="1"/>',
    ],
)
def test_a_project_without_a_frame_rate_says_what_to_do(file: Path, profile: str):
    with pytest.raises(ProjectError, match=r"has no frame rate; .*save it again"):
        load(write(file, f"<mlt>{profile}</mlt>"))


@pytest.mark.parametrize(
    ("num", "den"), [("999999999999", "1"), ("1001", "1"), ("1", "99999999"), ("1", "2")]
)
def test_a_frame_rate_that_no_film_has_is_refused(file: Path, num: str, den: str):
    text = f'<mlt><profile frame_rate_num="{num}" frame_rate_den="{den}"/></mlt>'
    with pytest.raises(HostileDocument, match=r"frames a second; no film has less than 1 or more than 1000"):
        load(write(file, text))


def test_the_picture_size_is_read(file: Path):
    document = load(write(file, f"<mlt>{PROFILE}</mlt>"))
    assert (document.width, document.height) == (1920, 1080)


def test_a_copy_can_be_changed_alone(file: Path):
    document = load(write(file, f"<!-- kept --><mlt>{PROFILE}</mlt>"))
    other = document.copy()
    other.root.set("title", "changed")
    assert document.root.get("title") is None
    assert (other.path, other.rate, other.width, other.form) == (
        document.path, document.rate, document.width, document.form,
    )  # fmt: skip
    assert b"kept" in etree.tostring(other.tree)


def test_every_refusal_is_one_line(file: Path):
    for data in ("<html/>", "<mlt/>", laughs(3), "\n\n<"):
        with pytest.raises(MltAssistError) as caught:
            load(write(file, data))
        assert "\n" not in str(caught.value)
