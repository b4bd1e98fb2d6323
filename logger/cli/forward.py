"""`beadwatch forward`: curves to a time-series server, as a process of its own."""

import signal
import threading
from contextlib import closing
from pathlib import Path
from typing import Annotated

import httpx
import typer

from logger.cli.console import out, out_text, say
from logger.cli.places import default_store
from logger.config.forward_file import load_targets
from logger.daemon.clock import MachineClock
from logger.daemon.forward_check import compared, expected_points
from logger.daemon.forwarding import Forwarder
from logger.domain.forward_target import ForwardTarget
from logger.errors import BeadwatchError, DeviceError, InputError
from logger.forward.outbox import Outbox, Position
from logger.forward.readback import Dialect, samples_on
from logger.store.outgoing import place_of
from logger.store.reader import Reader
from logger.wording.forward_text import comparison_text, status_json, status_lines

app = typer.Typer(name="forward", help="Send curves to a time-series server.", no_args_is_help=True)

FileArgument = Annotated[Path, typer.Argument(metavar="FORWARD.toml", help="Where curves go.")]
StoreOption = Annotated[Path | None, typer.Option(help="The record.")]
TargetOption = Annotated[str, typer.Option(help="Which target, where the file names several.")]
SHORTEST_WAIT_S = 0.01


@app.command()
def run(
    forward_file: FileArgument,
    store: StoreOption = None,
    until_caught_up: Annotated[bool, typer.Option("--once", help="Stop when nothing waits.")] = False,
) -> None:
    """Send what is new, to every target, until stopped by a signal. The record is only read."""
    from logger.forward.influx import InfluxSink, InfluxTarget

    path = store or default_store()
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())

    def send(target: ForwardTarget) -> None:
        sink = InfluxSink(
            InfluxTarget(
                url=target.url,
                org=target.org,
                bucket=target.bucket,
                token=target.token,
                timeout_s=target.timeout_s,
                verify_tls=target.verify_tls,
                ca_file=target.ca_file,
            )
        )
        with closing(Outbox(outbox_path(path))) as outbox, closing(sink):
            forwarder = Forwarder(path, outbox, target.name, sink, MachineClock(), target.batch_lines)
            while not stop.is_set():
                wait_s = _stepped(forwarder, target.name)
                status = outbox.status(target.name)
                if until_caught_up and status is not None and status.state == "caught up":
                    return
                stop.wait(max(wait_s, SHORTEST_WAIT_S))

    threads = [
        threading.Thread(target=send, args=(target,), name=f"forward-{name}", daemon=True)
        for name, target in load_targets(forward_file).items()
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def _stepped(forwarder: Forwarder, target: str) -> float:
    """A record or outbox that cannot be read now may be readable later."""
    try:
        return forwarder.step()
    except BeadwatchError as error:
        say(f"{target}: {error}")
        return 2.0


@app.command()
def status(
    forward_file: FileArgument,
    store: StoreOption = None,
    parked: Annotated[bool, typer.Option("--parked", help="And every line that was put aside.")] = False,
    json: Annotated[bool, typer.Option("--json", help="One JSON object per target.")] = False,
) -> None:
    """Say for each target what it has had, what waits, and what it does not take."""
    with closing(Outbox(outbox_path(store or default_store()))) as outbox:
        for name in load_targets(forward_file):
            aside = outbox.parked(name)
            if json:
                out_text(status_json(name, outbox.status(name), aside))
            else:
                out(status_lines(name, outbox.status(name), aside if parked else [], len(aside)))


@app.command()
def verify(
    forward_file: FileArgument,
    joints: Annotated[list[str], typer.Argument(metavar="JOINT...", help="Numbers or ids.")],
    store: StoreOption = None,
    target: TargetOption = "",
) -> None:
    """Compare joints on the server with the record, point by point."""
    chosen = _target(forward_file, target)
    headers = {"Authorization": f"Token {chosen.token}"}
    verified: str | bool = chosen.ca_file or chosen.verify_tls
    is_same = True
    with httpx.Client(
        base_url=chosen.url, headers=headers, timeout=60.0, verify=verified, trust_env=False
    ) as client:
        for joint in joints:
            uuid, expected = expected_points(store or default_store(), joint)
            found = samples_on(client, Dialect(chosen.read_as), chosen.bucket, uuid)
            comparison = compared(expected, found)
            is_same = is_same and comparison.is_same
            out([comparison_text(joint, comparison)])
    if not is_same:
        raise DeviceError(f"{chosen.name}: the server does not hold what the record holds")


@app.command()
def resend(
    forward_file: FileArgument,
    joint: Annotated[str, typer.Argument(metavar="JOINT", help="From this joint on; number or id.")],
    store: StoreOption = None,
    target: TargetOption = "",
) -> None:
    """Send this joint and all after it again; on the server nothing is doubled by it. Parked lines too."""
    path = store or default_store()
    name = _target(forward_file, target).name
    with Reader(path) as reader:
        place = place_of(path, reader.joint(joint).header.uuid)
    with closing(Outbox(outbox_path(path))) as outbox:
        outbox.unpark(name)
        outbox.put_back(name, Position(place))
    out([f"{name}: goes on from joint {joint}"])


def outbox_path(store: Path) -> Path:
    """The forwarder's own database, beside the record."""
    return store.with_name(f"{store.stem}.forward.db")


def _target(forward_file: Path, name: str) -> ForwardTarget:
    targets = load_targets(forward_file)
    if name and name not in targets:
        raise InputError(f"no such target: {name}; one of {', '.join(targets)}", key="--target")
    if not name and len(targets) > 1:
        raise InputError(f"say which: {', '.join(targets)}", key="--target")
    return targets[name or next(iter(targets))]
