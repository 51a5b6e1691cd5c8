"""The check of the speaker: whether what the bench has to say can be heard."""

import shutil
from pathlib import Path

from core.said import NOTHING, Name, said
from hardware.checkup import Check, absent, fine, may_use
from hardware.sound_devices import sound_devices

NAME = "speaker"
_PLAYER, _SYNTHESISER = "aplay", "espeak-ng"


def check_speaker(root: Path) -> Check:
    """A sound device that this user may use, a player and a synthesiser; the bench works without any of them."""
    devices = sound_devices(root)
    if not devices:
        return absent(NAME, said("no sound device: nothing is heard from this bench"))
    node = root / f"dev/snd/pcmC{devices[0].card}D{devices[0].number}p"
    device = Name(devices[0].name)
    if not may_use(node):
        to_do = said("let the bench's user into the group audio")
        return absent(NAME, said("{device}: may not be used", device=device), to_do)
    if shutil.which(_PLAYER) is None:
        to_do = said("install the Debian package alsa-utils")
        return absent(NAME, said("{device}, and no player for it", device=device), to_do)
    missing = NOTHING if shutil.which(_SYNTHESISER) else said("figures are not spoken: install espeak-ng")
    says = said("{device}: Setup, Speaker switches it on", device=device)
    return fine(NAME, says, missing)
