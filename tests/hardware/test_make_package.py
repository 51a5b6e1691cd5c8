"""The Debian package as far as it needs neither network nor debhelper: what is unpacked where, and from what.

That it builds, twice the same bytes, and makes a bare system the instrument is proven outside the suite
(hardware/proof.md).
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from core import __version__
from hardware.make_package import (
    BY_DEBHELPER,
    LEFT_OUT,
    LOCK,
    Target,
    lay_debian,
    lay_key,
    release_name,
    settle_record,
    settle_rights,
    settle_times,
    what_comes_along,
    where_it_unpacks,
)
from hardware.make_update import manifest_of, signature_of
from hardware.system_files import FIXED, ONLY_WHERE_IT_IS, PLACES
from hardware.update_archive import check_signature
from tests.hardware.update_bits import make_key

ROOT = Path(__file__).resolve().parents[2]
HERE = ROOT / "hardware"
TARGET = Target(machine="aarch64", python="3.11")
INSTALLER = (HERE / "install.sh").read_text()
SCRIPTS = ("cornerwise.postinst", "cornerwise.postrm")


def test_it_is_for_the_one_python_that_its_libraries_were_built_for() -> None:
    """Dependencies between versions: Debian Policy, 7.1."""
    assert TARGET.depends == "python3 (>= 3.11), python3 (<< 3.12), python3-venv"


def test_a_release_is_called_after_all_that_it_is_made_of() -> None:
    name = release_name(ROOT, TARGET)
    assert name == release_name(ROOT, TARGET)
    assert name != release_name(ROOT, Target(machine="x86_64", python="3.11"))
    assert re.fullmatch(r"\d+\.\d+\.\d+-[0-9a-f]{10}", name)


def test_whatever_the_installer_puts_the_package_puts_as_well() -> None:
    put = dict(re.findall(r'put "\$here/hardware/((?:systemd|udev)/[\w.-]+)" /etc/(\S+)', INSTALLER))
    put |= {
        f"systemd/{unit}": f"systemd/system/{unit}" for unit in re.search(r'^units="(.*)"$', INSTALLER, re.M)[1].split()
    }  # type: ignore[index]
    assert put == PLACES | {"systemd/cornerwise-guard.service": "systemd/system/cornerwise-guard.service"}
    assert {*where_it_unpacks(), *BY_DEBHELPER, *ONLY_WHERE_IT_IS, "releases.py"} == {*PLACES, *FIXED}
    (masked,) = re.findall(r"systemctl mask (.*)", INSTALLER)
    (enabled,) = re.findall(r"systemctl enable (.*)", INSTALLER)
    for script in SCRIPTS:
        (units,) = re.findall(r"for unit in (.*); do", (HERE / "debian" / script).read_text())
        assert units.split() == masked.split()
    (started,) = re.findall(r"dh_installsystemd (.*)", (HERE / "debian/rules").read_text())
    assert set(started.split()) == set(enabled.split())
    control = (HERE / "debian/control").read_text()
    system = (HERE / "system.sh").read_text()
    (screen,) = re.findall(r'screen_libraries="(.*)"', system)
    assert [library for library in screen.split() if library not in control] == []


def test_neither_removing_nor_purging_touches_the_records() -> None:
    for script in SCRIPTS:
        text = (HERE / "debian" / script).read_text()
        assert [line for line in text.splitlines() if "rm " in line and "/var/lib" in line] == []


@pytest.mark.parametrize("script", SCRIPTS)
def test_what_root_runs_is_sound_shell(script: str) -> None:
    subprocess.run(["sh", "-n", HERE / "debian" / script], check=True)


def test_the_script_knows_the_release_that_came_along(tmp_path: Path) -> None:
    lay_debian(tmp_path / "debian", "0.1.0-abc", TARGET, 1_700_000_000, ROOT)
    assert "release=$program/releases/0.1.0-abc\n" in (tmp_path / "debian/cornerwise.postinst").read_text()
    assert (tmp_path / "debian/changelog").read_text().startswith(f"cornerwise ({__version__}+deb12) ")
    # RFC 5322 of 1700000000, as the changelog wants it (deb-changelog(5)).
    assert "Tue, 14 Nov 2023 22:13:20" in (tmp_path / "debian/changelog").read_text()


def test_who_made_it_and_when_leaves_no_trace(tmp_path: Path) -> None:
    (tmp_path / "bin").mkdir(mode=0o700)
    (tmp_path / "bin/run").write_text("x")
    (tmp_path / "read").touch(mode=0o600)
    (tmp_path / "link").symlink_to("/nowhere")
    settle_rights(tmp_path)
    settle_times(tmp_path, 1_700_000_000)
    modes = {path.name: path.lstat().st_mode & 0o777 for path in tmp_path.rglob("*") if not path.is_symlink()}
    assert modes == {"bin": 0o755, "run": 0o755, "read": 0o644}
    assert {path.lstat().st_mtime for path in tmp_path.rglob("*")} == {1_700_000_000}


def test_what_only_builds_and_what_debian_has_stays_at_home() -> None:
    locked = (ROOT / LOCK).read_text()
    wanted = what_comes_along(locked)
    names = re.findall(r"^([\w-]+)==", locked, re.MULTILINE)
    missing = {name for name in names if name not in re.findall(r"^([\w-]+)==", wanted, re.MULTILINE)}
    assert missing == set(LEFT_OUT)
    assert wanted.count("--hash") < locked.count("--hash")
    assert "\npsycopg==" in wanted  # an installed bench can join a shop


def test_the_package_trusts_as_the_installer_does(tmp_path: Path) -> None:
    """The form of the line: ssh-keygen(1), "ALLOWED SIGNERS"; proven by what checks a signature."""
    key = make_key(tmp_path, "maker")
    lay_key(tmp_path / "root", key.with_name("maker.pub"))
    said = manifest_of("0.2.0", "ab" * 32, [], pythons=["3.11"], machines=["aarch64"])
    check_signature(said, signature_of(said, key), tmp_path / "root/etc/cornerwise/update-keys")
    with pytest.raises(ValueError, match="no public Ed25519 key"):
        lay_key(tmp_path / "other", key)


def test_a_list_of_files_names_only_what_is_there(tmp_path: Path) -> None:
    info = tmp_path / "measuring-1.0.dist-info"
    info.mkdir()
    (tmp_path / "measuring.py").touch()
    (info / "RECORD").write_text("../../bin/measure,sha256=a,1\nmeasuring.py,sha256=b,0\n")
    settle_record(info / "RECORD")
    assert (info / "RECORD").read_text() == "measuring.py,sha256=b,0\n"
