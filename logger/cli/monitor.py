"""`beadwatch monitor`: the operator's screen, a process of its own."""

import contextlib
import shlex
import signal
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, say
from logger.cli.exit_codes import ExitCode
from logger.cli.places import default_socket
from logger.errors import InputError
from logger.wording.units import PressureUnit

LOOPBACK = "127.0.0.1"


class ThemeName(StrEnum):
    DARK = "dark"
    LIGHT = "light"
    MONO = "mono"


class Language(StrEnum):
    ENGLISH = "en"
    GERMAN = "de"
    SPANISH = "es"
    TURKISH = "tr"


def monitor(
    socket: Annotated[Path | None, typer.Option(help="The recorder's local socket.")] = None,
    url: Annotated[str, typer.Option(help="A recorder on the network: https://HOST:PORT.")] = "",
    token_file: Annotated[
        Path | None, typer.Option(help="File with the token of a recorder on the network.")
    ] = None,
    plain: Annotated[bool, typer.Option("--plain", help="One line for each event; Enter asks.")] = False,
    web: Annotated[bool, typer.Option("--web", help="In a browser, on this machine only.")] = False,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port for --web.")] = 8117,
    unit: Annotated[PressureUnit, typer.Option(help="Unit of the gauge.")] = PressureUnit.BAR,
    theme: Annotated[ThemeName, typer.Option(help="Colours, or none.")] = ThemeName.DARK,
    language: Annotated[
        Language, typer.Option(help="Language; all but English are unreviewed drafts.")
    ] = Language.ENGLISH,
) -> None:
    """Show a running recorder to the operator. Closing the monitor never stops the recorder."""
    if socket is not None and url:
        raise InputError("give a socket or an address, not both", key="--url")
    if plain and web:
        raise InputError("a browser shows screens, not lines", key="--plain")
    if token_file is not None and not token_file.is_file():
        raise InputError("there is no such file", file=str(token_file), key="--token-file")
    command = monitor_command(["--url", url] if url else ["--socket", str(socket or default_socket())])
    command += ["--unit", unit, "--theme", theme, "--language", language]
    command += ["--token-file", str(token_file)] if token_file else []
    if web:
        _serve(command, port)
    elif (code := run_monitor([*command, *(["--plain"] if plain else [])])) != 0:
        raise typer.Exit(code)


def monitor_command(options: list[str]) -> list[str]:
    return [sys.executable, "-m", "tui", *options]


def run_monitor(command: list[str]) -> int:
    """Run the monitor on this terminal until it is closed; return its exit code, 0 after Ctrl+C."""
    with subprocess.Popen(command) as process:
        while True:
            # The monitor hears Ctrl+C itself, and decides.
            with contextlib.suppress(KeyboardInterrupt):
                process.wait()
                break
    return int(ExitCode.OK) if process.returncode == -signal.SIGINT else process.returncode


def _serve(command: list[str], port: int) -> None:
    from textual_serve.server import Server

    say(f"monitor on http://{LOOPBACK}:{port}; every open page is a monitor of its own, without its bell")
    Server(shlex.join(command), host=LOOPBACK, port=port, title="Beadwatch monitor").serve()


class Voice:
    """Prints at once."""

    def out(self, lines: Iterable[str]) -> None:
        out(lines)

    def say(self, line: str) -> None:
        say(line)


class KeptVoice(Voice):
    """Keeps what is to be printed while the monitor has the terminal."""

    def __init__(self, monitor_process: "subprocess.Popen[bytes]") -> None:
        self._process = monitor_process
        self._kept: list[tuple[Callable[[list[str]], None], list[str]]] = []

    def out(self, lines: Iterable[str]) -> None:
        self._keep(out, list(lines))

    def say(self, line: str) -> None:
        self._keep(lambda lines: say(lines[0]), [line])

    def _keep(self, print_lines: Callable[[list[str]], None], lines: list[str]) -> None:
        self._kept.append((print_lines, lines))
        if self._process.poll() is not None:
            self.release()

    def release(self) -> None:
        """Print what was kept."""
        for print_lines, lines in self._kept:
            print_lines(lines)
        self._kept.clear()


@contextlib.contextmanager
def beside_monitor(socket: Path) -> Iterator[Voice]:
    """The monitor on this terminal until it is closed; what is said meanwhile is printed afterwards."""
    with subprocess.Popen(monitor_command(["--socket", str(socket)])) as process:
        voice = KeptVoice(process)
        try:
            yield voice
        except BaseException:
            process.terminate()
            raise
        finally:
            process.wait()
            voice.release()
