"""Frozen values to JSON values and back, driven by their type hints; used for everything the records keep.

A field missing in the JSON takes the value's default, an unknown one is ignored: so a field may be added with a
default without a new version. Numbers are written so that they read back as the same float (Python's shortest repr).
"""

import json
import math
import types
import typing
from datetime import UTC, datetime
from enum import Enum
from functools import cache
from typing import TypeVar

from msgspec import Struct

from core.errors import BadInputError, reason_of
from core.said import Name, said

JsonValue = None | bool | int | float | str | list["JsonValue"] | dict[str, "JsonValue"]
T = TypeVar("T")

# Where a field may hold one of several values, this key names which.
CLASS_KEY = "class"

# No record of ours nests deeper than six.
MAX_NESTING = 32
# What SQLite keeps as an integer.
_MAX_INTEGER = 2**63 - 1
# Worked out once a class: for every value anew it was a quarter of what reading a session took.
_hints_of = cache(typing.get_type_hints)
_SHOWN = 80


def to_json(value: object) -> JsonValue:
    """The JSON value of a Struct, tuple, enum, UTC time or plain value; raises TypeError for anything else."""
    if isinstance(value, Struct):
        members = {name: to_json(getattr(value, name)) for name in value.__struct_fields__}
        return {CLASS_KEY: type(value).__name__, **members}
    if isinstance(value, Enum):
        return to_json(value.value)
    if isinstance(value, datetime):
        return time_text(value)
    if isinstance(value, tuple):
        return [to_json(item) for item in value]
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise TypeError(f"{type(value).__name__} has no place in a record")


def from_json(kind: type[T], data: JsonValue) -> T:
    """The Struct `kind` from its JSON value; raises BadInputError naming the field that does not fit."""
    result = _decode(kind, data, kind.__name__)
    assert isinstance(result, kind)
    return result


def dump(data: JsonValue) -> str:
    """One line of JSON, the same on every machine; refuses NaN and infinity with ValueError."""
    return json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def load(text: str) -> JsonValue:
    """Parse JSON text; raises BadInputError where it is none, or holds what no record may.

    That is: numbers that are not finite or that no column takes, nesting without end, and letters that cannot be
    written again (lone surrogates).
    """
    try:
        data: JsonValue = json.loads(text, parse_constant=_refuse, parse_float=_finite, parse_int=_integer)
    except (ValueError, RecursionError) as exc:
        reason = said("it is nested too deeply") if isinstance(exc, RecursionError) else Name(str(exc))
        raise BadInputError(said("this is not JSON: {reason}", reason=reason)) from exc
    if text.count("[") + text.count("{") > MAX_NESTING or "\\ud" in text.lower():
        _check_tree(data)
    return data


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _finite(text: str) -> float:
    number = float(text)
    return number if math.isfinite(number) else _refuse(text[:_SHOWN])


def _integer(text: str) -> int:
    # Python itself refuses to read thousands of digits, which is a ValueError too.
    number = int(text)
    if abs(number) > _MAX_INTEGER:
        raise ValueError(f"{text[:_SHOWN]} is too large")
    return number


def _check_tree(data: JsonValue) -> None:
    level: list[JsonValue] = [data]
    for _ in range(MAX_NESTING):
        inner: list[JsonValue] = []
        for value in level:
            match value:
                case str():
                    _check_letters(value)
                case list():
                    inner += value
                case dict():
                    inner += [*value, *value.values()]
        if not inner:
            return
        level = inner
    raise BadInputError(said("this is not JSON: it is nested too deeply"))


def _check_letters(text: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError as exc:
        raise BadInputError(
            said("{shown} holds half a letter, which cannot be stored", shown=Name(_shown(text)))
        ) from exc


def _shown(data: object) -> str:
    """A value from elsewhere within a sentence: never longer than a line."""
    text = repr(data)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."


def time_text(time: datetime) -> str:
    """ISO 8601 in UTC with milliseconds, such as 2026-03-01T14:05:09.250Z."""
    return time.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def parse_time(text: str) -> datetime:
    """The UTC time of an ISO 8601 text; raises BadInputError."""
    try:
        return datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError, OSError) as exc:
        raise BadInputError(
            said("{shown} is not a time such as 2026-03-01T14:05:09.250Z", shown=Name(_shown(text)))
        ) from exc


def _decode(hint: object, data: JsonValue, where: str) -> object:
    origin = typing.get_origin(hint)
    if origin in (types.UnionType, typing.Union):
        return _decode_union(typing.get_args(hint), data, where)
    if origin is tuple:
        return _decode_tuple(typing.get_args(hint), data, where)
    if isinstance(hint, type):
        return _decode_plain(hint, data, where)
    raise TypeError(f"{where}: the type {hint!r} has no place in a record")


def _decode_plain(hint: type, data: JsonValue, where: str) -> object:
    if issubclass(hint, Struct):
        return _decode_value(hint, data, where)
    if issubclass(hint, Enum):
        try:
            return hint(data)
        except ValueError as exc:
            words = ", ".join(str(item.value) for item in hint)
            raise BadInputError(
                said(
                    "{where}: {shown} is none of {words}",
                    where=Name(where),
                    shown=Name(_shown(data)),
                    words=Name(words),
                )
            ) from exc
    if hint is datetime and isinstance(data, str):
        return parse_time(data)
    if hint is float and isinstance(data, int | float) and not isinstance(data, bool):
        return float(data)
    if hint is type(None) and data is None:
        return None
    if hint in (bool, int, str) and type(data) is hint:
        return data
    raise _misfit(where, data, hint)


def _decode_value(kind: type[Struct], data: JsonValue, where: str) -> object:
    if not isinstance(data, dict):
        raise _misfit(where, data, kind)
    hints = _hints_of(kind)
    members = {
        name: _decode(hints[name], data[name], f"{where}.{name}") for name in kind.__struct_fields__ if name in data
    }
    try:
        return kind(**members)
    except TypeError as exc:
        raise BadInputError(said("{where}: a field is missing ({exc})", where=Name(where), exc=Name(str(exc)))) from exc
    except ValueError as exc:
        raise BadInputError(said("{file}: {what}", file=Name(where), what=reason_of(exc))) from exc


def _misfit(where: str, data: JsonValue, kind: type) -> BadInputError:
    what = said("{where}: {shown} is no {kind}", where=Name(where), shown=Name(_shown(data)), kind=Name(kind.__name__))
    return BadInputError(what)


def _decode_union(choices: tuple[object, ...], data: JsonValue, where: str) -> object:
    if data is None and type(None) in choices:
        return None
    named = data.get(CLASS_KEY) if isinstance(data, dict) else None
    for choice in choices:
        if named is not None and isinstance(choice, type) and choice.__name__ == named:
            return _decode(choice, data, where)
    # Two plain types in one union (int | float, say) are told apart by trying; the last failure is the one to show.
    failure = BadInputError(said("{where}: {shown} does not fit", where=Name(where), shown=Name(_shown(data))))
    for choice in choices:
        try:
            return _decode(choice, data, where)
        except BadInputError as exc:
            failure = exc if choice is not type(None) else failure
    raise failure


def _decode_tuple(items: tuple[object, ...], data: JsonValue, where: str) -> tuple[object, ...]:
    if not isinstance(data, list):
        raise BadInputError(said("{where}: {shown} is no list", where=Name(where), shown=Name(_shown(data))))
    hints = (items[0],) * len(data) if len(items) == 2 and items[1] is Ellipsis else items
    if len(hints) != len(data):
        raise BadInputError(
            said("{where}: {data} items where {hints} belong", where=Name(where), data=len(data), hints=len(hints))
        )
    pairs = enumerate(zip(hints, data, strict=True))
    return tuple(_decode(hint, item, f"{where}[{place}]") for place, (hint, item) in pairs)
