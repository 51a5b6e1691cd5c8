"""The house's frozen values: `@dataclass(frozen=True, slots=True)` with the same fields, made and filled in sooner.

Stage: everywhere, under all else. The standard library writes and compiles six methods for each such class; making the
360 that a first screen needs was a quarter of a start. Here a class has one method compiled, its `__init__`; the others
are the same functions for all, or closures over the names of its fields. That `__init__` stores through the slots
themselves, which takes less than half as long as `object.__setattr__`: whatever judges or shows makes values.

To a type checker it is the standard library's own; `replace`, `fields`, `asdict` and `field` come from there as they
are. What it leaves out (a field without a place in `__init__`) it refuses.
"""

import sys
from collections.abc import Callable, Sequence
from dataclasses import MISSING, Field, FrozenInstanceError, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:
    import dataclasses

    def dataclass(*, frozen, slots, kw_only=False, eq=True):
        """A decorator; frozen and slots are said where it stands, for that is what the class then is."""
        if not (frozen and slots):
            raise TypeError("a value is frozen and has slots; for anything else there is dataclasses.dataclass")
        as_it_comes = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True, kw_only=kw_only)

        def value(cls):
            made = as_it_comes(cls)
            made.__init__ = _init(made)
            made.__setattr__, made.__delattr__ = _refuse_change, _refuse_removal
            made.__repr__, made.__getstate__, made.__setstate__ = _repr, _state, _take_state
            if eq:
                made.__eq__, made.__hash__ = _equality([one.name for one in fields(made) if one.compare])
            return made

        return value


def _init(cls: type) -> Callable[..., None]:
    """The class's `__init__`, by the order and defaults of its fields."""
    parts = fields(cls)
    if not all(one.init for one in parts):
        raise TypeError(f"{cls.__qualname__}: every field of a value is given to it")
    known: dict[str, object] = {"_unset": MISSING}
    steps = []
    for one in parts:
        name = one.name
        known[f"_set_{name}"] = getattr(cls, name).__set__
        given = name
        if one.default is not MISSING:
            known[f"_default_{name}"] = one.default
        elif one.default_factory is not MISSING:
            known[f"_default_{name}"], known[f"_new_{name}"] = MISSING, one.default_factory
            given = f"_new_{name}() if {name} is _unset else {name}"
        steps.append(f"_set_{name}(self, {given})")
    if hasattr(cls, "__post_init__"):
        steps.append("self.__post_init__()")
    asked = [_parameter(one) for one in parts if not one.kw_only]
    named = [_parameter(one) for one in parts if one.kw_only]
    text = (
        f"def made({', '.join(known)}):\n"
        f"  def __init__({', '.join(['self', *asked, *(['*', *named] if named else ())])}):\n"
        + "".join(f"    {step}\n" for step in steps or ["pass"])
        + "  return __init__"
    )
    scope: dict[str, Any] = {}
    # With its module's names: the annotations are looked up there.
    exec(text, sys.modules[cls.__module__].__dict__, scope)
    init: Callable[..., None] = scope["made"](**known)
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    init.__annotations__ = {one.name: one.type for one in parts} | {"return": None}
    return init


def _parameter(one: "Field[Any]") -> str:
    has_default = one.default is not MISSING or one.default_factory is not MISSING
    return f"{one.name}=_default_{one.name}" if has_default else one.name


def _equality(names: Sequence[str]) -> tuple[Callable[[object, object], bool], Callable[[object], int]]:
    """`__eq__` and `__hash__` by these fields: equal are values of one class only."""
    if len(names) > 1:
        content: Callable[[object], tuple[object, ...]] = attrgetter(*names)
    else:

        def content(value: object) -> tuple[object, ...]:
            return tuple(getattr(value, name) for name in names)

    def __eq__(self: object, other: object) -> bool:  # noqa: N807
        if other.__class__ is self.__class__:
            return content(self) == content(other)
        return NotImplemented

    def __hash__(self: object) -> int:  # noqa: N807
        return hash(content(self))

    return __eq__, __hash__


def _refuse_change(self: object, name: str, _value: object) -> None:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_removal(self: object, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


@recursive_repr()
def _repr(self: Any) -> str:
    told = ", ".join(f"{one.name}={getattr(self, one.name)!r}" for one in fields(self) if one.repr)
    return f"{type(self).__qualname__}({told})"


def _state(self: Any) -> list[object]:
    """What is pickled and copied: a slot has no dictionary for that."""
    return [getattr(self, one.name) for one in fields(self)]


def _take_state(self: Any, state: Sequence[object]) -> None:
    for one, value in zip(fields(self), state, strict=True):
        object.__setattr__(self, one.name, value)
