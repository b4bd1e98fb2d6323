"""`python -m tui`: the monitor; `beadwatch monitor` starts it."""

import argparse
import asyncio
import contextlib
import os
import signal
import sys
import threading
import time
from pathlib import Path

from logger.errors import BeadwatchError
from logger.wording.units import PressureUnit, Units
from tui.app import Choices, MonitorApp
from tui.catalogue import languages, use
from tui.link import Place, RecorderLink
from tui.plain import PlainMonitor
from tui.themes import THEMES

LOOK_S = 1.0


def main() -> int:
    options = _options()
    if sys.stdin.isatty():
        threading.Thread(target=_end_with_the_terminal, args=(sys.stdin.fileno(),), daemon=True).start()
    use(options.language)
    units = Units(pressure=PressureUnit(options.unit))
    token = ""
    if options.token_file is not None:
        token = options.token_file.read_text(encoding="utf-8").strip()
    try:
        link = RecorderLink(Place(socket=options.socket, url=options.url, token=token))
    except BeadwatchError as error:
        sys.stderr.write(f"{error}\n")
        return 3
    if options.plain:
        # Ctrl+C, or nobody reads on: both end it.
        with contextlib.suppress(KeyboardInterrupt, BrokenPipeError):
            asyncio.run(PlainMonitor(link, units).run())
        return 0
    app = MonitorApp(link, Choices(units=units, theme=options.theme))
    app.run()
    return app.return_code or 0


def _end_with_the_terminal(terminal: int) -> None:
    """Hang up when the terminal does: the kernel tells only the program that was first on it."""
    while os.isatty(terminal):
        time.sleep(LOOK_S)
    os.kill(os.getpid(), signal.SIGHUP)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tui", description=__doc__)
    place = parser.add_mutually_exclusive_group(required=True)
    place.add_argument("--socket", type=Path)
    place.add_argument("--url", default="")
    parser.add_argument("--token-file", type=Path)
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--unit", choices=[unit.value for unit in PressureUnit], default="bar")
    parser.add_argument("--theme", choices=[theme.name for theme in THEMES], default="dark")
    parser.add_argument("--language", choices=languages(), default="en")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
