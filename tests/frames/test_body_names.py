"""What a body is called where people read of it: by model, with its serial number where two are alike."""

from __future__ import annotations

from auditor.frames.body_names import body_names, words_by_name
from auditor.frames.kit_names import named_by_files
from auditor.records import KnownKit


def kit(kit_id: int, model: str | None, serial: str | None, make: str = "Saltmark") -> KnownKit:
    return KnownKit(
        kit_id=kit_id,
        kit_name="",
        body_make=make,
        body_model=model,
        body_serial=serial,
        lens_name=None,
        converter_factor=1.0,
    )


def test_a_body_is_called_by_its_model_and_a_number_is_shown_only_where_two_are_alike() -> None:
    kits = [
        kit(1, "Saltmark F2", "0417"),
        kit(2, "Saltmark F2", "0417"),
        kit(3, "Saltmark S2", "10093"),
        kit(4, "Saltmark S2", "10094"),
        kit(5, "Saltmark T1", None),
        kit(6, None, "77"),
        kit(7, None, None),
    ]
    assert body_names(kits) == {
        "0417": "Saltmark F2",
        "10093": "Saltmark S2 (10093)",
        "10094": "Saltmark S2 (10094)",
        "Saltmark T1": "Saltmark T1",
        "77": "77",
    }


def test_bodies_told_apart_by_their_files_alone_are_declared_by_their_model() -> None:
    kits = [kit(1, "Saltmark T1", named_by_files("AAA")), kit(2, "Saltmark T1", named_by_files("BBB"))]
    assert body_names(kits) == {"Saltmark T1": "Saltmark T1"}


def test_one_of_two_alike_that_records_no_number_is_told_from_its_model() -> None:
    """The model alone stands for both."""
    kits = [kit(1, "Saltmark T1", None), kit(2, "Saltmark T1", "5")]
    assert body_names(kits) == {
        "Saltmark T1": "Saltmark T1",
        "Saltmark T1 (no serial)": "Saltmark T1 (no serial)",
        "5": "Saltmark T1 (5)",
    }
    words = words_by_name(kits)
    assert words["t1 (no serial)"] == words["saltmark t1 (no serial)"] == {"Saltmark T1 (no serial)"}


def test_a_model_of_two_makers_is_not_one_body() -> None:
    kits = [kit(1, "Saltmark S2", "1"), kit(2, "Otter S2", "2", make="Otter")]
    words = words_by_name(kits)
    assert words["s2"] == {"Saltmark S2", "Otter S2"}
    assert words["saltmark s2"] == {"Saltmark S2"}
    alike = words_by_name([kit(1, "S2", "1"), kit(2, "S2", "2", make="Otter")])
    assert (alike["saltmark s2"], alike["otter s2"]) == ({"1"}, {"2"})
