import pytest
from lxml import etree

from mltassist.document.properties import all_of, drop, get, put

SOURCE = """<mlt>
  <producer id="a">
    <property name="length">100</property>
    <property name="resource">a.mp4</property>
    <filter>
      <property name="length">5</property>
    </filter>
  </producer>
  <entry producer="a" in="0" out="9"/>
</mlt>"""


@pytest.fixture
def tree() -> etree._Element:
    return etree.fromstring(SOURCE)


def text(element: etree._Element) -> str:
    return etree.tostring(element, encoding="unicode")


def test_only_direct_children_are_read(tree: etree._Element):
    assert get(tree[0], "length") == "100"
    assert all_of(tree[0]) == {"length": "100", "resource": "a.mp4"}
    assert get(tree, "length") is None
    assert get(tree[0], "x", "y") == "y"


def test_empty_and_attribute_forms_and_a_comment_inside_are_read():
    element = etree.fromstring(
        '<p><property name="e"/><property name="v" value="7"/><property name="c">a<!-- x -->b</property></p>'
    )
    assert all_of(element) == {"e": "", "v": "7", "c": "ab"}
    put(element, "v", "8")
    put(element, "c", "z")
    assert text(element) == (
        '<p><property name="e"/><property name="v" value="8"/><property name="c">z</property></p>'
    )


def test_of_two_with_one_name_the_last_holds():
    element = etree.fromstring('<p><property name="a">1</property><property name="a">2</property></p>')
    assert get(element, "a") == all_of(element)["a"] == "2"
    put(element, "a", "3")
    assert get(element, "a") == "3"
    assert drop(element, "a")
    assert text(element) == "<p/>"


def test_a_changed_property_keeps_its_place(tree: etree._Element):
    put(tree[0], "length", "200")
    assert text(tree) == SOURCE.replace(">100<", ">200<")


def test_a_new_property_goes_behind_the_last_with_the_same_indentation(tree: etree._Element):
    put(tree[0], "new", "é < &")
    line = '    <property name="resource">a.mp4</property>\n'
    assert text(tree) == SOURCE.replace(line, line + '    <property name="new">é &lt; &amp;</property>\n')


def test_a_new_property_behind_the_very_last_child_keeps_the_closing_tag_in_place(tree: etree._Element):
    put(tree[0][2], "new", "1")
    line = '      <property name="length">5</property>\n'
    assert text(tree) == SOURCE.replace(line, line + '      <property name="new">1</property>\n')


def test_a_first_property_indents_itself(tree: etree._Element):
    put(tree[1], "role", "cover")
    line = '    <property name="role">cover</property>\n'
    assert text(tree) == SOURCE.replace('out="9"/>', f'out="9">\n{line}  </entry>')


def test_a_first_property_goes_before_other_children():
    element = etree.fromstring("<p>\n <filter/>\n</p>")
    put(element, "a", "1")
    assert text(element) == '<p>\n <property name="a">1</property>\n <filter/>\n</p>'


def test_a_document_without_line_ends_gets_none():
    element = etree.fromstring('<m><p><property name="a">1</property></p><q/></m>')
    put(element[0], "b", "2")
    put(element[1], "c", "3")
    assert text(element) == (
        '<m><p><property name="a">1</property><property name="b">2</property></p>'
        '<q><property name="c">3</property></q></m>'
    )


@pytest.mark.parametrize("name", ["length", "resource"])
def test_a_dropped_property_takes_its_line_along(tree: etree._Element, name: str):
    assert drop(tree[0], name)
    lines = SOURCE.splitlines()
    lines.remove(next(line for line in lines if line.startswith(f'    <property name="{name}"')))
    assert text(tree) == "\n".join(lines)
    assert not drop(tree[0], name)


def test_adding_and_dropping_leaves_the_file_as_it_was(tree: etree._Element):
    for element in (tree[0], tree[0][2]):
        put(element, "new", "1")
        assert drop(element, "new")
    assert text(tree) == SOURCE
