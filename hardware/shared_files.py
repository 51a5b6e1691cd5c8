"""Lets a release have its equal files in common with the one before: one copy on the card, by two names.

Stage: hardware, package and update, ahead of `complete`. Input: a new release, what dpkg unpacked it from (or the
release itself), and the release that runs. Output: the new one's names lead to the running one's files where both are
equal, dpkg's names too; what is compiled of them is taken along. The release that runs is only read.

Nothing writes into a file of a release: pip, the compiler and dpkg put another one in its place. Run by the system's
own Python, so the standard library only: `python3 -I shared_files.py RELEASE UNPACKED BEFORE`.
"""

import filecmp
import os
import sys
from importlib.util import cache_from_source
from pathlib import Path


def share(release: Path, unpacked: Path, before: Path) -> None:
    """Below `lib`, where the libraries lie; whatever moment it is cut off at, each name leads to a whole file."""
    for file in sorted((release / "lib").rglob("*")):
        place = file.relative_to(release)
        earlier = before / place
        if not _is_file(file) or not _is_file(earlier) or not filecmp.cmp(file, earlier, shallow=False):
            continue
        for name in (file, unpacked / place):
            if _is_file(name):
                _put_link(name, earlier)
        if file.suffix == ".py":
            _take_compiled(file, earlier)


def _take_compiled(source: Path, earlier: Path) -> None:
    """What is compiled names the time of its source, which is one file now."""
    compiled, kept = Path(cache_from_source(str(source))), Path(cache_from_source(str(earlier)))
    if kept.exists():
        compiled.parent.mkdir(exist_ok=True)
        _put_link(compiled, kept)


def _is_file(path: Path) -> bool:
    return path.is_file() and not path.is_symlink()


def _put_link(name: Path, file: Path) -> None:
    """In one step; nothing where it is that file already, for then renaming leaves the new name behind: rename(2)."""
    if name.exists() and name.samefile(file):
        return
    fresh = name.with_name(f".{name.name}.new")
    fresh.unlink(missing_ok=True)
    os.link(file, fresh)
    fresh.replace(name)


if __name__ == "__main__":
    share(*map(Path, sys.argv[1:]))
