"""The recorder as a process: build, recover, sample until told to stop, leave the record whole."""

import asyncio
import contextlib
import gc
import logging
import signal
import sys
from collections.abc import Callable, Coroutine
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fastapi import FastAPI

from logger import __version__
from logger.acquire.poll_thread import PollThread
from logger.api.app import app_of
from logger.api.listen import listen
from logger.api.record_routes import add_record
from logger.api.serving import serve
from logger.api.socket import bind
from logger.config.rig_file import rig_of, whole_text
from logger.config.toml_file import read_document
from logger.daemon.archive import Archive
from logger.daemon.calibration_watch import CalibrationWatch
from logger.daemon.clock import MachineClock, boot_id
from logger.daemon.desk import Desk
from logger.daemon.forward_board import ForwardBoard
from logger.daemon.joint_files import planned_joint
from logger.daemon.notify import keep_watchdog, notify
from logger.daemon.record_desk import RecordDesk
from logger.daemon.recorder import Recorder
from logger.daemon.recovery import interrupt, may_resume, open_joints
from logger.daemon.reload import Reload
from logger.daemon.view import View
from logger.domain.listen import ListenOptions
from logger.domain.record import RecorderOff, RecorderRun
from logger.domain.rig import Rig
from logger.errors import BeadwatchError, DamagedRecord
from logger.store.aside import set_aside
from logger.store.reader import Reader
from logger.store.writer import Writer

_log = logging.getLogger(__name__)

ALIVE_EVERY_S = 10.0
THREAD_TURN_S = 0.001
"""How long a computation may keep the interpreter to itself while the poller's thread wants it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOptions:
    """What `beadwatch run` was asked for."""

    rig_file: Path
    joint_file: Path | None
    store: Path
    socket: Path
    time_scale: float = 1.0
    listen: ListenOptions | None = None
    """Governs over `[api]` of the rig file."""


async def run(options: RunOptions, begun: Callable[[], None]) -> None:
    """Record until SIGTERM or SIGINT; SIGHUP reads the rig file again between joints.

    `begun` is called each time recording has begun.

    Raises InputError, DeviceError or StoreError when it cannot start.
    """
    sys.setswitchinterval(THREAD_TURN_S)
    while await _run(options, begun):
        options = replace(options, joint_file=None)
    notify("STOPPING=1")


async def _run(options: RunOptions, begun: Callable[[], None]) -> bool:
    """Record until stopped; True where it is to begin again."""
    document = read_document(options.rig_file)
    installation = rig_of(document.text, str(options.rig_file), options.rig_file.parent)
    joint_text = None if options.joint_file is None else read_document(options.joint_file).text
    if joint_text is not None:
        # Refused before anything is opened: a start that fails leaves no trace in the record.
        planned_joint(joint_text, str(options.joint_file), installation.rig)
    clock = MachineClock(options.time_scale)
    listening = listen(asked) if (asked := options.listen or installation.listen) else None
    listener = bind(options.socket)
    options.store.parent.mkdir(parents=True, exist_ok=True)
    try:
        writer, damage = _open(options.store, clock)
        recorder = Recorder(installation, whole_text(document.text, options.rig_file.parent), clock, writer)
        poller = PollThread(installation, clock, recorder.on_sample, recorder.on_health)
        await _begin(options.store, writer, clock, recorder)
        if damage:
            recorder.alarm("record.damaged", damage)
        calibrations = CalibrationWatch(installation.rig, recorder, clock)
        calibrations.look()
        if joint_text is not None and recorder.state().joint_uuid is None:
            await recorder.start_joint(joint_text, str(options.joint_file))
        forwarding = ForwardBoard(options.store, clock)
        app = _application(
            options.store, installation.rig, recorder, View(recorder, forwarding), writer, clock
        )
        stop = asyncio.Event()
        reload = Reload(options.rig_file, recorder, stop)
        asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, reload.ask)
        # What lives as long as the process is not searched for garbage again: a search stops every thread.
        gc.collect()
        gc.freeze()
        begun()
        notify(f"READY=1\nSTATUS=recording {installation.rig.name}")
        await _serve(
            stop,
            serve(app, listener, listening),
            poller.run(),
            _keep_alive(writer, clock, calibrations),
            forwarding.keep_fresh(),
            keep_watchdog(poller.is_turning),
        )
        await recorder.settled()
        with contextlib.suppress(BeadwatchError):
            why = "reloaded" if reload.is_wanted else "stopped"
            await asyncio.to_thread(writer.end_run, clock.stamp(), why)
        await asyncio.to_thread(writer.close)
        return reload.is_wanted
    finally:
        listener.close()
        options.socket.unlink(missing_ok=True)


def _application(
    store: Path, rig: Rig, recorder: Recorder, view: View, writer: Writer, clock: MachineClock
) -> FastAPI:
    archive = Archive(store)
    app = app_of(view, Desk(recorder, rig, archive, writer, clock), archive, __version__)
    add_record(app, RecordDesk(recorder, archive, writer, store, clock))
    return app


def _open(store: Path, clock: MachineClock) -> tuple[Writer, dict[str, str]]:
    """Open the record; one that is damaged is set aside and a fresh one begun: sampling must go on.

    Also returns the parameters of the alarm, empty without one. Raises StoreError when neither can be opened.
    """
    try:
        return Writer(store, at=clock.stamp()), {}
    except DamagedRecord as error:
        aside = set_aside(store, clock.stamp().utc)
        return Writer(store, at=clock.stamp()), {"error": str(error), "aside": str(aside)}


async def _begin(store: Path, writer: Writer, clock: MachineClock, recorder: Recorder) -> None:
    """Say that the recorder was off, and decide on the joints that were open when it stopped."""
    with Reader(store) as reader:
        last = reader.last_run()
        found, unreadable = open_joints(reader)
    now = clock.stamp()
    writer.start_run(
        RecorderRun(
            boot_id=boot_id(),
            started=now,
            software=__version__,
            time_scale=clock.time_scale,
            clock_source="CLOCK_MONOTONIC",
        )
    )
    if last is not None:
        since = last.ended or last.alive or last.run.started
        why = "stopped" if last.ended else "killed or power lost"
        writer.record_off(RecorderOff(from_utc=since.utc, to_utc=now.utc, reason=why))
    resumable = [joint for joint in found if may_resume(joint, clock)][-1:]
    for joint in found:
        if joint not in resumable:
            interrupt(writer, joint, "the recorder was away", clock)
    for joint in resumable:
        await recorder.resume(joint)
    for what in unreadable:
        recorder.alarm("joint.unreadable", what)


async def _serve(stop: asyncio.Event, *lasting: Coroutine[Any, Any, None]) -> None:
    loop = asyncio.get_running_loop()
    for number in (signal.SIGTERM, signal.SIGINT):
        loop.add_signal_handler(number, stop.set)
    tasks: list[asyncio.Task[None]] = [asyncio.create_task(one) for one in lasting]

    def stop_on_error(task: asyncio.Task[None]) -> None:
        # A poller that returns has only ended its recordings: the recorder goes on serving what it holds.
        if not task.cancelled() and task.exception() is not None:
            stop.set()

    for task in tasks:
        task.add_done_callback(stop_on_error)
    try:
        await stop.wait()
        for task in tasks:
            if task.done():
                task.result()
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


async def _keep_alive(writer: Writer, clock: MachineClock, calibrations: CalibrationWatch) -> None:
    while True:
        calibrations.look()
        with contextlib.suppress(BeadwatchError):
            await asyncio.to_thread(writer.alive, clock.stamp())
        await asyncio.sleep(ALIVE_EVERY_S)
