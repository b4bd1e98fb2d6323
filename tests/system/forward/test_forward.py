"""Joints of a record on real servers: all of them, once, the same; and every answer of the v2 write API."""

import json
import re
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import httpx
import pytest

from logger.daemon.clock import MachineClock
from logger.domain.forward_status import ForwardState
from logger.domain.forward_target import ForwardTarget
from logger.domain.record import Stamp
from logger.forward.influx import InfluxSink
from logger.forward.outbox import outbox_path, statuses_of
from logger.forward.sink import Delivered, Later, Rejected, TooLarge
from logger.wire.judgement import to_json
from tests.system.forward.servers import (
    Strict,
    answering,
    forward_file,
    free_port,
    influxdb_1,
    victoria_metrics,
)
from tests.system.processes import beadwatch, running, until
from tests.system.test_api_tcp import certificate
from tests.unit.cli.command import Command, command_of
from tests.unit.forward.lossy_server import RIG
from tests.unit.forward.test_dashboards import queries_in
from tests.unit.store.record_values import EMITTED, FINISHED, JUDGEMENT, header, open_writer, sample
from tests.unit.wire.documents import PLAN

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]
JOINTS, SAMPLES = 3, 400
PAST = Stamp(mono_ms=1_000, utc="2024-05-04T07:00:00.000Z")
"""VictoriaMetrics drops what lies days ahead without a word."""


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    emitted = replace(EMITTED, text=to_json(replace(JUDGEMENT, plan=PLAN)))
    for index in range(1, JOINTS + 1):
        writer.open_joint(replace(header(index, f"A-{index}"), rig_toml=RIG, opened=PAST))
        for number in range(SAMPLES):
            writer.append(header(index).uuid, sample(number))
        writer.close_joint(header(index).uuid, FINISHED, emitted)
    writer.close()
    return path


@pytest.fixture
def command(capsys, monkeypatch):
    return command_of(capsys, monkeypatch)


def forwarded(file: Path, record: Path) -> None:
    done = beadwatch("forward", "run", file, "--store", record, "--once")
    assert done.returncode == 0, done.stderr


def same_on_the_server(command: Command, file: Path, record: Path) -> None:
    numbers = [f"A-{index}" for index in range(1, JOINTS + 1)]
    done = command("forward", "verify", file, *numbers, "--store", record)
    assert done.code == 0, done.out + done.err
    assert done.out.count("0 missing, 0 extra, 0 different") == JOINTS


@pytest.mark.needs("victoria-metrics", "victoria-metrics")
def test_victoria_metrics_holds_every_point_once_also_after_a_kill_and_a_resend(record, tmp_path, command):
    port = free_port()
    folder = tmp_path / "vm"
    with victoria_metrics(folder, port) as url:
        file = forward_file(tmp_path, url, "victoria-metrics")
        forwarded(file, record)
        same_on_the_server(command, file, record)
        with httpx.Client(base_url=url, trust_env=False) as client:
            for query in asked_in_metricsql():
                when = {"start": PAST.utc, "end": "2024-05-04T07:01:00Z", "step": "1s"}
                answer = client.get("/api/v1/query_range", params={"query": query, **when})
                assert answer.raise_for_status().json()["data"]["result"], query
    # Killed at once: what it had answered may be gone. Sending again brings it back and doubles nothing.
    with victoria_metrics(folder, port):
        assert command("forward", "resend", file, "A-1", "--store", record).code == 0
        forwarded(file, record)
        same_on_the_server(command, file, record)
    status = command("forward", "status", file, "--store", record).out
    assert "up to date" in status
    assert "0 samples wait" in status
    assert "0 put aside" in status


@pytest.mark.needs("influxdb", "influxd")
def test_influxdb_1_holds_every_point_once(record, tmp_path, command):
    with influxdb_1(tmp_path / "influx") as url:
        file = forward_file(tmp_path, url)
        for _ in range(2):
            forwarded(file, record)
            assert command("forward", "resend", file, "A-2", "--store", record).code == 0
        assert command("forward", "resend", file, "A-1", "--to", "A-2", "--store", record).code == 0
        same_on_the_server(command, file, record)
        with httpx.Client(base_url=url, trust_env=False) as client:
            for query, text_column in asked_by_dashboards():
                answer = client.get("/query", params={"db": "rigs", "epoch": "ms", "q": query})
                (result,) = answer.raise_for_status().json()["results"]
                rows = [
                    dict(zip(series["columns"], row, strict=True))
                    for series in result["series"]
                    for row in series["values"]
                ]
                assert any(row[name] for row in rows for name in row if name != "time"), query
                # The text of an annotation is a column; what a query groups by is none.
                assert not text_column or all(row[text_column] for row in rows), query


def asked_in_metricsql():
    """What the dashboard for VictoriaMetrics asks of its panels and annotations."""
    document = json.loads((files("configs") / "grafana" / "victoria-metrics.json").read_text())
    values = {"$__interval": "1s", "$rig": "heron-160", "$joint": header(1).uuid}
    for query in queries_in({**document, "templating": {}}):
        for variable, value in values.items():
            query = query.replace(variable, value)
        yield query


def asked_by_dashboards():
    """What the dashboards ask, variables filled in as Grafana does, and the column an annotation shows."""
    values = {
        "$timeFilter": "time >= '2024-05-01' AND time < '2024-06-01'",
        "$rig": "heron-160",
        "$joint": header(1).uuid,
    }
    for name in ("fleet.json", "joint.json", "live.json"):
        document = json.loads((files("configs") / "grafana" / name).read_text())
        shown = {one["query"]: one["textColumn"] for one in document["annotations"]["list"]}
        for query in queries_in(document):
            filled = query
            for variable, value in values.items():
                filled = filled.replace(variable, value)
            assert not re.search(r"\$\w", filled)
            yield filled, shown.get(query, "")


def test_a_forwarder_that_cannot_keep_its_place_ends_and_says_so(record, tmp_path):
    """So that its unit starts it again, instead of standing there with nothing to do."""
    file = forward_file(tmp_path, f"http://127.0.0.1:{free_port()}")
    outbox_path(record).mkdir()
    done = beadwatch("forward", "run", file, "--store", record)
    assert done.returncode == 5
    assert "record.forward.db" in done.stderr


def test_the_documented_api_takes_every_line(record, tmp_path):
    server = Strict("secret")
    with answering(server) as url:
        file = forward_file(tmp_path, url)
        forwarded(file, record)
    assert len(set(server.lines)) == len(server.lines)
    assert sum(line.startswith("beadwatch_sample,") for line in server.lines) == JOINTS * SAMPLES
    assert sum(line.startswith("beadwatch_joint,") for line in server.lines) == JOINTS


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        ((204, {}, b""), Delivered()),
        ((400, {}, b'{"message":"partial write"}'), Rejected),
        ((422, {}, b""), Rejected),
        ((401, {}, b""), ForwardState.WRONG_TOKEN),
        ((403, {}, b""), ForwardState.WRONG_TOKEN),
        ((404, {}, b""), ForwardState.NO_BUCKET),
        ((413, {}, b""), TooLarge()),
        ((429, {"Retry-After": "7"}, b""), ForwardState.SERVER_BUSY),
        ((500, {}, b""), ForwardState.SERVER_FAULT),
        ((503, {"Retry-After": "3"}, b""), ForwardState.SERVER_FAULT),
        ((503, {"Retry-After": "Fri, 01 Jan 2100 00:00:00 GMT"}, b""), ForwardState.SERVER_FAULT),
        ((500, {}, b'{"error":"engine: write _00001.wal: no space left on device"}'), ForwardState.DISK_FULL),
        ((400, {}, b"partial write: write 0002: no space left on device dropped=1"), ForwardState.DISK_FULL),
        ((507, {}, b""), ForwardState.DISK_FULL),
        (None, ForwardState.SERVER_DOWN),
    ],
)
def test_each_answer_means_what_it_says(reply, expected):
    server = Strict("secret")
    server.script = [reply]
    with answering(server) as url:
        answer = written(url, "secret")
    if isinstance(expected, ForwardState):
        assert isinstance(answer, Later)
        assert answer.state is expected
    elif expected is Rejected:
        assert isinstance(answer, Rejected)
    else:
        assert answer == expected
    assert "secret" not in repr(answer)
    if reply is not None and "Retry-After" in reply[1]:
        text = reply[1]["Retry-After"]
        assert answer.after_s == float(text) if text.isdigit() else answer.after_s > 0.0
    assert server.asked == 1


def test_a_certificate_is_checked_unless_it_is_one_of_ours(tmp_path):
    tls = certificate(tmp_path)
    with answering(Strict("secret"), tls=tls) as url:
        stranger = written(url, "secret")
        assert isinstance(stranger, Later)
        assert stranger.state is ForwardState.NOT_TRUSTED
        assert written(url, "secret", ca_file=str(tls[0])) == Delivered()


def written(url, token, ca_file=""):
    sink = InfluxSink(
        ForwardTarget(
            name="t", url=url, org="works", bucket="rigs", token=token, timeout_s=2.0, ca_file=ca_file
        )
    )
    assert bool(sink.look().trouble) == (url.startswith("https") and not ca_file)
    answer = sink.write(["m,a=b f=1.0 1"])
    sink.close()
    return answer


@pytest.mark.needs("victoria-metrics", "victoria-metrics")
def test_each_trouble_has_a_state_of_its_own_and_the_others_go_on(record, tmp_path, command):
    """One forwarder, five targets: not there, wrong token, full disk (a real server), another time, well."""
    full = victoria_metrics(tmp_path / "full", free_port(), "-storage.minFreeDiskSpaceBytes=10000GB")
    well = Strict("secret")
    with (
        full as full_url,
        answering(Strict("another")) as token_url,
        answering(Strict("secret"), behind_s=-5 * 86_400.0) as late_url,
        answering(well) as well_url,
    ):
        urls = {
            "down": f"http://127.0.0.1:{free_port()}",
            "token": token_url,
            "disk": full_url,
            "clock": late_url,
            "well": well_url,
        }
        file = forward_file(tmp_path, urls)
        outbox = outbox_path(record)

        def states():
            return {one.target: one.state for one in statuses_of(outbox)}

        expected = {
            "down": ForwardState.SERVER_DOWN,
            "token": ForwardState.WRONG_TOKEN,
            "disk": ForwardState.DISK_FULL,
            "clock": ForwardState.CLOCK_WRONG,
            "well": ForwardState.CAUGHT_UP,
        }
        arguments = ["-m", "logger", "forward", "run", str(file), "--store", str(record)]
        with running(arguments, tmp_path / "forward.log"):
            until(lambda: states() == expected, "every target in its state", tmp_path / "forward.log")
        told = command("forward", "status", file, "--store", record).out
    assert "the server's disk is full (503" in told
    assert "clock: this machine's clock is wrong (5 d behind the server's clock)" in told
    assert f"{JOINTS * SAMPLES} samples wait, the oldest of 2024-05-04T07:00:0" in told
    assert not any(one.parked for one in statuses_of(outbox))
    assert sum(line.startswith("beadwatch_sample,") for line in well.lines) == JOINTS * SAMPLES


@pytest.mark.needs("victoria-metrics", "victoria-metrics")
@pytest.mark.needs("influxdb", "influxd")
def test_servers_tell_when_they_began(tmp_path):
    """So that a restart is noticed; a stand-in for `/ready` of 2.x, the other two for real."""
    with (
        victoria_metrics(tmp_path / "vm", free_port()) as vm_url,
        influxdb_1(tmp_path / "influx") as influx_url,
        answering(Strict("secret"), behind_s=3600.0) as ready_url,
    ):
        for url in (vm_url, influx_url, ready_url):
            sink = InfluxSink(ForwardTarget(name="t", url=url, org="works", bucket="rigs", token="secret"))
            look = sink.look()
            sink.close()
            assert look.trouble == ""
            assert look.started_s is not None
            assert look.utc is not None
        behind_s = (MachineClock().utc() - look.utc).total_seconds()
        assert round(behind_s / 3600.0) == 1
    sink = InfluxSink(ForwardTarget(name="t", url=vm_url, org="works", bucket="rigs", token="secret"))
    assert sink.look().trouble
    sink.close()
