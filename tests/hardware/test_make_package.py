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
from hardware import make_package
from hardware.make_package import (
    BY_DEBHELPER,
    LEFT_OUT,
    LOCK,
    Target,
    lay_debian,
    lay_key,
    lay_tree,
    release_name,
    settle_record,
    settle_rights,
    settle_times,
    what_comes_along,
)
from hardware.make_update import manifest_of, signature_of
from hardware.system_files import ONLY_WHERE_IT_IS
from hardware.update_archive import check_signature
from tests.hardware.update_bits import make_key

ROOT = Path(__file__).resolve().parents[2]
HERE = ROOT / "hardware"
TARGET = Target(machine="aarch64", python="3.11")
SCRIPTS = ("cornerwise.postinst", "cornerwise.postrm")


def test_it_is_for_the_one_python_that_its_libraries_were_built_for() -> None:
    """Dependencies between versions: Debian Policy, 7.1."""
    assert TARGET.depends == "python3 (>= 3.11), python3 (<< 3.12), python3-venv"


def test_a_release_is_called_after_all_that_it_is_made_of() -> None:
    name = release_name(ROOT, TARGET)
    assert name == release_name(ROOT, TARGET)
    assert name != release_name(ROOT, Target(machine="x86_64", python="3.11"))
    assert re.fullmatch(r"\d+\.\d+\.\d+-[0-9a-f]{10}", name)


def test_all_units_settings_and_rules_are_unpacked_and_the_guard_outside_of_all_releases(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that another package of Debian's reads: systemd.unit(5), systemd-system.conf(5), journald.conf(5),
    logind.conf(5), sysctl.d(5)."""
    monkeypatch.setattr(make_package, "fill_release", lambda release, *_: (release / "lib").mkdir(parents=True))
    lay_tree(tmp_path, "0.1.0-abc", TARGET, ROOT)
    laid = {path.relative_to(tmp_path).as_posix(): path for path in tmp_path.rglob("*") if path.is_file()}
    settings = {
        "journald": "systemd/journald.conf.d/cornerwise",
        "watchdog": "systemd/system.conf.d/cornerwise",
        "logind": "systemd/logind.conf.d/cornerwise",
        "sysctl": "sysctl.d/90-cornerwise",
    }
    for own in (*(HERE / "systemd").iterdir(), *(HERE / "udev").iterdir()):
        if f"{own.parent.name}/{own.name}" in (*BY_DEBHELPER, *ONLY_WHERE_IT_IS):
            continue
        place = f"usr/lib/{settings[own.stem]}.conf" if own.suffix == ".conf" else f"lib/systemd/system/{own.name}"
        assert laid[place].read_bytes() == own.read_bytes()
    for unit in ("cornerwise.service", "cornerwise-trial.service", "cornerwise-guard.service"):
        (guard,) = set(re.findall(r"/usr/bin/python3 -I /(\S+)", laid[f"lib/systemd/system/{unit}"].read_text()))
        assert laid[guard].read_bytes() == (HERE / "releases.py").read_bytes()
        assert "releases/" not in guard


def test_what_is_taken_from_the_system_is_given_back_and_what_starts_by_itself_is_enabled() -> None:
    taken, given = (re.findall(r"for unit in (.*); do", (HERE / "debian" / script).read_text()) for script in SCRIPTS)
    assert taken == given == ["getty@tty1.service getty-static.service ctrl-alt-del.target"]
    (enabled,) = re.findall(r"dh_installsystemd (.*)", (HERE / "debian/rules").read_text())
    units = [
        *(HERE / "systemd").glob("*.service"),
        *(HERE / "systemd").glob("*.socket"),
        *(HERE / "systemd").glob("*.path"),
    ]
    assert set(enabled.split()) == {unit.name for unit in units if "[Install]" in unit.read_text()}


def test_the_package_asks_for_what_the_screen_needs() -> None:
    (screen,) = re.findall(r'screen_libraries="(.*)"', (HERE / "setup.sh").read_text())
    control = (HERE / "debian/control").read_text()
    assert [library for library in screen.split() if library not in control] == []


def test_a_release_is_on_the_disk_before_it_is_called_complete_and_complete_before_it_runs() -> None:
    lines = [line.strip() for line in (HERE / "debian/cornerwise.postinst").read_text().splitlines()]
    complete = lines.index('touch "$release/complete"')
    assert (lines[complete - 1], lines[complete + 1]) == ("sync", "sync")
    assert complete < lines.index('ln -sfn "$release" "$program/current"')


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


def test_a_bench_trusts_the_key_that_its_package_was_made_with(tmp_path: Path) -> None:
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
