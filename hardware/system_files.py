"""What a release has in the system outside of its own folder: units, device rules, settings; where each of them lies.

Stage: hardware. Input: a release's folder `system`. Output: links in /etc that lead through `current` into the release
that runs, so that an update from a stick brings them, and one that is taken back takes them with it. A link in /etc
goes before what the package put there: systemd.unit(5), udev(7), tmpfiles.d(5), sysctl.d(5).

Of what takes a release back a release brings nothing: the guard, and the unit that asks it at every boot.
"""

from collections.abc import Iterator
from pathlib import Path

# Within `system`, and within /etc or /usr/lib.
PLACES = {
    "systemd/cornerwise.service": "systemd/system/cornerwise.service",
    "systemd/cornerwise-trial.service": "systemd/system/cornerwise-trial.service",
    "systemd/cornerwise-helper.service": "systemd/system/cornerwise-helper.service",
    "systemd/cornerwise-helper.socket": "systemd/system/cornerwise-helper.socket",
    "systemd/cornerwise-gadget.service": "systemd/system/cornerwise-gadget.service",
    "systemd/cornerwise-shop.service": "systemd/system/cornerwise-shop.service",
    "systemd/cornerwise-shop.path": "systemd/system/cornerwise-shop.path",
    "systemd/gpiomem.conf": "systemd/system/cornerwise.service.d/gpiomem.conf",
    "systemd/journald.conf": "systemd/journald.conf.d/cornerwise.conf",
    "systemd/watchdog.conf": "systemd/system.conf.d/cornerwise.conf",
    "systemd/logind.conf": "systemd/logind.conf.d/cornerwise.conf",
    "systemd/sysctl.conf": "sysctl.d/90-cornerwise.conf",
    "systemd/tmpfiles.conf": "tmpfiles.d/cornerwise.conf",
    "udev/70-cornerwise.rules": "udev/rules.d/70-cornerwise.rules",
}
# Put there by the package alone.
FIXED = ("releases.py", "systemd/cornerwise-guard.service")
# Systemd would miss the device at every start where there is none: what put it there knew.
ONLY_WHERE_IT_IS = ("systemd/gpiomem.conf",)


def lay_links(program: Path, etc: Path) -> None:
    """Every place leads into the release that runs; each link is replaced in one step."""
    for source, link in _links(program, etc):
        if link.is_symlink() and link.readlink() == source:
            continue
        link.parent.mkdir(parents=True, exist_ok=True)
        fresh = link.with_name(f".{link.name}.new")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(source)
        fresh.replace(link)


def _links(program: Path, etc: Path) -> Iterator[tuple[Path, Path]]:
    for name, place in PLACES.items():
        if name not in ONLY_WHERE_IT_IS or (etc / place).exists():
            yield program / "current" / "system" / name, etc / place
