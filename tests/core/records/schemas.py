"""The JSON schemas of the repository, which what leaves the bench is held against."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any


def schema(name: str) -> Any:
    return json.loads(resources.files("core.records.schema").joinpath(f"{name}.schema.json").read_text("utf-8"))
