"""The Debian package on a bare system in a folder, and its upgrade with the plug pulled at any instant:

    python tests/endurance/package_installs.py --system ROOT.tar --package A.deb --later B.deb [--kills 100] [--seed 20]
    python tests/endurance/package_installs.py --system ROOT.tar --small [--kills 100] [--seed 20]

ROOT.tar is a bare Debian for this processor with Python (mmdebstrap makes one); A and B are packages of two commits.
Needs root, overlayfs and Debian's mirror. Installs A, measures a simulated coupon, then upgrades to B again and again,
each time from the same state, with every process of it killed after a random share of an upgrade's time; whatever
there is then must be one whole release that loads. Every tenth is finished by dpkg. At last B is removed and purged:
the records stay. A killed process is no power cut: what it wrote reaches the disk; that dpkg and the script sync in the
right order is not shown here. Nothing of systemd runs in the folder.
`--small` kills upgrades of two packages with the real scripts and a small program, which says its version only when
each of its files has its checksum: seconds a kill, where the whole program takes half a minute.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from hardware.releases import PROGRAM  # noqa: E402
from hardware.system_files import PLACES  # noqa: E402

CLEAN = ["env", "-i", "PATH=/usr/sbin:/usr/bin:/sbin:/bin", "HOME=/root", "LANG=C.UTF-8"]
CLEAN += ["DEBIAN_FRONTEND=noninteractive"]
# A person's own records, whatever is done to the package.
RECORDS = "var/lib/cornerwise"
FINISHED_EVERY = 10
# Of the small program, a third of them changes from one version to the next.
PARTS = 300
SMALL_RELEASE = "{version}-small"
SMALL_PROGRAM = """#!/opt/cornerwise/releases/{release}/bin/python
import hashlib, pathlib
release = pathlib.Path("/opt/cornerwise/releases/{release}")
for line in (release / "sums").read_text().splitlines():
    digest, name = line.split("  ")
    assert hashlib.sha256((release / name).read_bytes()).hexdigest() == digest, name
print("cornerwise {version}")
"""
SMALL_CONTROL = """Package: cornerwise
Version: {version}
Architecture: all
Maintainer: tests <tests@cornerwise.invalid>
Description: a small program in the place of the whole one
"""


class System:
    """A bare system in a folder; what is done to it can be thrown away."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def command(self, *words: str) -> list[str]:
        """In a process space of its own, so that nothing of it outlives a kill."""
        return ["unshare", "--pid", "--fork", "--kill-child", "--mount-proc", "--root", str(self.root), *CLEAN, *words]

    def run(self, *words: str, status: int | None = 0) -> str:
        """As root inside: what it says."""
        done = subprocess.run(self.command(*words), capture_output=True, text=True, check=False)
        assert status is None or done.returncode == status, f"{words}: {done.returncode}\n{done.stdout}{done.stderr}"
        return (done.stdout + done.stderr).strip()

    def take(self, package: Path) -> str:
        """A copy of the package inside; its name there."""
        shutil.copy(package, self.root / "root")
        return f"/root/{package.name}"

    def release(self) -> str:
        """The release that would be started."""
        return (self.root / "opt/cornerwise/current").readlink().name

    def loads(self) -> str:
        """The release that is started loads, and says its version; it is whole."""
        assert (self.root / f"opt/cornerwise/releases/{self.release()}/complete").is_file()
        return self.run("/usr/bin/cornerwise", "--self-check")


class Layer:
    """The system as it was left, with whatever comes now in a layer that goes."""

    def __init__(self, lower: Path, folder: Path) -> None:
        self.lower, self.folder = lower, folder

    def __enter__(self) -> System:
        for name in ("upper", "work", "at"):
            (self.folder / name).mkdir()
        options = f"lowerdir={self.lower},upperdir={self.folder / 'upper'},workdir={self.folder / 'work'}"
        subprocess.run(["mount", "-t", "overlay", "overlay", "-o", options, self.folder / "at"], check=True)
        return System(self.folder / "at")

    def __exit__(self, *_: object) -> None:
        subprocess.run(["umount", self.folder / "at"], check=True)
        for name in ("upper", "work", "at"):
            shutil.rmtree(self.folder / name)


def small_package(folder: Path, version: str) -> Path:
    """A package as make_package lays it out, with the real scripts and guard, around a small program."""
    release, top = SMALL_RELEASE.format(version=version), folder / version
    unpacked = top / PROGRAM.relative_to("/") / "unpacked" / release
    site = Path("lib/python3.11/site-packages")
    for name in ("hardware", "parts"):
        (unpacked / site / name).mkdir(parents=True)
    for name in ("releases.py", "shared_files.py"):
        shutil.copy(ROOT / "hardware" / name, unpacked / site / "hardware")
    for part in range(PARTS):
        text = f"PART = {part}\nVERSION = {version if part % 3 == 0 else '0'!r}\n" * 100
        (unpacked / site / f"parts/part_{part}.py").write_text(text)
    files = [path for path in sorted(unpacked.rglob("*")) if path.is_file()]
    sums = [f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(unpacked)}\n" for path in files]
    (unpacked / "sums").write_text("".join(sums))
    (unpacked / "system").symlink_to(site / "hardware")
    (unpacked / "bin").mkdir()
    (unpacked / "bin/cornerwise").write_text(SMALL_PROGRAM.format(release=release, version=version))
    (unpacked / "bin/cornerwise").chmod(0o755)
    guard, commands = top / PROGRAM.relative_to("/") / "guard", top / "usr/bin"
    guard.mkdir()
    commands.mkdir(parents=True)
    shutil.copy(ROOT / "hardware/releases.py", guard)
    (commands / "cornerwise").symlink_to(PROGRAM / "current/bin/cornerwise")
    (top / "DEBIAN").mkdir()
    (top / "DEBIAN/control").write_text(SMALL_CONTROL.format(version=version))
    for script in ("postinst", "postrm"):
        text = (ROOT / f"hardware/debian/cornerwise.{script}").read_text().replace("@RELEASE@", release)
        (top / "DEBIAN" / script).write_text(text)
        (top / "DEBIAN" / script).chmod(0o755)
    made = folder / f"{version}.deb"
    subprocess.run(["dpkg-deb", "-Znone", "--root-owner-group", "-b", top, made], check=True, capture_output=True)
    return made


def install_small(system: System, package: Path) -> None:
    """On the bare system, whose pip is a small one as well."""
    for wheel in (system.root / "usr/share/python-wheels").glob("pip-*.whl"):
        wheel.unlink()
    wheel = system.root / "usr/share/python-wheels/pip-0-py3-none-any.whl"
    wheel.parent.mkdir(parents=True, exist_ok=True)
    with zipfile.ZipFile(wheel, "w") as archive:
        archive.writestr("pip/__init__.py", "")
    system.run("dpkg", "--install", system.take(package))
    (system.root / RECORDS).mkdir()
    (system.root / RECORDS / "archive.sqlite").write_bytes(b"a person's own")
    print(f"installed: {system.loads()}", flush=True)


def records(system: System) -> dict[str, bytes]:
    """What a person measured, by file."""
    return {path.name: path.read_bytes() for path in (system.root / RECORDS).rglob("*.sqlite")}


def install(system: System, package: Path) -> None:
    """On the bare system; a coupon is judged and kept."""
    (system.root / "etc/resolv.conf").unlink(missing_ok=True)  # a link to what a running system has
    shutil.copy("/etc/resolv.conf", system.root / "etc/resolv.conf")
    system.run("apt-get", "-qq", "update")
    begun_s = time.monotonic()
    system.run("apt-get", "-y", "install", system.take(package))
    used = system.run("du", "-sm", "/opt/cornerwise").split()[0]
    print(f"installed in {time.monotonic() - begun_s:.0f} s, {used} MB: {system.loads()}", flush=True)
    print(system.run("/opt/cornerwise/current/bin/python", "-I", "-m", "pip", "check"))
    words = ("cornerwise", "--simulate", "--text", "--data", "/var/lib/cornerwise")
    subprocess.run(system.command("sh", "-c", f"{' '.join(words)} </dev/null"), capture_output=True, check=False)
    assert records(system)


def pull_the_plug(command: subprocess.Popen[bytes]) -> None:
    """Kill all that it started at once; until nothing of it is left: its first process takes the others along."""
    children = Path(f"/proc/{command.pid}/task/{command.pid}/children").read_text().split()
    os.kill(int(children[0]) if children else command.pid, signal.SIGKILL)
    command.wait()


def killed_upgrades(root: Path, folder: Path, later: Path, kills: int, seed: int) -> None:
    """Each from the same state, each cut off somewhere else."""
    before = System(root).release()
    with Layer(root, folder) as system:
        begun_s = time.monotonic()
        system.run("dpkg", "--install", system.take(later))
        whole_s = time.monotonic() - begun_s
        after = system.release()
        assert after != before
        assert (system.root / "opt/cornerwise/previous").readlink().name == before
        way_back = f"/opt/cornerwise/releases/{before}/bin/cornerwise"
        print(
            f"upgraded in {whole_s:.0f} s, {system.loads()}; the way back loads: {system.run(way_back, '--self-check')}"
        )
    chance, ran, taken_away = random.Random(seed), {before: 0, after: 0}, 0
    for kill in range(1, kills + 1):
        with Layer(root, folder) as system:
            words = system.command("dpkg", "--install", system.take(later))
            upgrade = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            at_s = chance.uniform(0, whole_s)
            try:
                upgrade.wait(at_s)
            except subprocess.TimeoutExpired:
                pull_the_plug(upgrade)
            system.loads()
            ran[system.release()] += 1
            # Were the release dpkg's own files, this one would be started without them.
            files = system.root / "opt/cornerwise/unpacked" / system.release() / "bin/cornerwise"
            taken_away += not files.exists()
            if kill % FINISHED_EVERY == 0:
                state = system.run("dpkg-query", "-W", "-f", "${db:Status-Status}", "cornerwise")
                system.run("dpkg", "--configure", "-a", status=None)
                system.run("dpkg", "--install", f"/root/{later.name}")
                system.loads()
                assert system.release() == after
                print(f"{kill}: cut after {at_s:.1f} s, {state}; then finished", flush=True)
    print(f"{kills} kills, seed {seed}: one whole release loads each time; before: {ran[before]}, later: {ran[after]}")
    print(f"of the release that loads dpkg had taken away its own copy {taken_away} times")


def remove(system: System, later: Path) -> None:
    """Upgraded, removed, purged: the records are what they were."""
    kept = records(system)
    system.run("dpkg", "--install", system.take(later))
    for source, place in PLACES.items():  # as an update from a stick lays them
        (system.root / "etc" / place).parent.mkdir(parents=True, exist_ok=True)
        (system.root / "etc" / place).symlink_to(PROGRAM / "current/system" / source)
    for verb in ("remove", "purge"):
        system.run("apt-get", "-y", verb, "cornerwise")
        assert not (system.root / "opt/cornerwise").exists()
        assert not [place for place in PLACES.values() if (system.root / "etc" / place).is_symlink()], "links are left"
        assert records(system) == kept
    print("removed and purged: the records stay, byte for byte")


def main() -> int:
    """Every step, or an assertion that says which one failed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--system", type=Path, required=True)
    parser.add_argument("--package", type=Path)
    parser.add_argument("--later", type=Path)
    parser.add_argument("--small", action="store_true", help="a small program in the packages, made here")
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--scratch", default="/var/tmp", help="where it works; in memory (/dev/shm) it is quicker")
    args = parser.parse_args()
    if not args.small and not (args.package and args.later):
        parser.error("--package and --later, or --small")
    with TemporaryDirectory(dir=args.scratch) as name:
        root = Path(name, "root")
        root.mkdir()
        subprocess.run(["tar", "-C", root, "--numeric-owner", "-xpf", args.system], check=True)
        if args.small:
            first, later = (small_package(Path(name), version) for version in ("0.1.0", "0.2.0"))
            install_small(System(root), first)
        else:
            later = args.later
            install(System(root), args.package)
        killed_upgrades(root, Path(name), later, args.kills, args.seed)
        remove(System(root), later)
    return 0


if __name__ == "__main__":
    sys.exit(main())
