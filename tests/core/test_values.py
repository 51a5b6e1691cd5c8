"""A value of the house is what the standard library's frozen dataclass with slots is, wherever the house looks."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import math
import pickle
from collections.abc import Callable, Mapping
from dataclasses import FrozenInstanceError, asdict, field, fields, replace
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core import values
from core.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """With a check, a factory, and a field that does not count."""

    length_mm: float
    name: str = "near"
    notes: list[str] = field(default_factory=list)
    seen_at: int | None = field(default=None, compare=False)

    def __post_init__(self) -> None:
        if self.length_mm < 0.0:
            raise ValueError("no edge is shorter than nothing")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked(Edge):
    """One more field behind the inherited ones."""

    corner: str = "NL"


@dataclass(frozen=True, slots=True)
class Point:
    """By place."""

    x: float
    y: float = 0.0


@dataclass(frozen=True, slots=True)
class Nothing:
    """No field at all."""


@dataclass(frozen=True, slots=True)
class Alone:
    """A single one."""

    value: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Held:
    """The same only as itself, as whatever holds arrays."""

    array: Any


def as_the_library_makes_it(cls: type, **options: bool) -> Callable[..., Any]:
    body = {name: cls.__dict__[name] for name in ("__post_init__", "__module__") if name in cls.__dict__}
    defaults = {
        one.name: field(
            default=one.default, default_factory=one.default_factory, compare=one.compare, kw_only=one.kw_only
        )
        if one.default_factory is not dataclasses.MISSING or one.default is not dataclasses.MISSING
        else field(kw_only=one.kw_only)
        for one in fields(cls)
    }
    return dataclasses.make_dataclass(
        cls.__name__,
        [(one.name, one.type, defaults[one.name]) for one in fields(cls)],
        namespace=body,
        frozen=True,
        slots=True,
        **options,
    )


@pytest.mark.parametrize("cls", [Edge, Marked, Point, Nothing, Alone])
def test_it_is_called_matched_and_shown_as_the_library_s(cls: type) -> None:
    ours, theirs = cls, as_the_library_makes_it(cls)
    given_to = [str(one.name) for one in inspect.signature(ours).parameters.values()]
    assert given_to == [one.name for one in inspect.signature(theirs).parameters.values()]
    kinds = [one.kind for one in inspect.signature(ours).parameters.values()]
    assert kinds == [one.kind for one in inspect.signature(theirs).parameters.values()]
    assert ours.__match_args__ == theirs.__match_args__  # type: ignore[attr-defined]
    named = {one.name: 1.5 for one in fields(ours) if one.default is one.default_factory}
    assert not hasattr(ours(**named), "__dict__")
    assert repr(ours(**named)) == repr(theirs(**named))
    assert hash(Point(1.0)) == hash(as_the_library_makes_it(Point)(1.0))


@given(st.builds(Point), st.builds(Point))
def test_equal_is_what_has_equal_fields(first: Point, second: Point) -> None:
    theirs = as_the_library_makes_it(Point)
    assert (first == second) == (theirs(first.x, first.y) == theirs(second.x, second.y))
    if first == second:
        assert hash(first) == hash(second)


def test_values_of_another_class_are_others() -> None:
    assert Edge(length_mm=1.0) != Marked(length_mm=1.0)
    assert Point(1.0) != (1.0, 0.0)
    assert Nothing() == Nothing()
    assert Edge(length_mm=1.0, seen_at=1) == Edge(length_mm=1.0, seen_at=2)
    assert Held(array=1) != Held(array=1)


def test_what_is_not_a_number_equals_itself_alone_as_in_a_tuple() -> None:
    nan = math.nan
    assert Alone(nan) == Alone(nan)
    assert Point(nan) == Point(nan)
    assert Alone(nan) != Alone(float("nan"))


def test_nothing_of_it_can_be_changed() -> None:
    edge = Marked(length_mm=1.0)
    with pytest.raises(FrozenInstanceError, match="length_mm"):
        edge.length_mm = 2.0  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError, match="corner"):
        del edge.corner
    with pytest.raises(AttributeError):
        edge.other = 1  # type: ignore[attr-defined]
    assert edge == Marked(length_mm=1.0)


def test_each_has_a_new_one_from_its_factory() -> None:
    first, second = Edge(length_mm=1.0), Edge(length_mm=1.0)
    first.notes.append("burr")
    assert second.notes == []


def test_its_check_is_made_wherever_it_comes_from() -> None:
    with pytest.raises(ValueError, match="no edge"):
        Marked(length_mm=-1.0)
    with pytest.raises(ValueError, match="no edge"):
        replace(Edge(length_mm=1.0), length_mm=-1.0)


def test_what_the_library_does_with_fields_it_does_with_these() -> None:
    edge = Marked(length_mm=1.0, corner="FR")
    assert replace(edge, name="far") == Marked(length_mm=1.0, corner="FR", name="far")
    assert asdict(edge) == {"length_mm": 1.0, "name": "near", "notes": [], "seen_at": None, "corner": "FR"}
    assert pickle.loads(pickle.dumps(edge)) == edge
    assert copy.deepcopy(edge) == edge
    assert get_type_hints(Marked.__init__)["seen_at"] == int | None


def test_what_is_wrongly_given_is_refused_by_its_name() -> None:
    with pytest.raises(TypeError, match=r"Edge\.__init__\(\) missing .*length_mm"):
        Edge()  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="width"):
        Edge(length_mm=1.0, width=2.0)  # type: ignore[call-arg]
    with pytest.raises(TypeError):
        Edge(1.0)  # type: ignore[misc]


def test_another_kind_of_class_is_refused() -> None:
    def make(**options: bool) -> None:
        dataclass(**options)(type("Loose", (), {}))  # type: ignore[call-overload]

    with pytest.raises(TypeError, match="frozen"):
        make(frozen=False, slots=True)
    with pytest.raises(TypeError, match="given"):

        @dataclass(frozen=True, slots=True, kw_only=True)
        class Counted:
            count: int = field(init=False, default=0)


def test_one_method_is_compiled_for_a_class(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library compiles six: what a start waits for."""
    compiled: list[str] = []
    monkeypatch.setattr(values, "exec", lambda *given: (compiled.append(given[0]), exec(*given)), raising=False)
    namespace: Mapping[str, object] = {"__annotations__": {"a": int, "b": int}, "__doc__": "Two."}
    monkeypatch.setattr(dataclasses, "exec", lambda *given: pytest.fail("the library compiled one too"), raising=False)
    dataclass(frozen=True, slots=True, kw_only=True)(type("Two", (), dict(namespace)))
    assert len(compiled) == 1
