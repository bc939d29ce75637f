"""Classes that are made faster than frozen dataclasses are, and are nothing else."""

import copy
import gc
import pickle
from dataclasses import FrozenInstanceError, dataclass, field, replace

import pytest

from arrange.memory import rare_collections
from arrange.quick import quickly_made


@quickly_made
@dataclass(frozen=True, slots=True)
class Quick:
    """Made fast."""

    line: int
    signs: tuple[str, ...] = ()


def test_a_quickly_made_object_is_what_the_dataclass_would_have_made() -> None:
    one = Quick(3, signs=("a",))
    assert repr(one) == "Quick(line=3, signs=('a',))"
    assert type(one) is Quick
    assert one == Quick(3, ("a",)) != Quick(3)
    assert hash(one) == hash(Quick(3, ("a",)))
    assert replace(one, line=4) == Quick(4, ("a",))
    packed = pickle.dumps(one)
    assert pickle.loads(packed) == copy.copy(one) == one  # noqa: S301 - our own bytes


def test_a_quickly_made_object_is_frozen() -> None:
    with pytest.raises(FrozenInstanceError):
        Quick(1).line = 2  # type: ignore[misc]


def test_the_arguments_of_a_quickly_made_class_are_checked() -> None:
    with pytest.raises(TypeError, match="line"):
        Quick()  # type: ignore[call-arg]


def test_only_plain_slotted_dataclasses_are_made_quickly() -> None:
    @dataclass(frozen=True)
    class Loose:
        line: int

    @dataclass(frozen=True, slots=True)
    class Listed:
        lines: list[int] = field(default_factory=list)

    for cls in (Loose, Listed, int):
        with pytest.raises(TypeError, match="no plain"):
            quickly_made(cls)


def test_nothing_is_derived_from_a_quickly_made_class() -> None:
    with pytest.raises(TypeError, match="Heir is derived"):

        class Heir(Quick):
            """Would lose its own class."""


def test_work_leaves_the_collector_of_memory_as_it_was() -> None:
    before = gc.get_threshold()
    with rare_collections():
        with rare_collections():
            kept = [[index] for index in range(5000)]
        assert gc.get_threshold()[0] > before[0]
    assert gc.get_threshold() == before
    assert gc.get_freeze_count() == 0
    assert len(gc.get_objects(generation=2)) >= len(kept)
