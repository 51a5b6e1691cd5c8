from .checkup import Check as Check, Standing as Standing
from .clock import NOT_BEFORE as NOT_BEFORE, why_clock_is_set as why_clock_is_set
from .doctor import as_json as as_json, examine as examine, is_well as is_well
from .gpio_port import GpioError as GpioError
from .helper_client import (
    MAY_BE_CALLED_OFF as MAY_BE_CALLED_OFF,
    SOCKET_PATH as SOCKET_PATH,
    Verb as Verb,
    ask_helper as ask_helper,
)
from .panel import PAUSE_S as PAUSE_S, RHYTHMS as RHYTHMS, Lamps as Lamps, Panel as Panel, Rhythm as Rhythm
from .pins import Line as Line
from .releases import (
    PROGRAM as PROGRAM,
    Change as Change,
    Phase as Phase,
    current_release as current_release,
    newer as newer,
    previous_release as previous_release,
    read_change as read_change,
    version_of as version_of,
)
from .rpi_gpio import RpiGpioPort as RpiGpioPort, load_library as load_library
from .stick_files import (
    MAX_FILE_BYTES as MAX_FILE_BYTES,
    FilePlace as FilePlace,
    FilesFound as FilesFound,
    ReadFile as ReadFile,
    find_files as find_files,
    folder_place as folder_place,
    new_name as new_name,
    read_file as read_file,
    remove_file as remove_file,
    write_new_file as write_new_file,
)
from .touch_panels import Fingers as Fingers, TouchPanel as TouchPanel
from .usb_gadget import can_be_drive as can_be_drive, show_on_cable as show_on_cable
from .usb_stick import (
    HelperAccess as HelperAccess,
    Step as Step,
    Stick as Stick,
    StickAccess as StickAccess,
    download_to_stick as download_to_stick,
    find_sticks as find_sticks,
    reading_from as reading_from,
    the_one_stick as the_one_stick,
    writing_to as writing_to,
)
from .watchdog import Heart as Heart, Watchdog as Watchdog
