"""The catalogues as the package's build makes them, where a .po was changed since."""

from __future__ import annotations

from ui.speech.locale.catalogues import FOLDER, compile_into

if any(
    not (made := catalogue.with_suffix(".mo")).exists() or made.stat().st_mtime < catalogue.stat().st_mtime
    for catalogue in FOLDER.glob("*.po")
):
    compile_into(FOLDER)
