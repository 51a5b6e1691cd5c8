#!/bin/sh
# Takes Cornerwise off this machine again and gives the console back. Records in /var/lib/cornerwise stay, and so does
# the user who owns them. Run as root: sudo sh hardware/uninstall.sh [--dry-run]
set -eu
dry_run=""
case ${1:-} in "") ;; --dry-run) dry_run=yes ;; *) echo "uninstall: unknown option $1 (known: --dry-run)" >&2; exit 64 ;; esac
step() {
    if [ -n "$dry_run" ]; then printf 'would run: %s\n' "$*"; else "$@"; fi
}
[ -n "$dry_run" ] || [ "$(id -u)" = 0 ] || { echo "uninstall: this needs root: sudo sh hardware/uninstall.sh" >&2; exit 69; }

units="cornerwise-shop.path cornerwise-shop.service cornerwise-trial.service cornerwise.service cornerwise-helper.socket cornerwise-helper.service cornerwise-gadget.service cornerwise-guard.service"
for unit in $units; do
    [ -e "/etc/systemd/system/$unit" ] || continue
    [ ! -d /run/systemd/system ] || step systemctl stop "$unit"
    step systemctl disable "$unit"
    step rm -f "/etc/systemd/system/$unit"
done
step systemctl unmask getty@tty1.service getty-static.service ctrl-alt-del.target
for file in /etc/udev/rules.d/70-cornerwise.rules /etc/systemd/journald.conf.d/cornerwise.conf \
    /etc/systemd/system.conf.d/cornerwise.conf /etc/systemd/logind.conf.d/cornerwise.conf /etc/sysctl.d/90-cornerwise.conf /etc/tmpfiles.d/cornerwise.conf \
    /usr/local/bin/cornerwise; do
    step rm -f "$file"
done
step rm -rf /etc/systemd/system/cornerwise.service.d /opt/cornerwise /etc/cornerwise
if [ -d /run/systemd/system ]; then
    step systemctl daemon-reload
    step udevadm control --reload
    step systemctl start getty@tty1.service
fi
echo "uninstall: done; the records stay in /var/lib/cornerwise"
