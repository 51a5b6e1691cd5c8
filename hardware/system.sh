# What setup.sh and install.sh both ask of the system; sourced by them, does nothing by itself.
# shellcheck shell=sh

# What the screen needs without a desktop: its GL in software or hardware (Kivy's window loads libGL.so.1 even where it
# draws by GLES), and multi-touch. A desktop has most of them already.
# shellcheck disable=SC2034  # used by who sources this
screen_libraries="libgbm1 libdrm2 libegl1 libgles2 libgl1 libgl1-mesa-dri libmtdev1"

# installed PACKAGE: under its name, or under the one it got with 64-bit time (Debian 13).
installed() {
    for name in "$1" "$1t64"; do
        case $(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null) in installed) return 0 ;; esac
    done
    return 1
}

# model: the board's own name; nothing on a PC.
model() { [ ! -r /proc/device-tree/model ] || tr -d '\0' </proc/device-tree/model; }

# board: pi5, pi or none. The first two are the extras of pyproject.toml: which of the two GPIO libraries belongs here.
board() {
    case $(model) in
        "Raspberry Pi 5"* | "Raspberry Pi Compute Module 5"*) echo pi5 ;;
        "Raspberry Pi"*) echo pi ;;
        *) echo none ;;
    esac
}

# build_packages BOARD: what its GPIO libraries need to be built, for most Pythons get them as source only.
build_packages() {
    case $1 in
        pi) echo "gcc libc6-dev python3-dev" ;;
        pi5) echo "gcc libc6-dev python3-dev swig" ;;
    esac
}
