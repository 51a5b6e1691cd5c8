"""Makes a signed update for the stick out of a checkout: `python -m hardware.make_update --key KEY [--wheels DIR] OUT`.

Stage: the maker's computer, not the board. Input: the checkout, a private Ed25519 key of OpenSSH, and wheels of
libraries whose demands have changed since the releases that are to be updated. Output: `cornerwise-VERSION.update`.
The key stays where it is: never in the checkout, never on a board.
"""

import argparse
import hashlib
import json
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from hardware.licences import without_text
from hardware.system_files import FIXED, PLACES
from hardware.update_archive import FORMAT, MANIFEST, PURPOSE, SIGNATURE

ROOT = Path(__file__).resolve().parents[1]
SOURCES = ("pyproject.toml", "README.md", "core", "firmware_bridge", "hardware", "ui")
SUFFIX = ".update"
PYTHONS = ("3.11", "3.12", "3.13")
MACHINES = ("aarch64", "x86_64")


def build_wheel(checkout: Path, folder: Path) -> Path:
    """The program's own wheel, built from a copy of the checkout."""
    with TemporaryDirectory() as copy:
        for name in SOURCES:
            source = checkout / name
            if source.is_dir():
                shutil.copytree(source, Path(copy) / name, ignore=shutil.ignore_patterns("__pycache__"))
            else:
                shutil.copy(source, copy)
        command = [sys.executable, "-m", "pip", "wheel", "-q", "--disable-pip-version-check", "--no-deps"]
        subprocess.run([*command, "-w", str(folder), copy], check=True)
    (wheel,) = folder.glob("cornerwise-*.whl")
    return wheel


def system_digest(checkout: Path) -> str:
    """Over what no stick can bring: what takes a release back, and which places in the system a release has.

    What stands in those places, units and rules, comes with a release: see system_files.
    """
    digest = hashlib.sha256(json.dumps(PLACES, sort_keys=True).encode())
    for name in FIXED:
        digest.update((checkout / "hardware" / name).read_bytes())
    return digest.hexdigest()


def manifest_of(
    version: str, system: str, wheels: Sequence[Path], *, pythons: Sequence[str], machines: Sequence[str]
) -> bytes:
    """The manifest's bytes, as they are signed."""
    said = {
        "format": FORMAT,
        "version": version,
        "pythons": list(pythons),
        "machines": list(machines),
        "system": system,
        "wheels": {
            wheel.name: {"sha256": hashlib.sha256(wheel.read_bytes()).hexdigest(), "bytes": wheel.stat().st_size}
            for wheel in wheels
        },
    }
    return json.dumps(said, indent=1).encode() + b"\n"


def signature_of(manifest: bytes, key: Path) -> bytes:
    """The signature over the manifest; ssh-keygen asks for the key's passphrase itself."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / MANIFEST
        file.write_bytes(manifest)
        subprocess.run(["ssh-keygen", "-q", "-Y", "sign", "-f", str(key), "-n", PURPOSE, str(file)], check=True)
        return file.with_name(f"{MANIFEST}.sig").read_bytes()


def write_archive(target: Path, manifest: bytes, signature: bytes, wheels: Sequence[Path]) -> None:
    """The one file for the stick: stored, for wheels are compressed already."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(MANIFEST, manifest)
        archive.writestr(SIGNATURE, signature)
        for wheel in wheels:
            archive.write(wheel, wheel.name)


def main(argv: Sequence[str] | None = None) -> int:
    """Build, sign, write; says what the archive is called and for whom it is."""
    parser = argparse.ArgumentParser(prog="make_update", description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path, metavar="OUT", help="folder to write the archive into")
    parser.add_argument("--key", type=Path, required=True, help="private key (ssh-keygen -t ed25519)")
    parser.add_argument("--wheels", type=Path, metavar="DIR", help="wheels of libraries that must come along")
    parser.add_argument("--python", action="append", metavar="X.Y", help="a Python it is for (default: all)")
    parser.add_argument("--machine", action="append", metavar="NAME", help="a processor it is for (default: all)")
    args = parser.parse_args(argv)
    libraries = sorted(args.wheels.glob("*.whl")) if args.wheels else []
    if bare := without_text(libraries):
        parser.error(f"no licence text travels with {', '.join(bare)}: lay it into hardware/ as NAME-LICENSE.txt")
    with TemporaryDirectory() as folder:
        own = build_wheel(ROOT, Path(folder))
        version = own.name.split("-")[1]
        wheels = [own, *libraries]
        manifest = manifest_of(
            version, system_digest(ROOT), wheels, pythons=args.python or PYTHONS, machines=args.machine or MACHINES
        )
        args.out.mkdir(parents=True, exist_ok=True)
        target = args.out / f"cornerwise-{version}{SUFFIX}"
        write_archive(target, manifest, signature_of(manifest, args.key), wheels)
    print(f"{target}: {len(wheels)} wheels, {target.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
