"""Makes the Debian package out of a checkout: `python -m hardware.make_package OUT [--machine NAME] [--python X.Y]`.

Stage: the maker's computer, not the board. Input: the checkout as committed and the lock file, whose checksums hold for
every library. Output: `cornerwise_VERSION+deb12_arm64.deb`, the same bytes whenever it is made of one commit by the
same tools (SOURCE_DATE_EPOCH is the commit's time). Needs debhelper, git and the package index.

`apt install ./cornerwise_*.deb` makes a bare system the instrument; `apt remove` leaves the records.
"""

import argparse
import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from email.utils import formatdate
from pathlib import Path
from tempfile import TemporaryDirectory

from msgspec import Struct

from core import __version__
from hardware.make_update import ROOT, SOURCES, build_wheel, system_digest
from hardware.releases import PROGRAM
from hardware.system_files import FIXED, ONLY_WHERE_IT_IS, PLACES
from hardware.update_archive import PURPOSE, SIGNER

DEBIAN = {"aarch64": "arm64", "x86_64": "amd64"}
# What Debian 12 and 13 can run: glibc 2.36 and 2.41.
GLIBC_MINORS = (17, 24, 26, 27, 28, 31, 34, 35, 36)
# Where debhelper looks for units.
UNITS = "lib/systemd/system"
# What debhelper puts where it belongs, by names of its own.
BY_DEBHELPER = {"udev/70-cornerwise.rules": "cornerwise.udev", "systemd/tmpfiles.conf": "cornerwise.tmpfiles"}
# Whose Python that is: part of the package's version, so that one release's packages are told apart by their names.
SYSTEMS = {"3.11": "deb12", "3.13": "deb13"}
# All that a bench can have: instruments on radio, and its shop.
LOCK = "hardware/locks/pi.txt"
# What only builds: the program is built. And what Debian has as packages of its own, built for the board.
LEFT_OUT = ("babel", "setuptools", "rpi-gpio", "evdev")
SCRIPT = "#!{release}/bin/python\nimport sys\n\nfrom ui.command_line.entry import main\n\nsys.exit(main())\n"


class Target(Struct, frozen=True, kw_only=True):
    """For which machine, and for which of its Pythons (`3.11`)."""

    machine: str
    python: str

    @property
    def site_packages(self) -> Path:
        """Within a release."""
        return Path("lib") / f"python{self.python}" / "site-packages"

    @property
    def version(self) -> str:
        """The package's: the same release for the next Debian is the later one."""
        return f"{__version__}+{SYSTEMS[self.python]}"

    @property
    def depends(self) -> str:
        """The one Python that the libraries were built for."""
        major, minor = self.python.split(".")
        return f"python3 (>= {self.python}), python3 (<< {major}.{int(minor) + 1}), python3-venv"


def commit_time_s(checkout: Path) -> int:
    """When what is checked out was committed, seconds of the Unix epoch."""
    said = subprocess.run(
        ["git", "log", "-1", "--format=%ct"], cwd=checkout, capture_output=True, text=True, check=True
    )
    return int(said.stdout)


def release_name(checkout: Path, target: Target) -> str:
    """The release's folder: its version, and a sum over all that it is made of."""
    digest = hashlib.sha256(repr(target).encode() + (checkout / LOCK).read_bytes())
    for name in SOURCES:
        source = checkout / name
        files = sorted(source.rglob("*")) if source.is_dir() else [source]
        for file in files:
            if file.is_file() and file.suffix not in (".pyc", ".mo"):
                digest.update(file.read_bytes())
    return f"{__version__}-{digest.hexdigest()[:10]}"


def what_comes_along(locked: str) -> str:
    """The lock file without what is left out; an entry goes on in lines that are set in."""
    entries = re.split(r"^(?=\S)", locked, flags=re.MULTILINE)
    return "".join(entry for entry in entries if entry.partition("==")[0] not in LEFT_OUT)


def fill_release(release: Path, target: Target, checkout: Path) -> None:
    """The libraries of the lock file for that machine, over them the program; nothing that says where it was made."""
    site = release / target.site_packages
    tags = [option for minor in GLIBC_MINORS for option in ("--platform", f"manylinux_2_{minor}_{target.machine}")]
    tags += [
        "--platform",
        f"manylinux2014_{target.machine}",
        "--implementation",
        "cp",
        "--python-version",
        target.python,
    ]
    pip = [sys.executable, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-compile", "--no-deps"]
    into = ["--target", str(site), "--only-binary=:all:", *tags]
    with TemporaryDirectory() as folder:
        wanted = Path(folder) / "wanted.txt"
        wanted.write_text(what_comes_along((checkout / LOCK).read_text()))
        subprocess.run([*pip, *into, "--require-hashes", "-r", str(wanted)], check=True)
        build_wheel(checkout, Path(folder))
        # By its name: beside what is installed from a path pip writes down the path.
        own = ["--no-index", "--find-links", folder, f"cornerwise=={__version__}"]
        subprocess.run([*pip, *into, *own], check=True)
    for name in ("bin", "share"):  # commands of the libraries, which name this computer's Python, and examples
        shutil.rmtree(site / name, ignore_errors=True)
    for unused in [*site.glob("**/tests"), site / "kivy/tools"]:  # of the libraries
        shutil.rmtree(unused)
    for record in site.glob("*.dist-info/RECORD"):
        settle_record(record)


def settle_record(record: Path) -> None:
    """What is not there any more is not listed either: pip takes a later version by this list."""
    kept = [line for line in record.read_text().splitlines() if (record.parent.parent / line.split(",")[0]).exists()]
    record.write_text("".join(f"{line}\n" for line in kept))


def where_it_unpacks() -> dict[str, str]:
    """Units and settings below `hardware`, and where they lie on the machine."""
    left_out = (*BY_DEBHELPER, *ONLY_WHERE_IT_IS)
    settings = {source: f"usr/lib/{place}" for source, place in PLACES.items() if source not in left_out}
    units = [source for source in (*PLACES, *FIXED) if source.endswith((".service", ".socket", ".path"))]
    return settings | {source: f"{UNITS}/{Path(source).name}" for source in units}


def lay_key(root: Path, public: Path) -> None:
    """Whose updates on a stick are trusted; ValueError for anything but a public key."""
    key = public.read_text(encoding="ascii").strip()
    if not re.fullmatch(r"ssh-ed25519 \S+( [^\n]*)?", key):
        raise ValueError(f"{public} is no public Ed25519 key (made by: ssh-keygen -t ed25519)")
    trusted = root / "etc/cornerwise/update-keys"
    trusted.parent.mkdir(parents=True)
    trusted.write_text(f'{SIGNER} namespaces="{PURPOSE}" {key}\n', encoding="ascii")


def lay_tree(root: Path, release: str, target: Target, checkout: Path) -> None:
    """Everything that the package unpacks."""
    folder = root / PROGRAM.relative_to("/") / "unpacked" / release
    fill_release(folder, target, checkout)
    script = folder / "bin" / "cornerwise"
    script.parent.mkdir()
    script.write_text(SCRIPT.format(release=PROGRAM / "releases" / release))
    script.chmod(0o755)
    (folder / "system").symlink_to(target.site_packages / "hardware")
    program = root / PROGRAM.relative_to("/")
    (program / "guard").mkdir()
    shutil.copy(checkout / "hardware/releases.py", program / "guard")
    (program / "system-digest").write_text(system_digest(checkout) + "\n")
    for source, place in where_it_unpacks().items():
        (root / place).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(checkout / "hardware" / source, root / place)
    (root / "usr/bin").mkdir()
    (root / "usr/bin/cornerwise").symlink_to(PROGRAM / "current/bin/cornerwise")


def lay_debian(debian: Path, release: str, target: Target, committed_s: int, checkout: Path) -> None:
    """debhelper's folder: the house's own, and what is named after the commit and the system."""
    own = checkout / "hardware"
    shutil.copytree(own / "debian", debian)
    for source, name in BY_DEBHELPER.items():
        shutil.copy(own / source, debian / name)
    postinst = debian / "cornerwise.postinst"
    postinst.write_text(postinst.read_text().replace("@RELEASE@", release))
    maintainer = "The founders of Cornerwise <founders@cornerwise.invalid>"
    (debian / "changelog").write_text(
        f"cornerwise ({target.version}) unstable; urgency=medium\n\n  * Release {release}.\n\n"
        f" -- {maintainer}  {formatdate(committed_s)}\n"
    )


def settle_rights(root: Path) -> None:
    """Whoever made it: what is run may be run by all, all else is read."""
    for path in (root, *root.rglob("*")):
        if not path.is_symlink():
            path.chmod(0o755 if path.is_dir() or path.parent.name == "bin" else 0o644)


def settle_times(folder: Path, time_s: int) -> None:
    """One time for everything: dpkg-deb keeps an older one, such as that of a checkout."""
    for path in (folder, *folder.rglob("*")):
        os.utime(path, (time_s, time_s), follow_symlinks=False)


def make_package(out: Path, target: Target, checkout: Path = ROOT, update_key: Path | None = None) -> Path:
    """Build it; where it lies. A bench that it is put on trusts the maker's public key, where one is given."""
    with TemporaryDirectory() as name:
        source, committed = Path(name) / "cornerwise", Path(name) / "committed"
        # What is committed, whatever somebody does to the checkout meanwhile.
        subprocess.run(["git", "clone", "-q", str(checkout), str(committed)], check=True)
        committed_s, release = commit_time_s(committed), release_name(committed, target)
        lay_tree(source / "root", release, target, committed)
        if update_key:
            lay_key(source / "root", update_key)
        settle_rights(source / "root")
        lay_debian(source / "debian", release, target, committed_s, committed)
        settle_times(source, committed_s)
        environment = {
            **os.environ,
            "SOURCE_DATE_EPOCH": str(committed_s),
            "DPKG_DEB_THREADS_MAX": "1",  # how many of them there are changes the bytes
            "SUBSTITUTIONS": f"'-Vpython:Depends={target.depends}'",
        }
        command = ["dpkg-buildpackage", "-b", "-us", "-uc", "-d", f"-a{DEBIAN[target.machine]}"]
        subprocess.run(command, cwd=source, env=environment, check=True)
        (made,) = Path(name).glob("*.deb")
        out.mkdir(parents=True, exist_ok=True)
        return Path(shutil.move(made, out / made.name))


def main(argv: Sequence[str] | None = None) -> int:
    """Build; says what it is called, how large it is, and its sum."""
    parser = argparse.ArgumentParser(prog="make_package", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path, metavar="OUT", help="folder to write the package into")
    parser.add_argument("--machine", choices=DEBIAN, default="aarch64", help="whose libraries (default: aarch64)")
    parser.add_argument("--python", choices=SYSTEMS, default="3.11", help="its system's Python (default: 3.11)")
    parser.add_argument("--update-key", type=Path, metavar="FILE", help="public key whose updates on a stick it trusts")
    args = parser.parse_args(argv)
    target = Target(machine=args.machine, python=args.python)
    try:
        made = make_package(args.out, target, update_key=args.update_key)
    except ValueError as error:
        parser.error(str(error))
    print(f"{made}: {made.stat().st_size / 1e6:.1f} MB, sha256 {hashlib.sha256(made.read_bytes()).hexdigest()}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
