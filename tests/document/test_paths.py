import os
from collections.abc import Callable
from pathlib import Path

import pytest
from lxml import etree

from mltassist.document.load import Document
from mltassist.document.paths import base, rebase, resolve, stays
from mltassist.document.properties import all_of, put

Make = Callable[..., Document]
posix = pytest.mark.skipif(os.name != "posix", reason="names as this system sees them")


def test_relative_names_count_from_the_root_attribute_or_the_document(project: Make, tmp_path: Path):
    home = tmp_path / "proj"
    (home / "media").mkdir(parents=True)
    assert base(project()) == home
    assert base(project(root="")) == home
    assert base(project(root=str(tmp_path))) == tmp_path
    assert base(project(root="media")) == home / "media"
    assert base(project(root="/no/such/folder")) == home
    assert base(project(root="C:/Films")) == home


@posix
@pytest.mark.parametrize(
    ("resource", "service", "expected"),
    [
        ("clip.mp4", "avformat", "BASE/clip.mp4"),
        ("../a b/é %41#?.mp4", "avformat-novalidate", "BASE/../a b/é %41#?.mp4"),
        ("note: one.mp4", "avformat", "BASE/note: one.mp4"),
        ("/abs/clip.mp4", "", "/abs/clip.mp4"),
        ("file:///abs/a%20b.mp4", "avformat", "/abs/a b.mp4"),
        ("file:///C:/a%20b.mp4", "avformat", "C:/a b.mp4"),
        ("file://localhost/abs/c.mp4", "avformat", "/abs/c.mp4"),
        ("file://nas/share/c.mp4", "avformat", "//nas/share/c.mp4"),
        ("C:\\dir\\clip.mp4", "avformat", "C:\\dir\\clip.mp4"),
        ("D:/dir/clip.mp4", "avformat", "D:/dir/clip.mp4"),
        ("\\\\nas\\share\\clip.mp4", "avformat", "\\\\nas\\share\\clip.mp4"),
        ("0.7:C:\\dir\\clip.mp4", "timewarp", "C:\\dir\\clip.mp4"),
        ("-0.600000:clip.mp4", "timewarp", "BASE/clip.mp4"),
        ("0,5:/abs/clip.mp4", "timewarp", "/abs/clip.mp4"),
        ("2:clip.mp4", "avformat", "BASE/2:clip.mp4"),
        ("stills/d%05d.png?begin=100", "qimage", "BASE/stills/d%05d.png"),
        ("stills/.all.jpg?ttl=25", "qimage", "BASE/stills/.all.jpg"),
        ("$$/media/clip.mp4", "avformat", "$$/media/clip.mp4"),
    ],
)
def test_a_resource_leads_to_its_file(project: Make, resource: str, service: str, expected: str):
    document = project()
    found = resolve(document, resource, service)
    assert found == Path(expected.replace("BASE", str(document.path.parent)))


@pytest.mark.parametrize(
    ("resource", "service"),
    [
        ("black", "color"),
        ("0", "colour"),
        ("#ff00ff00", "color"),
        ("", "kdenlivetitle"),
        ("title.kdenlivetitle", "kdenlivetitle"),
        ("other.kdenlive", "xml"),
        ("", "count"),
        ("", ""),
        (None, "avformat"),
        ("color:red", ""),
        ("noise:", ""),
        ("x", "frei0r.plasma"),
    ],
)
def test_a_service_without_media_leads_to_none(project: Make, resource: str | None, service: str):
    assert resolve(project(), resource, service) is None


# --- another folder -------------------------------------------------------------------------------

BODY = """
<producer id="p">
 <property name="mlt_service">avformat</property><property name="resource">media/clip.mp4</property>
 <property name="kdenlive:originalurl">/abs/clip.mp4</property><property name="kdenlive:proxy">-</property>
</producer>
<chain id="c">
 <property name="mlt_service">timewarp</property><property name="resource">0.5:media/clip.mp4</property>
 <property name="warp_resource">media/clip.mp4</property>
</chain>
<producer id="k">
 <property name="mlt_service">color</property><property name="resource">black</property>
 <property name="kdenlive:originalurl">black</property>
</producer>
<producer id="w"><property name="resource">C:\\dir\\clip.mp4</property></producer>
<producer id="x">
 <property name="mlt_service">xml</property><property name="resource">./other.mlt</property>
</producer>
<producer id="y">
 <property name="mlt_service">avformat</property><property name="resource">proxy/a.mkv</property>
 <property name="kdenlive:proxy">proxy/a.mkv</property><property name="kdenlive:originalurl">a.mp4</property>
</producer>
<transition>
 <property name="mlt_service">luma</property><property name="resource">%luma01.pgm</property>
</transition>
<transition>
 <property name="mlt_service">luma</property><property name="resource">wipe.pgm</property>
</transition>
<playlist id="q"><property name="resource">untouched</property></playlist>"""


def values(document: Document) -> list[dict[str, str]]:
    return [all_of(element) for element in document.root[1:]]


@pytest.mark.parametrize("name", ["a" * 5000, "é" * 128, "file:///" + "%61" * 256, "a/" * 1500], ids=len)
def test_a_name_longer_than_any_files_leads_nowhere(project: Make, tmp_path: Path, name: str):
    document = project(root=f"/{name}")
    assert resolve(document, name, "avformat") is None
    assert base(document) == tmp_path / "proj"
    transition = etree.SubElement(document.root, "transition")
    put(transition, "resource", name)
    assert rebase(document, tmp_path) == 0


def test_the_same_folder_changes_nothing(project: Make, tmp_path: Path):
    document = project(BODY, root="")
    before = etree.tostring(document.tree)
    (tmp_path / "link").symlink_to(document.path.parent)
    for folder in (document.path.parent, document.path.parent / ".." / "proj", tmp_path / "link"):
        assert rebase(document, folder) == 0
    assert etree.tostring(document.tree) == before


def test_an_absolute_root_that_exists_changes_nothing(project: Make, tmp_path: Path):
    document = project(BODY, root=str(tmp_path))
    before = etree.tostring(document.tree)
    assert rebase(document, tmp_path / "out") == 0
    assert etree.tostring(document.tree) == before


@pytest.mark.parametrize("attributes", [{}, {"root": ""}])
def test_relative_names_hold_in_another_folder(project: Make, tmp_path: Path, attributes: dict[str, str]):
    document = project(BODY, **attributes)
    (tmp_path / "proj" / "wipe.pgm").touch()
    assert rebase(document, tmp_path / "out" / "deep") == 8
    back = "../../proj/"
    plain, warp, colour, windows, project_clip, proxied, builtin, wipe, playlist = values(document)
    assert plain["resource"] == back + "media/clip.mp4"
    assert plain["kdenlive:originalurl"] == "/abs/clip.mp4"
    assert plain["kdenlive:proxy"] == "-"
    assert warp["resource"] == f"0.5:{back}media/clip.mp4"
    assert warp["warp_resource"] == back + "media/clip.mp4"
    assert colour["resource"] == colour["kdenlive:originalurl"] == "black"
    assert windows["resource"] == "C:\\dir\\clip.mp4"
    assert project_clip["resource"] == back + "other.mlt"
    assert proxied["resource"] == proxied["kdenlive:proxy"] == back + "proxy/a.mkv"
    assert proxied["kdenlive:originalurl"] == back + "a.mp4"
    assert builtin["resource"] == "%luma01.pgm"
    assert wipe["resource"] == back + "wipe.pgm"
    assert playlist["resource"] == "untouched"


def test_the_rewritten_names_lead_to_the_same_files(project: Make, tmp_path: Path):
    document = project(BODY)
    before = resolve(document, "media/clip.mp4", "avformat")
    new = tmp_path / "out"
    new.mkdir()
    rebase(document, new)
    document.path = new / "film.mlt"
    after = resolve(document, values(document)[0]["resource"], "avformat")
    assert before is not None
    assert after is not None
    assert after.resolve() == before.resolve()


def test_a_relative_root_is_removed_for_it_would_count_from_the_new_folder(project: Make, tmp_path: Path):
    (tmp_path / "proj" / "media").mkdir(parents=True)
    document = project('<producer><property name="resource">clip.mp4</property></producer>', root="media")
    assert rebase(document, tmp_path) == 1
    assert values(document)[0]["resource"] == "proj/media/clip.mp4"
    assert "root" not in document.root.attrib


def test_below_a_root_that_is_gone_names_become_absolute(project: Make, tmp_path: Path):
    clip = '<producer><property name="resource">clip.mp4</property></producer>'
    document = project(clip, root="/no/such/folder")
    assert rebase(document, tmp_path / "out") == 1
    assert values(document)[0]["resource"] == (tmp_path / "proj" / "clip.mp4").as_posix()
    assert document.root.get("root") == "/no/such/folder"


def test_another_drive_needs_absolute_names(project: Make, tmp_path: Path, monkeypatch):
    def other_drive(*_: object) -> str:
        raise ValueError("path is on mount 'D:', start on mount 'C:'")

    document = project('<producer><property name="resource">clip.mp4</property></producer>')
    monkeypatch.setattr(os.path, "relpath", other_drive)
    assert rebase(document, tmp_path / "out") == 1
    assert values(document)[0]["resource"] == (tmp_path / "proj" / "clip.mp4").as_posix()


@pytest.mark.skipif(os.name == "nt", reason="there these roots are of the same system")
@pytest.mark.parametrize("root", ["C:/Films", "C:\\Films", "\\\\server\\films"])
def test_names_below_a_root_of_another_system_are_left_as_they_are(project, tmp_path, root):
    """They count from a folder of that system, which is the same wherever the document lies."""
    document = project('<producer><property name="resource">a/clip.mp4</property></producer>', root=root)
    assert stays(document, tmp_path / "elsewhere")
    assert rebase(document, tmp_path / "elsewhere") == 0
    assert document.root.get("root") == root
    assert values(document)[0]["resource"] == "a/clip.mp4"
