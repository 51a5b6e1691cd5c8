"""What an update is made of, for tests: keys, small real wheels, archives, an installed program in a folder."""

from __future__ import annotations

import base64
import hashlib
import platform
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Self

from hardware.make_update import manifest_of, signature_of, write_archive
from hardware.root_verbs import RootPlaces
from hardware.update_archive import PURPOSE, SIGNER

PYTHON = "{}.{}".format(*sys.version_info)
SYSTEM = "ab" * 32
HERE = "0.1.0-1"
# The least that behaves as the program does towards its updater.
PROGRAM = """
import sys
VERSION = {version!r}
def main():
    assert sys.argv[1:] == ["--self-check"]
    print("cornerwise", VERSION)
"""


def make_key(folder: Path, name: str) -> Path:
    """A private key without a passphrase; its public half lies beside it."""
    key = folder / name
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", name, "-f", str(key)], check=True)
    return key


def trust(key: Path, trusted: Path) -> None:
    """As the package has it."""
    public = key.with_name(f"{key.name}.pub").read_text()
    trusted.parent.mkdir(parents=True, exist_ok=True)
    trusted.write_text(f'{SIGNER} namespaces="{PURPOSE}" {public}')


def make_wheel(
    folder: Path, version: str, *, program: str = PROGRAM, needs: str = "", name: str = "cornerwise"
) -> Path:
    """A real wheel, written by its standard (PyPA, binary distribution format) without a build."""
    info = f"{name}-{version}.dist-info"
    metadata = f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n"
    files = {
        f"{name}_program.py": program.format(version=version),
        f"{info}/METADATA": metadata + (f"Requires-Dist: {needs}\n" if needs else ""),
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: tests\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
        f"{info}/entry_points.txt": f"[console_scripts]\n{name} = {name}_program:main\n",
    }
    digests = {path: hashlib.sha256(text.encode()).digest() for path, text in files.items()}
    record = "".join(
        f"{path},sha256={base64.urlsafe_b64encode(digest).rstrip(b'=').decode()},{len(files[path])}\n"
        for path, digest in digests.items()
    )
    folder.mkdir(parents=True, exist_ok=True)
    wheel = folder / f"{name}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in files.items():
            archive.writestr(path, text)
        archive.writestr(f"{info}/RECORD", f"{record}{info}/RECORD,,\n")
    return wheel


def make_archive(
    target: Path,
    key: Path,
    wheels: Sequence[Path],
    *,
    version: str = "0.2.0",
    pythons: Sequence[str] = (PYTHON,),
    machines: Sequence[str] = (platform.machine(),),
    system: str = SYSTEM,
    manifest: Callable[[bytes], bytes] = lambda manifest: manifest,
) -> Path:
    """A signed archive; `manifest` may change what is said before it is signed."""
    said = manifest(manifest_of(version, system, wheels, pythons=pythons, machines=machines))
    write_archive(target, said, signature_of(said, key), wheels)
    return target


class InstalledProgram:
    """/opt/cornerwise in a folder, with a release that runs, a key that is trusted, and a stick."""

    def __init__(self, folder: Path) -> None:
        self._places(folder)
        self.key = make_key(folder, "maker")
        self.stick.mkdir()
        self.release(HERE)
        (self.program / "current").symlink_to(self.program / "releases" / HERE)
        (self.program / "system-digest").write_text(SYSTEM + "\n")
        trust(self.key, self.places.update_keys)

    @classmethod
    def found(cls, folder: Path) -> Self:
        """One that was made in this folder before, maybe by another process."""
        again = cls.__new__(cls)
        again._places(folder)
        again.key = folder / "maker"
        return again

    def _places(self, folder: Path) -> None:
        self.folder = folder
        self.stick = folder / "stick"
        self.program = folder / "opt"
        self.places = RootPlaces(
            program=self.program,
            etc=folder / "etc",
            update_keys=folder / "etc/update-keys",
            update_stick=folder / "mounted",
        )
        self.said: list[str] = []
        self.restarts = 0

    def release(self, name: str) -> Path:
        folder = self.program / "releases" / name
        folder.mkdir(parents=True)
        (folder / "complete").touch()
        return folder

    def on_stick(self, version: str = "0.2.0", **how: object) -> Path:
        wheel = make_wheel(self.folder / "wheels", version)
        return make_archive(self.stick / f"cornerwise-{version}.update", self.key, [wheel], version=version, **how)  # type: ignore[arg-type]

    def open_stick(self, _places: RootPlaces, _partition: str) -> nullcontext[Path]:
        return nullcontext(self.stick)

    def restart(self) -> None:
        self.restarts += 1

    def touched(self) -> list[str]:
        """Everything below /opt by name, and where the links lead."""
        found = sorted(path for path in self.program.rglob("*"))
        return [f"{path} -> {path.readlink()}" if path.is_symlink() else str(path) for path in found]


def with_real_libraries(installed: InstalledProgram) -> None:
    """The release that runs gets pip, a library of ours, and the program itself, as pip had put them there."""
    packages = installed.program / "releases" / HERE / "lib" / f"python{PYTHON}" / "site-packages"
    packages.mkdir(parents=True)
    wheels = installed.folder / "first"
    mine = [make_wheel(wheels, "0.1.0"), make_wheel(wheels, "1.5", name="measuring")]
    pip = [sys.executable, "-m", "pip", "--isolated", "-q", "--disable-pip-version-check", "install", "--no-index"]
    subprocess.run([*pip, "--no-deps", "--target", str(packages), *map(str, mine)], check=True)
    shutil.rmtree(packages / "bin")
    own = Path(subprocess.run([sys.executable, "-c", "import pip; print(pip.__path__[0])"], capture_output=True,
                              text=True, check=True).stdout.strip())  # fmt: skip
    shutil.copytree(own, packages / "pip")  # compiled, as pip leaves it
    (info,) = own.parent.glob("pip-*.dist-info")
    shutil.copytree(info, packages / info.name)
