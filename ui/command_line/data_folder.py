"""Where the bench keeps its records: one folder, and a separate one for simulated data so that the two never mix."""

from __future__ import annotations

import os
from pathlib import Path


def data_folder(chosen: Path | None, *, simulated: bool) -> Path:
    """The folder for the archive and settings: the chosen one, else $CORNERWISE_DATA, else the XDG data folder."""
    if chosen is not None:
        root = chosen
    elif given := os.environ.get("CORNERWISE_DATA"):
        root = Path(given)
    else:
        root = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "cornerwise"
    return root / "simulated" if simulated else root
