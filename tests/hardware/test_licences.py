"""Licences: what README.md says is what the libraries' own metadata states, and no update leaves a text behind."""

from __future__ import annotations

import zipfile
from email.message import Message
from importlib import metadata
from pathlib import Path

import pytest

from hardware.licences import has_text, libraries, stated, table, without_text
from hardware.make_update import main

README = Path("README.md").read_text(encoding="utf-8")


def wheel_of(folder: Path, name: str, *files: str) -> Path:
    wheel = folder / f"{name}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        archive.writestr(f"{name}-1.0.dist-info/METADATA", f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        for file in files:
            archive.writestr(file, "text")
    return wheel


def test_readme_names_every_library_with_the_licence_that_its_metadata_states() -> None:
    on_this_platform = [library for library in libraries() if library.name not in ("RPi.GPIO", "evdev")]
    assert {"numpy", "Kivy", "fpdf2", "lxml", "pillow"} <= {library.name for library in on_this_platform}
    missing = [row for row in table(on_this_platform) if row not in README]
    assert not missing, "python -m hardware.licences prints the rows"
    assert "none stated" not in README


def test_the_text_of_every_library_travels() -> None:
    bare = [one.name for one in libraries() if not has_text(one.name, map(str, one.files or ()))]
    assert bare == []


def test_a_licence_is_an_expression_a_name_or_a_classifier_and_never_the_whole_text() -> None:
    about = Message()
    about["License"] = "Copyright (c)\n  Somebody"
    about["Classifier"] = "License :: OSI Approved :: MIT License"
    assert stated(about) == "MIT"
    about["License-Expression"] = "BSD-3-Clause"
    assert stated(about) == "BSD-3-Clause"
    assert stated(Message()) == ""


def test_an_update_is_not_made_without_a_text(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bare = wheel_of(tmp_path, "bare", "bare.py", "bare/licence_reader.py")
    kept = wheel_of(tmp_path, "kept", "kept-1.0.dist-info/licenses/LICENSE.md")
    carried = wheel_of(tmp_path, "pyserial", "serial.py")
    assert without_text([bare, kept, carried]) == [bare.name]
    with pytest.raises(SystemExit) as ended:
        main([str(tmp_path / "out"), "--key", str(tmp_path / "key"), "--wheels", str(tmp_path)])
    assert ended.value.code == 2
    assert bare.name in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_the_carried_text_is_that_of_the_library() -> None:
    text = Path("hardware/pyserial-LICENSE.txt").read_text(encoding="utf-8")
    assert "Chris Liechti" in text
    assert metadata.metadata("pyserial")["License"] in text
