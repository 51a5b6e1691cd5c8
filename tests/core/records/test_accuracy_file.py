"""The workshop's own accuracies: kept whole, read back the same, and never overwritten when damaged."""

import os

import pytest
from msgspec.structs import replace

from core.errors import BadInputError, StorageError
from core.metrology.accuracy import DEFAULT_CALIPER, EdgeMethod, MeasuringSetup
from core.records.accuracy_file import FILE_NAME, load_setup, save_setup

OWN = MeasuringSetup(caliper=replace(DEFAULT_CALIPER, repeatability=0.0317), edge_method=EdgeMethod.TIPS)


def test_what_is_kept_comes_back_the_same(tmp_path):
    folder = tmp_path / "new"
    save_setup(folder, OWN)
    assert load_setup(folder) == OWN
    assert {path.name for path in folder.iterdir()} == {FILE_NAME, f"{FILE_NAME}.sum"}


def test_without_a_file_the_defaults_hold(tmp_path):
    assert load_setup(tmp_path) == MeasuringSetup()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"caliper": {"resolution": -1}}', '{"caliper": 3}'])
def test_a_damaged_file_is_told_by_name(tmp_path, text):
    (tmp_path / FILE_NAME).write_text(text)
    with pytest.raises(BadInputError, match=FILE_NAME):
        load_setup(tmp_path)


@pytest.mark.parametrize("put", [os.mkfifo, lambda path: path.symlink_to("/dev/zero"), lambda path: path.mkdir(),
                                 lambda path: path.write_bytes(b"[" * 60_000)])  # fmt: skip
def test_a_pipe_a_device_and_nesting_without_end_are_told_by_name(tmp_path, put):
    put(tmp_path / FILE_NAME)
    with pytest.raises(BadInputError, match=FILE_NAME):
        load_setup(tmp_path)


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="nothing was written"):
        save_setup(tmp_path / "file", OWN)
