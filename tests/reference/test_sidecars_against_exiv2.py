"""Sidecars that were written, read by the exiv2 library: what was meant is there, the rest unchanged.

XMP part 1 (ISO 16684-1) gives the forms: simple properties as attributes or elements, arrays, structures,
alternatives by language.
"""

from __future__ import annotations

import os
from pathlib import Path

import exiv2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.keepers.sidecar_text import with_facts

exiv2.LogMsg.setLevel(exiv2.LogMsg.Level.mute)

ELEMENTS = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<!-- written by hand -->
<x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk="by hand">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:xap="http://ns.adobe.com/xap/1.0/">
   <xap:CreateDate>2026-04-18T09:30:00</xap:CreateDate><xap:Rating>0</xap:Rating>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:mwg-rs="http://www.metadataworkinggroup.com/schemas/regions/"
    xmlns:stArea="http://ns.adobe.com/xmp/sType/Area#">
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">Heron &amp; gull</rdf:li></rdf:Alt></dc:title>
   <dc:subject><rdf:Bag><rdf:li>heron</rdf:li><rdf:li><![CDATA[tide & mud]]></rdf:li></rdf:Bag></dc:subject>
   <mwg-rs:Regions rdf:parseType="Resource"><mwg-rs:RegionList><rdf:Bag>
    <rdf:li rdf:parseType="Resource"><mwg-rs:Type>Focus</mwg-rs:Type>
     <mwg-rs:Area stArea:x="0.4" stArea:y="0.5" stArea:w="0.1" stArea:h="0.1" stArea:unit="normalized"/>
    </rdf:li></rdf:Bag></mwg-rs:RegionList></mwg-rs:Regions>
   <!-- a node of another program -->
   <own:steps xmlns:own="https://example.org/own/"><rdf:Seq><rdf:li>lighter</rdf:li></rdf:Seq></own:steps>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
""".encode()
ATTRIBUTES = (
    '<?xml version="1.0" encoding="UTF-8"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
    '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    '<rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:tiff="http://ns.adobe.com/tiff/1.0/"'
    ' xmp:Label="Größe" xmp:Rating="2" tiff:Orientation="6"/></rdf:RDF></x:xmpmeta>'
).encode()
NOT_A_PROPERTY = b"""<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"/></x:xmpmeta>"""


def read(folder: Path, content: bytes) -> dict[str, str]:
    """Every property, by a library that is not ours."""
    path = folder / "x.xmp"
    path.write_bytes(content)
    image = exiv2.ImageFactory.open(os.fspath(path))
    image.readMetadata()
    return {datum.key(): datum.toString() for datum in image.xmpData()}


def written_by_exiv2(folder: Path) -> bytes:
    """A sidecar as exiv2 writes one: title by language, keywords, a structure, a date."""
    data = exiv2.XmpData()
    for key, value in {
        "Xmp.xmp.CreateDate": "2026-04-18T09:30:00",
        "Xmp.xmp.Rating": "1",
        "Xmp.dc.title": 'lang="x-default" Heron & gull',
        "Xmp.tiff.Orientation": "6",
        "Xmp.photoshop.City": "Tønder",
        "Xmp.mwg-rs.Regions/mwg-rs:AppliedToDimensions/stDim:w": "6000",
    }.items():
        data[key] = value
    words = exiv2.XmpArrayValue(exiv2.TypeId.xmpBag)
    words.read("heron")
    words.read("estuary, mud")
    data.add(exiv2.XmpKey("Xmp.dc.subject"), words)
    path = folder / "made.xmp"
    image = exiv2.ImageFactory.create(exiv2.ImageType.xmp, os.fspath(path))
    image.setXmpData(data)
    image.writeMetadata()
    return path.read_bytes()


@pytest.mark.parametrize("form", ["exiv2", "elements", "attributes", "byte order mark", "no property"])
def test_rating_and_keywords_are_there_and_every_other_property_is_unchanged(
    tmp_path: Path, form: str
) -> None:
    before = {
        "exiv2": lambda: written_by_exiv2(tmp_path),
        "elements": lambda: ELEMENTS,
        "attributes": lambda: ATTRIBUTES,
        "byte order mark": lambda: b"\xef\xbb\xbf" + ATTRIBUTES,
        "no property": lambda: NOT_A_PROPERTY,
    }[form]()
    after = with_facts(before, rating=4, keywords=["otter", "heron"], replace_rating=True)
    known, now = read(tmp_path, before), read(tmp_path, after)
    assert now.pop("Xmp.xmp.Rating") == "4"
    words = now.pop("Xmp.dc.subject")
    for word in ("otter", "heron"):
        assert words.split(", ").count(word) == 1
    assert words.startswith(known.pop("Xmp.dc.subject", ""))
    known.pop("Xmp.xmp.Rating", None)
    assert now == known
    if form != "no property":
        assert len(known) >= 2


def test_a_new_sidecar(tmp_path: Path) -> None:
    content = with_facts(None, rating=-1, keywords=["Größe & <Tiefe>", "カワセミ"])
    assert read(tmp_path, content) == {
        "Xmp.xmp.Rating": "-1", "Xmp.dc.subject": "Größe & <Tiefe>, カワセミ",
    }  # fmt: skip


words = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=20)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(st.integers(-1, 5), st.lists(words.filter(lambda word: "," not in word), max_size=4, unique=True))
def test_any_rating_and_any_words_are_read_back(tmp_path: Path, rating: int, keywords: list[str]) -> None:
    for before in (None, ELEMENTS, ATTRIBUTES):
        found = read(tmp_path, with_facts(before, rating=rating, keywords=keywords, replace_rating=True))
        assert found["Xmp.xmp.Rating"] == str(rating)
        assert set(keywords) <= set(found.get("Xmp.dc.subject", "").split(", "))
