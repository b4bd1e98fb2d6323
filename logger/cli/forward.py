"""`beadwatch forward`: curves to a time-series server, as a process of its own."""

import signal
import threading
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from contextlib import closing, suppress
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.console import out, out_text, say
from logger.cli.places import default_store
from logger.config.forward_file import load_targets
from logger.daemon.clock import MachineClock
from logger.daemon.forward_check import compared, expected_points
from logger.daemon.forwarding import Forwarder
from logger.domain.forward_status import as_seen
from logger.domain.forward_target import ForwardTarget
from logger.errors import BeadwatchError, DeviceError, InputError
from logger.forward.outbox import Outbox, Position, outbox_path
from logger.forward.readback import Dialect, points_on
from logger.store.outgoing import place_of
from logger.store.reader import Reader
from logger.wording.forward_states import STATE_TEXTS
from logger.wording.forward_text import comparison_text, status_json, status_lines

app = typer.Typer(name="forward", help="Send curves to a time-series server.", no_args_is_help=True)

FileArgument = Annotated[Path, typer.Argument(metavar="FORWARD.toml", help="Where curves go.")]
StoreOption = Annotated[Path | None, typer.Option(help="The record.", readable=False)]
TargetOption = Annotated[str, typer.Option(help="Which target, where the file names several.")]
SHORTEST_WAIT_S = 0.01
LONGEST_SILENCE_S = 10.0
READ_TIMEOUT_S = 60.0


@app.command()
def run(
    forward_file: FileArgument,
    store: StoreOption = None,
    until_caught_up: Annotated[bool, typer.Option("--once", help="Stop when nothing waits.")] = False,
) -> None:
    """Send what is new, to every target, until stopped by a signal. The record is only read."""
    from logger.forward.influx import InfluxSink

    path = store or default_store()
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())

    def send(target: ForwardTarget) -> None:
        with closing(Outbox(outbox_path(path))) as outbox, closing(InfluxSink(target)) as sink:
            forwarder = Forwarder(path, outbox, target.name, sink, MachineClock(), target.batch_lines)
            while not stop.is_set():
                wait_s = _stepped(forwarder, target.name)
                if until_caught_up and forwarder.is_caught_up:
                    return
                _wait(stop, forwarder, max(wait_s, SHORTEST_WAIT_S))

    targets = load_targets(forward_file).values()
    with ThreadPoolExecutor(len(targets), "forward") as pool:
        sending = [pool.submit(send, target) for target in targets]
        wait(sending, return_when=FIRST_EXCEPTION)
        if any(one.done() and one.exception() for one in sending):
            stop.set()
        for one in sending:
            one.result()


def _stepped(forwarder: Forwarder, target: str) -> float:
    """A record or outbox that cannot be read now may be readable later."""
    try:
        return forwarder.step()
    except BeadwatchError as error:
        say(f"{target}: {error}")
        return 2.0


def _wait(stop: threading.Event, forwarder: Forwarder, wait_s: float) -> None:
    while wait_s > 0.0 and not stop.wait(min(wait_s, LONGEST_SILENCE_S)):
        wait_s -= LONGEST_SILENCE_S
        if wait_s > 0.0:
            with suppress(BeadwatchError):
                forwarder.tell_again()


@app.command()
def status(
    forward_file: FileArgument,
    store: StoreOption = None,
    parked: Annotated[bool, typer.Option("--parked", help="And every line that was put aside.")] = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object per target.")] = False,
) -> None:
    """Say for each target what it has had, what waits, and what it does not take."""
    now = MachineClock().utc()
    with closing(Outbox(outbox_path(store or default_store()))) as outbox:
        for name in load_targets(forward_file):
            told = outbox.status(name)
            seen = None if told is None else as_seen(told, now)
            if json:
                out_text(status_json(name, seen))
            else:
                out(status_lines(name, seen, outbox.parked(name) if parked else []))


@app.command()
def verify(
    forward_file: FileArgument,
    joints: Annotated[list[str], typer.Argument(metavar="JOINT...", help="Numbers or ids.")],
    store: StoreOption = None,
    target: TargetOption = "",
) -> None:
    """Compare joints on the server with the record, point by point."""
    from logger.forward.influx import client_for

    chosen = _target(forward_file, target)
    dialect = Dialect(chosen.read_as)
    is_same = True
    with client_for(chosen, READ_TIMEOUT_S) as client:
        for joint in joints:
            uuid, expected = expected_points(store or default_store(), joint)
            found = points_on(client, dialect, chosen.bucket, uuid)
            comparison = compared(expected, found, with_texts=dialect.keeps_text)
            is_same = is_same and comparison.is_same
            out([comparison_text(joint, comparison)])
    if not is_same:
        raise DeviceError(f"{chosen.name}: the server does not hold what the record holds")


@app.command()
def resend(
    forward_file: FileArgument,
    joint: Annotated[str, typer.Argument(metavar="JOINT", help="From this joint on; number or id.")],
    to: Annotated[str, typer.Option(metavar="JOINT", help="Up to this one, at once.")] = "",
    store: StoreOption = None,
    target: TargetOption = "",
) -> None:
    """Send joints again; on the server nothing is doubled by it.

    Without --to the running forwarder goes back to this joint, and tries parked lines again too.
    """
    path = store or default_store()
    chosen = _target(forward_file, target)
    first = _place(path, joint)
    if to:
        _send_again(path, chosen, first, _place(path, to))
        out([f"{chosen.name}: sent again from {joint} to {to}"])
        return
    with closing(Outbox(outbox_path(path))) as outbox:
        outbox.unpark(chosen.name)
        outbox.put_back(chosen.name, Position(first))
    out([f"{chosen.name}: goes on from joint {joint}"])


def _place(store: Path, joint: str) -> int:
    with Reader(store) as reader:
        return place_of(store, reader.joint(joint).header.uuid)


def _send_again(store: Path, target: ForwardTarget, first: int, last: int) -> None:
    """Send a range now, beside the forwarder. Raises DeviceError where the server does not take all of it."""
    from logger.forward.influx import InfluxSink

    with closing(Outbox(Path(":memory:"))) as outbox, closing(InfluxSink(target)) as sink:
        outbox.put_back(target.name, Position(first))
        forwarder = Forwarder(
            store, outbox, target.name, sink, MachineClock(), target.batch_lines, last_joint=last
        )
        while not forwarder.is_caught_up:
            wait_s = forwarder.step()
            told = outbox.status(target.name)
            if wait_s > 0.0 and not forwarder.is_caught_up and told is not None:
                raise DeviceError(f"{target.name}: {STATE_TEXTS[told.state]} ({told.reason})")
        parked = len(outbox.parked(target.name))
    if parked:
        raise DeviceError(f"{target.name}: the server does not take {parked} lines")


def _target(forward_file: Path, name: str) -> ForwardTarget:
    targets = load_targets(forward_file)
    if name and name not in targets:
        raise InputError(f"no such target: {name}; one of {', '.join(targets)}", key="--target")
    if not name and len(targets) > 1:
        raise InputError(f"say which: {', '.join(targets)}", key="--target")
    return targets[name or next(iter(targets))]
