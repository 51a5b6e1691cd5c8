"""How many examples are tried: what the profile says, and where one takes long a share of it."""

from typing import Any

from hypothesis import settings


def some_of_all(percent: int, **others: Any) -> settings:
    """This share of the profile's examples; `others` are further settings."""
    return settings(max_examples=settings().max_examples * percent // 100, **others)
