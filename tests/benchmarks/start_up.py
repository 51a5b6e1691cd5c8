"""Start to the first usable screen and resident memory, against a bare one-label Kivy window in the same run.

    SDL_VIDEODRIVER=offscreen .venv/bin/python -m tests.benchmarks.start_up [rounds]
    ... start_up [rounds] --counted     instructions by valgrind instead, which no other work on the machine disturbs

Each round starts the programs anew, in turn, from the moment before the process starts until its first frame has been
turned, with compiled bytecode as an installed bench has it, the bench by the installed command. The least of all rounds
is compared: processor seconds for the work, seconds for the wait. `bare` is Kivy's window with one label and nothing of
ours but the panel's settings; `bare, with the house's values` is the same window with everything loaded that a snapshot
is made of (the core), which is what this benchmark compared with until it said so.
"""

import os
import re
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

REPORT = """
import os, time
def report(*_):
    kb = next(line for line in open('/proc/self/status') if line.startswith('VmRSS')).split()[1]
    used = os.times()
    print(time.time() - float(os.environ['BEGAN']), used.user + used.system, kb, flush=True)
    stopTouchApp()
"""

BARE = (
    """
from ui.touch.kivy_settings import ScreenSettings, set_environment
set_environment()
import os; del os.environ['KIVY_IMAGE']  # whatever pictures Kivy reads as it comes
from kivy.config import Config
for option, value in {'width': ScreenSettings().width_px, 'height': ScreenSettings().height_px, 'maxfps': 60,
                      'multisamples': 0}.items():
    Config.set('graphics', option, str(value))
Config.set('kivy', 'log_level', 'warning')
for provider in list(Config.options('input')):
    Config.remove_option('input', provider)
Config.set('input', 'mouse', 'mouse,disable_multitouch')
from kivy.base import runTouchApp, stopTouchApp; from kivy.clock import Clock; from kivy.uix.label import Label
"""
    + REPORT
    + """
Clock.schedule_once(lambda dt: Clock.schedule_once(report, 0), 0)
runTouchApp(Label(text='bare'))
"""
)

BENCH = (
    REPORT
    + """
import os, signal, sys
from ui.command_line import entry
told = signal.signal
def begin(number, handler):
    # The entry's last word before the command runs; by now it has loaded all that it loads by itself.
    told(number, handler)
    if handler is signal.default_int_handler:
        import ui.touch.app
        configure = ui.touch.app.configure
        def configured(settings):
            global stopTouchApp
            configure(settings)
            from kivy.base import stopTouchApp
            from kivy.clock import Clock
            Clock.schedule_once(lambda dt: Clock.schedule_once(report, 0), 0)
        ui.touch.app.configure = configured
signal.signal = begin
sys.argv = ['cornerwise', '--data', os.environ['DATA']]
entry.main()
"""
)

PROGRAMS = {"bare": BARE, "bare, with the house's values": "import ui.state.snapshot\n" + BARE, "bench": BENCH}
_COUNTER = ("valgrind", "--tool=cachegrind", "--cache-sim=no", "--cachegrind-out-file=/dev/null")


def once(program: str, folder: Path, bytecode: Path, counted: bool) -> tuple[float, float, float]:
    """Seconds to the first frame, processor seconds (counted: 1e9 instructions), and resident memory in MB."""
    environ = os.environ | {
        "SDL_VIDEODRIVER": "offscreen",
        "BEGAN": str(time.time()),
        "DATA": str(folder),
        "PYTHONPYCACHEPREFIX": str(bytecode),
        "PYTHONDONTWRITEBYTECODE": "",
        "PYTHONHASHSEED": "0",
    }
    command = [*(_COUNTER if counted else ()), sys.executable, "-c", program]
    ended = subprocess.run(command, env=environ, capture_output=True, text=True, check=True)
    seconds, used_s, kb = ended.stdout.split()[-3:]
    instructions = re.search(r"I\s+refs:\s+([\d,]+)", ended.stderr)
    if instructions is not None:
        used_s = str(int(instructions[1].replace(",", "")) / 1e9)
    return float(seconds), float(used_s), int(kb) / 1024.0


def main(rounds: int, counted: bool) -> None:
    """Measure and print."""
    figures: dict[str, list[tuple[float, float, float]]] = {name: [] for name in PROGRAMS}
    with TemporaryDirectory() as bytecode:
        for number in range(rounds + 1):
            for name, program in PROGRAMS.items():
                with TemporaryDirectory() as folder:
                    # The first round compiles, and warms the disk cache.
                    measured = once(program, Path(folder), Path(bytecode), counted and number > 0)
                if number:
                    figures[name].append(measured)
    least = {name: tuple(min(row[i] for row in rows) for i in range(3)) for name, rows in figures.items()}
    used = "1e9 instructions" if counted else "s of processor"
    for name, (seconds, used_s, memory_mb) in least.items():
        print(f"{name:30} first screen {seconds:5.2f} s, {used_s:5.2f} {used}; {memory_mb:4.0f} MB")
    for name in list(PROGRAMS)[:2]:
        ratios = [least["bench"][i] / least[name][i] for i in range(3)]
        print(f"bench to {name}: wait {ratios[0]:.2f}, work {ratios[1]:.2f}, memory {ratios[2]:.2f}")


if __name__ == "__main__":
    words = [word for word in sys.argv[1:] if word != "--counted"]
    main(int(words[0]) if words else 5, "--counted" in sys.argv)
