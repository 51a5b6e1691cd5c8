"""What holds for every test: the catalogues as the package's build makes them, where a .po was changed since, and no
deadline for an example, for a busy machine may take any time over one."""

from __future__ import annotations

from hypothesis import settings

from ui.speech.locale.catalogues import FOLDER, compile_into

if any(
    not (made := catalogue.with_suffix(".mo")).exists() or made.stat().st_mtime < catalogue.stat().st_mtime
    for catalogue in FOLDER.glob("*.po")
):
    compile_into(FOLDER)

settings.register_profile("house", deadline=None)
settings.load_profile("house")
