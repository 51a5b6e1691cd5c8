"""The checkup of the installed program: which version runs, what can be gone back to, whose updates are taken."""

from pathlib import Path

from core.said import Name, said
from hardware.checkup import Check, Standing, installer, read_text
from hardware.releases import current_release, previous_release, version_of

_NAME = "updates"


def check_updates(root: Path) -> Check:
    """Releases, the guard that takes one back, and the keys that are trusted."""
    program = root / "opt/cornerwise"
    here = current_release(program)
    if not here:
        return Check(
            name=_NAME, standing=Standing.ABSENT, says=said("not put here by its installer: no stick can update it")
        )
    if not (program / "guard/releases.py").is_file():
        says = said("what takes a version back that does not start is missing")
        return Check(name=_NAME, standing=Standing.NOT_OK, says=says, to_do=installer(root))
    before = version_of(previous_release(program))
    version = Name(version_of(here))
    says = said("version {version}", version=version)
    if before:
        says = said("version {version}, {before} before it", version=version, before=Name(before))
    keys = read_text(root / "etc/cornerwise/update-keys").count("ssh-ed25519 ")
    if not keys:
        to_do = said("made once more, by package or installer, with --update-key MAKER.pub")
        return Check(
            name=_NAME,
            standing=Standing.ABSENT,
            says=said("{version}; no maker's key is trusted", version=says),
            to_do=to_do,
        )
    return Check(
        name=_NAME,
        standing=Standing.OK,
        says=said("{version}; makers' keys trusted: {keys}", version=says, keys=keys),
    )
