"""What is said, through a pipe or a socket between our own programs: unworded, for its reader words it.

Stage: between a program that says something (the root helper, a look from inside the service) and the one that
shows it.
Input: a part; output: plain values for JSON, and back. A Time does not travel.
"""

import json
from typing import Any, TypeAlias, cast

from core.said import Angle, Column, Length, Name, Number, Part, Said, Series, Size

Plain: TypeAlias = "str | float | bool | list[Plain] | dict[str, Plain] | None"

_KINDS: dict[str, Any] = {kind.__name__: kind for kind in (Said, Series, Column, Name, Length, Angle, Number, Size)}


def packed(part: Part) -> dict[str, Plain]:
    """The part as plain values; raises KeyError for a kind that does not travel."""
    kind = type(part).__name__
    fields = {name: _plain(getattr(part, name)) for name in _KINDS[kind].__struct_fields__}
    return {"kind": kind, **fields}


def as_line(part: Part) -> str:
    """The part as one line of JSON."""
    return json.dumps(packed(part))


def of_line(text: str) -> Part:
    """What a line says; one that is no part stands for itself, as a tool or a helper of another version words it."""
    try:
        return unpacked(json.loads(text))
    except ValueError:
        return Name(text)


def unpacked(plain: object) -> Part:
    """The part again; raises ValueError for anything that `packed` does not make."""
    if not isinstance(plain, dict) or plain.get("kind") not in _KINDS:
        raise ValueError("nothing that is said")
    fields = {name: _value(value) for name, value in plain.items() if name != "kind"}
    try:
        return cast(Part, _KINDS[plain["kind"]](**fields))
    except TypeError as error:
        raise ValueError("nothing that is said") from error


def _plain(value: object) -> Plain:
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    return cast(Plain, value) if isinstance(value, str | int | float) or value is None else packed(cast(Part, value))


def _value(value: object) -> object:
    if isinstance(value, list):
        return tuple(_value(item) for item in value)
    return unpacked(value) if isinstance(value, dict) else value
