#!/bin/sh
# Makes this machine the instrument: Raspberry Pi OS Lite or Debian, 64-bit, Python 3.11 or 3.13. Run as root:
#   sudo sh hardware/install.sh [--dry-run] [--wheels DIR] [--update-key FILE.pub]
# --dry-run prints every step and does none; --wheels takes the Python libraries from a folder, without network;
# --update-key trusts the maker of updates on a stick by a public key (ssh-ed25519), in place of those trusted before.
# May be repeated at any time: what is as it should be is left alone. Records lie in /var/lib/cornerwise and are never
# touched. Status: 0 done; 64 bad usage; 69 something that is needed is not there.
set -eu

here=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
program=/opt/cornerwise
records=/var/lib/cornerwise
user=cornerwise
units="cornerwise.service cornerwise-trial.service cornerwise-helper.socket cornerwise-helper.service cornerwise-gadget.service cornerwise-guard.service cornerwise-shop.service cornerwise-shop.path"
# shellcheck source=hardware/system.sh
. "$here/hardware/system.sh"
packages="python3 python3-venv $screen_libraries udev kmod mount util-linux util-linux-extra dosfstools mtools exfatprogs openssh-client libpq5"
# Slow cards take a minute to the first screen; the trial waits 20 s more.
patience_s=600
dry_run=""
wheels=""
update_key=""
changed=""

say() { printf 'install: %s\n' "$*"; }
stop() {
    printf 'install: %s\n' "$*" >&2
    exit 69
}
# The bench is installed and started, and no first screen stays: say all that is known of it.
first_screen_is_missing() {
    say "the first screen does not come up and stay; what the bench and its checkup say:" >&2
    journalctl --no-pager -o cat -b -u cornerwise.service -n 20 >&2 || true
    "$program/current/bin/cornerwise" doctor --data "$records" >&2 || true
    stop "the program is installed, but no instrument yet: see above, then run this again"
}
# step COMMAND ...: run it, or only print it.
step() {
    if [ -n "$dry_run" ]; then printf 'would run: %s\n' "$*"; else "$@"; fi
}
# put SOURCE TARGET: copy a settings file unless it is there and the same.
put() {
    cmp -s "$1" "$2" && return 0
    changed=yes
    step install -D -m 0644 "$1" "$2"
}

while [ $# -gt 0 ]; do
    case $1 in
        --dry-run) dry_run=yes ;;
        --wheels) [ $# -ge 2 ] || { say "--wheels needs a folder" >&2; exit 64; }; wheels=$2; shift ;;
        --update-key) [ $# -ge 2 ] || { say "--update-key needs a file" >&2; exit 64; }; update_key=$2; shift ;;
        *) say "unknown option $1 (known: --dry-run, --wheels DIR, --update-key FILE)" >&2; exit 64 ;;
    esac
    shift
done

# One kind of key, and never a private one on the board.
if [ -n "$update_key" ] && ! grep -q '^ssh-ed25519 ' "$update_key"; then
    say "$update_key is no public Ed25519 key (made by: ssh-keygen -t ed25519)" >&2
    exit 64
fi

# --- what machine is this -------------------------------------------------------------------------------------------
[ -n "$dry_run" ] || [ "$(id -u)" = 0 ] || stop "this needs root: sudo sh hardware/install.sh"
command -v apt-get >/dev/null || stop "this is no Debian or Raspberry Pi OS (no apt-get)"
case $(dpkg --print-architecture) in
    arm64 | amd64) ;;
    *) stop "this system is 32-bit; the screen library exists for 64-bit only: write the 64-bit system to the card" ;;
esac
model=$(model)
board=$(board)
packages="$packages $(build_packages "$board")"
extra=""
[ "$board" = none ] || extra=$board
say "machine: ${model:-a PC} ($(dpkg --print-architecture))"

# --- system packages ------------------------------------------------------------------------------------------------
missing=""
for package in $packages; do installed "$package" || missing="$missing $package"; done
if [ -n "$missing" ]; then
    say "system packages:$missing"
    step apt-get -q -o DPkg::Lock::Timeout=300 update
    # shellcheck disable=SC2086  # a list of names
    step env DEBIAN_FRONTEND=noninteractive apt-get -q -o DPkg::Lock::Timeout=300 install -y --no-install-recommends $missing
fi
if [ -z "$dry_run" ]; then
    python3 -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' ||
        stop "this system's Python is $(python3 --version 2>&1); 3.11 to 3.13 is needed"
fi

# --- user and groups ------------------------------------------------------------------------------------------------
for group in video render input dialout gpio; do
    getent group "$group" >/dev/null || step groupadd --system "$group"
done
if ! getent passwd "$user" >/dev/null; then
    say "user $user"
    step useradd --system --user-group --home-dir "$records" --no-create-home --shell /usr/sbin/nologin "$user"
fi
step usermod -a -G video,render,input,dialout,gpio "$user"
step install -d -o "$user" -g "$user" -m 0700 "$records"

# --- the program: a release folder of its own, and a link that is switched in one step ------------------------------
version=$(sed -n 's/^__version__ = "\(.*\)"$/\1/p' "$here/core/__init__.py")
sources="pyproject.toml README.md core firmware_bridge hardware ui"
# shellcheck disable=SC2086  # a list of names
sum=$(cd "$here" && find $sources -type f ! -name '*.pyc' | LC_ALL=C sort | xargs cat | cksum | cut -d ' ' -f 1)
release=$program/releases/$version-$sum
if [ ! -e "$release/complete" ]; then
    say "release $version-$sum"
    step rm -rf "$release"
    step install -d -m 0755 "$program" "$program/releases"
    step python3 -m venv "$release"
    copy=/tmp/would-be-a-copy
    if [ -z "$dry_run" ]; then
        copy=$(mktemp -d)
        trap 'rm -rf "$copy"' EXIT
        # shellcheck disable=SC2086  # a list of names
        (cd "$here" && cp -R $sources "$copy/")
    fi
    # PYPI=1: the Pi 5's GPIO library is built whole, not against a system library that Debian has not.
    install="step env PYPI=1 $release/bin/python -m pip install -q --disable-pip-version-check --no-input"
    if [ -n "$wheels" ]; then
        # Whoever filled the folder chose the versions, and a wheel built on a board has no checksum that is known.
        # shellcheck disable=SC2086  # options
        $install --use-pep517 --no-index --find-links "$wheels" "$copy${extra:+[$extra]}"
    else
        # In the versions and with the checksums that were tested: two boards set up a month apart are the same.
        $install --require-hashes -r "$here/hardware/locks/${extra:-bench}.txt"
        $install --no-deps --no-build-isolation "$copy"
    fi
    # Its units and rules, for an update that brings its own: see system_files.py.
    step sh -c "ln -sfn \"\$(cd $release && echo lib/python*/site-packages/hardware)\" $release/system"
    # What the release that runs has as well lies on the card once.
    [ ! -e "$program/current/complete" ] ||
        step python3 -I "$here/hardware/shared_files.py" "$release" "$release" "$program/current" ||
        say "this release shares no files with the one before, and takes room of its own" >&2
    # All of it is on the disk before anything says that it is whole: the power may go at any moment.
    step sync
    step touch "$release/complete"
    step sync
fi
if [ "$(readlink "$program/current" 2>/dev/null || true)" != "$release" ]; then
    [ ! -L "$program/current" ] || step ln -sfn "$(readlink "$program/current")" "$program/previous"
    changed=yes
    step ln -sfn "$release" "$program/current.new"
    step mv -T "$program/current.new" "$program/current"
    # Whatever release was on trial: this one was put in place by hand.
    step rm -f "$program/update.json"
fi
# Releases that nothing points to any more.
if [ -z "$dry_run" ]; then
    for old in "$program"/releases/*; do
        case $old in "$(readlink "$program/current")" | "$(readlink "$program/previous" 2>/dev/null || true)") ;;
            *) rm -rf "$old" ;; esac
    done
fi
if [ -n "$extra" ] && [ -z "$dry_run" ]; then
    (cd / && "$release/bin/python" -c 'from hardware.rpi_gpio import load_library; load_library()') ||
        stop "the GPIO library that was installed is no real one; please report this with the model: $model"
fi
step ln -sfn "$program/current/bin/cornerwise" /usr/local/bin/cornerwise

# --- updates from a stick: what takes a release back lies outside of them, whose updates are trusted is root's to say -
put "$here/hardware/releases.py" "$program/guard/releases.py"
# Over all that a stick cannot bring: an update made for another guard is refused.
digest=""
[ -n "$dry_run" ] || digest=$("$release/bin/python" -I -c 'import sys; from hardware.make_update import system_digest
from pathlib import Path; print(system_digest(Path(sys.argv[1])))' "$here")
put_line() { # put_line LINE TARGET: like put, for a file of one line
    [ "$(cat "$2" 2>/dev/null || true)" = "$1" ] && return 0
    if [ -n "$dry_run" ]; then printf 'would write: %s\n' "$2"; else install -D -m 0644 /dev/null "$2" && printf '%s\n' "$1" >"$2"; fi
}
put_line "$digest" "$program/system-digest"
if [ -n "$update_key" ]; then
    put_line "$(sed -n 's/^ssh-ed25519 /cornerwise-update namespaces="update@cornerwise" &/p' "$update_key")" \
        /etc/cornerwise/update-keys
fi
[ -n "$dry_run" ] || [ -e /etc/cornerwise/update-keys ] || say "no key for updates on a stick is trusted (--update-key)"

# --- devices, services, log -----------------------------------------------------------------------------------------
put "$here/hardware/udev/70-cornerwise.rules" /etc/udev/rules.d/70-cornerwise.rules
for unit in $units; do put "$here/hardware/systemd/$unit" "/etc/systemd/system/$unit"; done
[ ! -e /dev/gpiomem ] || put "$here/hardware/systemd/gpiomem.conf" /etc/systemd/system/cornerwise.service.d/gpiomem.conf
put "$here/hardware/systemd/journald.conf" /etc/systemd/journald.conf.d/cornerwise.conf
put "$here/hardware/systemd/watchdog.conf" /etc/systemd/system.conf.d/cornerwise.conf
put "$here/hardware/systemd/logind.conf" /etc/systemd/logind.conf.d/cornerwise.conf
put "$here/hardware/systemd/sysctl.conf" /etc/sysctl.d/90-cornerwise.conf
put "$here/hardware/systemd/tmpfiles.conf" /etc/tmpfiles.d/cornerwise.conf
# getty-static puts logins on consoles 2 to 6 where logind is missing.
step systemctl mask getty@tty1.service getty-static.service ctrl-alt-del.target
step systemctl enable cornerwise-guard.service cornerwise.service cornerwise-helper.socket cornerwise-gadget.service cornerwise-shop.path

# On the Pi 4 and 5 the power socket is a USB device port as well: the records can be read through it.
boot_config=/boot/firmware/config.txt
case $model in
    "Raspberry Pi 4"* | "Raspberry Pi 5"*)
        if [ -f "$boot_config" ] && ! grep -q '^dtoverlay=dwc2' "$boot_config"; then
            say "USB device port in $boot_config"
            step sh -c "printf '\n# Cornerwise: records on the USB cable\n[all]\ndtoverlay=dwc2,dr_mode=peripheral\n' >>$boot_config"
        fi
        ;;
esac

if [ -d /run/systemd/system ]; then
    if [ -n "$changed" ]; then
        step systemctl daemon-reload
        step udevadm control --reload
        step systemd-tmpfiles --create /etc/tmpfiles.d/cornerwise.conf
        step systemctl try-restart systemd-journald.service
        step systemctl restart cornerwise-helper.socket
        step systemctl --no-block restart cornerwise.service
    fi
    step systemctl start cornerwise-helper.socket cornerwise-gadget.service cornerwise-shop.path
    say "waiting for the first screen, and whether it stays"
    step timeout "$patience_s" systemctl start cornerwise-trial.service || first_screen_is_missing
else
    say "no systemd is running here: everything starts with the next boot"
fi
[ -n "$changed" ] || say "nothing had to be changed"
say "done; look at it with: sudo cornerwise doctor"
