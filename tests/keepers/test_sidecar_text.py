"""The text of a sidecar: nothing lost by a parser that is not ours, nothing changed without need."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.errors import OutputError
from auditor.keepers.sidecar_text import with_facts
from auditor.readers import xmp
from tests.reference.test_sidecars_against_exiv2 import ATTRIBUTES, ELEMENTS, words

RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
RATING = "{http://ns.adobe.com/xap/1.0/}Rating"
SUBJECT = "{http://purl.org/dc/elements/1.1/}subject"
START = b'<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
TWO_RATINGS = (
    START + b'<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="1"/>'
    b'<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="2"/></rdf:RDF>'
)
QUALIFIED = (
    START + b'<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/"><xmp:Rating rdf:parseType="Resource">'
    b"<rdf:value>2</rdf:value></xmp:Rating></rdf:Description></rdf:RDF>"
)
PLAIN_SUBJECT = (
    START + b'<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:subject>heron</dc:subject>'
    b"</rdf:Description></rdf:RDF>"
)


def nodes(content: bytes) -> list[tuple[object, ...]]:
    """Every node in its order, comments and instructions included, but for rating and keywords."""
    parser = ElementTree.XMLParser(target=ElementTree.TreeBuilder(insert_comments=True, insert_pis=True))
    parser.feed(content)
    found: list[tuple[object, ...]] = []

    def walk(node: ElementTree.Element) -> None:
        if node.tag in (RATING, SUBJECT):
            return
        attributes = {name: value for name, value in node.attrib.items() if name != RATING}
        found.append((node.tag, tuple(sorted(attributes.items())), (node.text or "").strip()))
        for one in node:
            walk(one)

    walk(parser.close())
    return found


@pytest.mark.parametrize("before", [ELEMENTS, ATTRIBUTES, b"\xef\xbb\xbf" + ATTRIBUTES])
def test_every_other_node_is_kept_in_its_order(before: bytes) -> None:
    after = with_facts(before, rating=5, keywords=["otter"], replace_rating=True)
    assert nodes(after) == nodes(before)
    assert after.startswith(b"\xef\xbb\xbf") is before.startswith(b"\xef\xbb\xbf")
    assert (b"<?xml " in after) is (b"<?xml " in before)
    for kept in (b"<!-- written by hand -->", b"<?xpacket end", b"<![CDATA[", b"xap:CreateDate"):
        assert (kept in after) is (kept in before)


def test_a_text_in_two_bytes_a_letter_stays_one() -> None:
    before = ATTRIBUTES.decode().replace("UTF-8", "UTF-16").encode("utf-16")
    after = with_facts(before, rating=5, keywords=["Größe"], replace_rating=True)
    assert after.decode("utf-16").count("Größe") == 2
    assert nodes(after) == nodes(before)


@pytest.mark.parametrize("before", [None, ELEMENTS, ATTRIBUTES])
@given(rating=st.integers(-1, 5), keywords=st.lists(words, max_size=4))
def test_what_was_written_is_read_and_a_second_time_nothing_changes(
    before: bytes | None, rating: int, keywords: list[str]
) -> None:
    once = with_facts(before, rating=rating, keywords=keywords, replace_rating=True)
    facts = xmp.facts(once, "x.xmp")
    assert facts.rating == rating
    assert set(keywords) <= set(facts.keywords)
    assert len(facts.keywords) == len(set(facts.keywords))
    assert with_facts(once, rating=rating, keywords=keywords, replace_rating=True) == once


def test_your_rating_stays_unless_it_is_to_be_replaced_and_0_is_none() -> None:
    assert xmp.facts(with_facts(ATTRIBUTES, rating=4, keywords=[]), "").rating == 2
    assert xmp.facts(with_facts(ATTRIBUTES, rating=4, keywords=[], replace_rating=True), "").rating == 4
    assert xmp.facts(with_facts(ELEMENTS, rating=4, keywords=[]), "").rating == 4


def test_where_nothing_changes_the_very_same_bytes_come_back() -> None:
    odd = ELEMENTS.replace(b'rdf:about=""', b"rdf:about = ''").replace(b"<xap:Rating>0<", b"<xap:Rating> 3 <")
    assert with_facts(odd, rating=4, keywords=["heron"]) == odd


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "malformed"),
        (b"\0\1\2", "malformed"),
        (ELEMENTS[:400], "malformed"),
        (ELEMENTS.replace(b"xap:CreateDate>", b"nothing:CreateDate>"), "malformed"),
        (b"<html/>", "holds no XMP"),
        (b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>' + START + b"</rdf:RDF>", "document type"),
        (b'<!DOCTYPE x [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><x>&b;</x>', "document type"),
        (TWO_RATINGS, "more than one rating"),
        (QUALIFIED, "rating in a way"),
        (PLAIN_SUBJECT, "keywords in a way"),
        (b" " * (1024 * 1024 + 1), "larger"),
        (b"<a>" * 5000 + b"</a>" * 5000, "malformed"),
    ],
)
def test_what_is_malformed_or_strange_is_left_alone(content: bytes, told: str) -> None:
    with pytest.raises(OutputError, match=told):
        with_facts(content, rating=4, keywords=["otter"])


@given(st.binary(max_size=300) | st.integers(0, len(ELEMENTS)).map(lambda end: ELEMENTS[:end] + b"<&\xff"))
def test_any_bytes_give_a_sidecar_or_one_clear_error(content: bytes) -> None:
    with pytest.raises(OutputError):
        with_facts(content, rating=4, keywords=["otter"])
