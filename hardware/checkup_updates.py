"""The checkup of the installed program: which version runs, what can be gone back to, whose updates are taken."""

from pathlib import Path

from core.said import Name, said
from hardware.checkup import INSTALL, Check, absent, fine, read_text, wrong
from hardware.releases import current_release, previous_release, version_of

_NAME = "updates"


def check_updates(root: Path) -> Check:
    """Releases, the guard that takes one back, and the keys that are trusted."""
    program = root / "opt/cornerwise"
    here = current_release(program)
    if not here:
        return absent(_NAME, said("not put here by its package: no stick can update it"))
    if not (program / "guard/releases.py").is_file():
        says = said("what takes a version back that does not start is missing")
        return wrong(_NAME, says, INSTALL)
    before = version_of(previous_release(program))
    version = Name(version_of(here))
    says = said("version {version}", version=version)
    if before:
        says = said("version {version}, {before} before it", version=version, before=Name(before))
    keys = read_text(root / "etc/cornerwise/update-keys").count("ssh-ed25519 ")
    if not keys:
        to_do = said("a package made with --update-key MAKER.pub")
        return absent(_NAME, said("{version}; no maker's key is trusted", version=says), to_do)
    return fine(_NAME, said("{version}; makers' keys trusted: {keys}", version=says, keys=keys))
