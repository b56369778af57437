"""Short names of kits: what people say, and never the same twice."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from auditor.frames.kit_names import short_names
from auditor.records import KnownKit


def kit(kit_id: int, **facts: Any) -> KnownKit:
    usual: dict[str, Any] = {
        "body_make": "Saltmark", "body_model": "Saltmark F2", "body_serial": "F2-20417",
        "lens_name": "Saltmark 500mm f/5.6", "converter_factor": 1.0,
    }  # fmt: skip
    return KnownKit(kit_id=kit_id, kit_name="", **(usual | facts))


def names(*kits: KnownKit) -> list[str]:
    return list(short_names(kits).values())


def test_body_without_its_maker_focal_length_and_converter() -> None:
    assert names(kit(1), kit(2, converter_factor=1.4), kit(3, converter_factor=2.0)) == [
        "F2 500 mm", "F2 500 mm x 1.4", "F2 500 mm x 2",
    ]  # fmt: skip


def test_what_is_not_known_is_said() -> None:
    assert names(kit(1, converter_factor=None)) == ["F2 500 mm x ?"]
    assert names(kit(1, lens_name=None)) == ["F2 unknown lens"]
    assert names(kit(1, body_make=None, body_model=None, body_serial=None)) == ["unknown body 500 mm"]


def test_a_zoom_has_both_ends() -> None:
    assert names(kit(1, lens_name="Saltmark 100-400mm f/4.5-5.6")) == ["F2 100-400 mm"]


def test_a_maker_is_named_only_where_two_bodies_are_called_alike() -> None:
    other = {"body_make": "Ternwick", "body_model": "Ternwick F2"}
    assert names(kit(1), kit(2, **other)) == ["Saltmark F2 500 mm", "Ternwick F2 500 mm"]


def test_two_bodies_of_one_model_have_the_end_of_their_serials() -> None:
    assert names(kit(1), kit(2, body_serial="F2-20993")) == ["F2 #0417 500 mm", "F2 #0993 500 mm"]


def test_lenses_of_one_focal_length_have_their_f_number_then_their_whole_name() -> None:
    faster = kit(2, lens_name="Saltmark 500mm f/4")
    assert names(kit(1), faster) == ["F2 500 mm f/5.6", "F2 500 mm f/4"]
    other = kit(3, lens_name="Ternwick 500mm f/4")
    assert names(kit(1), faster, other) == [
        "F2 500 mm f/5.6", "F2 Saltmark 500mm f/4", "F2 Ternwick 500mm f/4",
    ]  # fmt: skip


@given(
    st.lists(
        st.tuples(
            st.sampled_from([None, "Saltmark", "Ternwick"]),
            st.sampled_from([None, "Saltmark F2", "F2", "f2"]),
            st.sampled_from([None, "1", "20417", "30417"]),
            st.sampled_from([None, "500mm f/4", "500mm f/5.6", "A 500mm f/4", "glass"]),
            st.sampled_from([None, 1.0, 2.0]),
        ),
        max_size=12,
        unique=True,
    )
)
def test_no_two_kits_are_called_alike(facts: list[tuple[Any, ...]]) -> None:
    columns = ("body_make", "body_model", "body_serial", "lens_name", "converter_factor")
    found = short_names([kit(n, **dict(zip(columns, row, strict=True))) for n, row in enumerate(facts)])
    assert len({name.casefold() for name in found.values()}) == len(facts)
