"""The archive on the stick: only what a trusted key signed, byte for byte, and nothing beside it."""

from __future__ import annotations

import io
import json
import random
import struct
import subprocess
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from hardware.make_update import signature_of
from hardware.root_verbs import RefusedError
from hardware.update_archive import (
    MANIFEST,
    MAX_MEMBERS,
    SIGNATURE,
    SIGNER,
    parse_manifest,
    read_header,
    read_update,
    unpack_wheels,
)
from tests.hardware.update_bits import make_archive, make_key, make_wheel, trust


class Maker:
    """A key that is trusted, a wheel, and the archive made of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.key, self.trusted = make_key(folder, "maker"), folder / "update-keys"
        trust(self.key, self.trusted)
        self.wheel = make_wheel(folder / "wheels", "0.2.0")
        self.archive = make_archive(folder / "cornerwise-0.2.0.update", self.key, [self.wheel])

    def rewritten(self, change: Callable[[dict[str, bytes]], None]) -> Path:
        """The archive with other members."""
        with zipfile.ZipFile(self.archive) as before:
            members = {name: before.read(name) for name in before.namelist()}
        change(members)
        target = self.folder / "changed.update"
        with zipfile.ZipFile(target, "w") as after:
            for name, content in members.items():
                after.writestr(name, content)
        return target


@pytest.fixture(scope="module")
def maker(tmp_path_factory: pytest.TempPathFactory) -> Maker:
    return Maker(tmp_path_factory.mktemp("maker"))


def test_what_was_signed_is_read_and_unpacked(maker: Maker, tmp_path: Path) -> None:
    manifest = read_update(maker.archive, maker.trusted)
    assert manifest.version == "0.2.0"
    assert [wheel.distribution for wheel in manifest.wheels] == ["cornerwise==0.2.0"]
    unpack_wheels(maker.archive, manifest, tmp_path)
    assert (tmp_path / maker.wheel.name).read_bytes() == maker.wheel.read_bytes()


def test_another_key_is_not_trusted(maker: Maker, tmp_path: Path) -> None:
    trust(make_key(tmp_path, "stranger"), tmp_path / "update-keys")
    with pytest.raises(RefusedError, match="not signed by a key this bench trusts"):
        read_update(maker.archive, tmp_path / "update-keys")


def test_without_any_key_nothing_is_trusted(maker: Maker, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="--update-key"):
        read_update(maker.archive, tmp_path / "update-keys")


def test_a_signature_made_for_another_purpose_does_not_count(maker: Maker) -> None:
    """The same key signs other things too; the allowed-signers file names what for."""

    def for_mail(members: dict[str, bytes]) -> None:
        file = maker.folder / "mail"
        file.write_bytes(members[MANIFEST])
        subprocess.run(["ssh-keygen", "-q", "-Y", "sign", "-f", maker.key, "-n", "mail", file], check=True)
        members[SIGNATURE] = file.with_name("mail.sig").read_bytes()

    with pytest.raises(RefusedError, match="not signed"):
        read_update(maker.rewritten(for_mail), maker.trusted)


def lengthen(members: dict[str, bytes], name: str) -> None:
    members[name] += b" "


CHANGES: dict[str, tuple[str, Callable[[dict[str, bytes]], None]]] = {
    "unsigned": ("no manifest.sig", lambda members: members.pop(SIGNATURE) and None),
    "empty signature": ("not signed", lambda members: members.update({SIGNATURE: b""})),
    "no manifest": ("no manifest.json", lambda members: members.pop(MANIFEST) and None),
    "manifest changed": ("changed since", lambda members: lengthen(members, MANIFEST)),
    "wheel lengthened": (
        "another size",
        lambda members: lengthen(members, next(name for name in members if name.endswith(".whl"))),
    ),
    "wheel changed": (
        "not what was signed",
        lambda members: members.update(
            {name: bytes([content[0] ^ 1]) + content[1:] for name, content in members.items() if name.endswith(".whl")}
        ),
    ),
    "wheel missing": (
        "does not hold",
        lambda members: members.pop(next(name for name in members if name.endswith(".whl"))) and None,
    ),
    "something beside": ("does not hold", lambda members: members.update({"extra.whl": b"x"})),
    "a way out": ("does not hold", lambda members: members.update({"../../etc/cron.d/evil": b"x"})),
    "endless signature": ("too large", lambda members: members.update({SIGNATURE: b"x" * 10_000})),
}


@pytest.mark.parametrize(("words", "change"), CHANGES.values(), ids=CHANGES)
def test_what_was_changed_after_signing_is_refused(
    maker: Maker, words: str, change: Callable[[dict[str, bytes]], None]
) -> None:
    with pytest.raises(RefusedError, match=words):
        read_update(maker.rewritten(change), maker.trusted)


ANY = {"sha256": "0" * 64, "bytes": 1}
SIGNED_NONSENSE: dict[str, Callable[[dict[str, object]], object]] = {
    "a way out in a name": lambda said: said.update(wheels={"../evil-1-py3-none-any.whl": ANY}),
    "an absolute name": lambda said: said.update(wheels={"/evil-1-py3-none-any.whl": ANY}),
    "an option in a name": lambda said: said.update(wheels={"-r evil-1-py3-none-any.whl": ANY}),
    "a version that is a folder": lambda said: said.update(version="../0.2.0"),
    "no wheels": lambda said: said.update(wheels={}),
    "too many": lambda said: said.update(
        wheels={f"a{i}-1-py3-none-any.whl": ANY for i in range(MAX_MEMBERS + 1)}
    ),
    "too large": lambda said: said.update(wheels={"a-1-py3-none-any.whl": {**ANY, "bytes": 10**10}}),
    "another form": lambda said: said.update(format=2),
    "nothing": lambda said: said.clear(),
}  # fmt: skip


@pytest.mark.parametrize("change", SIGNED_NONSENSE.values(), ids=SIGNED_NONSENSE)
def test_a_signature_does_not_make_sense_of_nonsense(
    maker: Maker, change: Callable[[dict[str, object]], object]
) -> None:
    with zipfile.ZipFile(maker.archive) as archive:
        said = json.loads(archive.read(MANIFEST))
    change(said)
    with pytest.raises(RefusedError):
        parse_manifest(json.dumps(said).encode())


def test_members_are_stored_so_none_can_swell(maker: Maker, tmp_path: Path) -> None:
    with zipfile.ZipFile(maker.archive) as before, zipfile.ZipFile(tmp_path / "x", "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            after.writestr(name, before.read(name))
    with pytest.raises(RefusedError, match="too large"):
        read_update(tmp_path / "x", maker.trusted)


def test_a_name_that_comes_twice_is_refused(maker: Maker, tmp_path: Path) -> None:
    target = tmp_path / "x"
    target.write_bytes(maker.archive.read_bytes())
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(target, "a") as archive:
        archive.write(maker.wheel, maker.wheel.name)
    with pytest.raises(RefusedError, match="does not hold"):
        read_update(target, maker.trusted)


def test_whatever_happens_to_its_bytes_it_is_refused_in_words(maker: Maker, tmp_path: Path) -> None:
    """Cut short anywhere, or with a block of it overwritten."""
    whole, dice = maker.archive.read_bytes(), random.Random(7)
    hurt, refused = tmp_path / "hurt", 0
    for _ in range(150):
        content = bytearray(whole[: dice.randrange(len(whole))] if dice.random() < 0.3 else whole)
        if len(content) == len(whole):
            at = dice.randrange(len(content) - 8)
            content[at : at + 8] = bytes(255 - byte for byte in content[at : at + 8])
        hurt.write_bytes(content)
        try:
            manifest = read_update(hurt, maker.trusted)
        except RefusedError:
            refused += 1
            continue
        # What a ZIP says of times and rights is not used; what is installed is what was signed.
        (folder := tmp_path / "out").mkdir(exist_ok=True)
        (folder / maker.wheel.name).unlink(missing_ok=True)
        unpack_wheels(hurt, manifest, folder)
        assert (folder / maker.wheel.name).read_bytes() == maker.wheel.read_bytes()
    assert refused > 100


def test_the_signature_is_one_that_the_tool_itself_accepts(maker: Maker) -> None:
    """Checked here by hand, as anybody with the public key can."""
    with zipfile.ZipFile(maker.archive) as archive:
        manifest, signature = archive.read(MANIFEST), archive.read(SIGNATURE)
    file = maker.folder / "by-hand.sig"
    file.write_bytes(signature)
    command = ["ssh-keygen", "-Y", "verify", "-f", maker.trusted, "-I", SIGNER, "-n", "update@cornerwise", "-s", file]
    assert subprocess.run(command, input=manifest, capture_output=True, check=False).returncode == 0
    # Ed25519 signatures are deterministic (RFC 8032, 5.1.6): the same bytes, signed again, are the same.
    assert signature_of(manifest, maker.key) == signature


def test_a_file_of_a_million_members_costs_nothing_before_its_signature(tmp_path: Path) -> None:
    """20 MB of names, unsigned: what a list of members costs was 98 to 180 MB and many seconds."""
    file = tmp_path / "cornerwise-9.update"
    entry = b"PK\x01\x02" + bytes(24) + (1).to_bytes(2, "little") + bytes(16) + b"a"
    with file.open("wb") as writing:
        count = 20_000_000 // len(entry)
        writing.write(entry * count)
        end = (b"PK\x05\x06", 0, 0, count % 65536, count % 65536, count * len(entry), 0, 0)
        writing.write(struct.pack("<4s4H2IH", *end))
    tracemalloc.start()
    with file.open("rb") as reading, pytest.raises(RefusedError, match="damaged"):
        read_header(reading, tmp_path / "keys")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 1_000_000


@pytest.mark.parametrize("content", [b"", b"PK\x05\x06", bytes(22), b"PK\x05\x06" + bytes(18) + b"x", b"x" * 5_000])
def test_what_is_no_archive_is_refused_whatever_its_end(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "cornerwise-9.update"
    file.write_bytes(content)
    with file.open("rb") as reading, pytest.raises(RefusedError):
        read_header(reading, tmp_path / "keys")


@given(st.binary(max_size=200), st.binary(max_size=22))
def test_no_bytes_do_more_than_be_refused(head: bytes, tail: bytes) -> None:
    """Also behind a good end record, with whatever counts and offsets."""
    with pytest.raises(RefusedError):
        read_header(io.BytesIO(head + b"PK\x05\x06" + tail), Path("/nowhere"))
