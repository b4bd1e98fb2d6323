"""Joints of a record on real servers: all of them, once, the same; and every answer of the v2 write API."""

from dataclasses import replace
from pathlib import Path

import pytest

from logger.domain.record import Stamp
from logger.forward.influx import InfluxSink, InfluxTarget
from logger.forward.sink import Delivered, Later, Refused, Rejected, TooLarge
from logger.wire.judgement import to_json
from tests.system.forward.servers import Strict, answering, free_port, influxdb_1, victoria_metrics
from tests.system.processes import beadwatch
from tests.unit.forward.test_forwarder import RIG
from tests.unit.store.record_values import EMITTED, FINISHED, JUDGEMENT, header, open_writer, sample

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]
JOINTS, SAMPLES = 3, 400
PAST = Stamp(mono_ms=1_000, utc="2024-05-04T07:00:00.000Z")
"""VictoriaMetrics drops what lies days ahead without a word."""


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "record.db"
    writer = open_writer(path)
    emitted = replace(EMITTED, text=to_json(JUDGEMENT))
    for index in range(1, JOINTS + 1):
        writer.open_joint(replace(header(index, f"A-{index}"), rig_toml=RIG, opened=PAST))
        for number in range(SAMPLES):
            writer.append(header(index).uuid, sample(number))
        writer.close_joint(header(index).uuid, FINISHED, emitted)
    writer.close()
    return path


def forward_file(folder: Path, url: str, read_as: str = "influxql", token: str = "secret") -> Path:
    (folder / "token").write_text(token)
    (folder / "token").chmod(0o600)
    path = folder / "forward.toml"
    path.write_text(
        f'format = 1\n[target.office]\nurl = "{url}"\norg = "works"\nbucket = "rigs"\n'
        f'token_file = "token"\nread_as = "{read_as}"\ntimeout = "2 s"\nbatch_lines = 300\n'
    )
    return path


def same_on_the_server(file: Path, record: Path) -> None:
    numbers = [f"A-{index}" for index in range(1, JOINTS + 1)]
    done = beadwatch("forward", "verify", file, *numbers, "--store", record)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("0 missing, 0 extra, 0 different") == JOINTS


@pytest.mark.needs("victoria-metrics", "victoria-metrics")
def test_victoria_metrics_holds_every_point_once_also_after_a_kill_and_a_resend(record, tmp_path):
    port = free_port()
    folder = tmp_path / "vm"
    with victoria_metrics(folder, port) as url:
        file = forward_file(tmp_path, url, "victoria-metrics")
        assert beadwatch("forward", "run", file, "--store", record, "--once").returncode == 0
        same_on_the_server(file, record)
    # Killed at once: what it had answered may be gone. Sending again brings it back and doubles nothing.
    with victoria_metrics(folder, port):
        assert beadwatch("forward", "resend", file, "A-1", "--store", record).returncode == 0
        assert beadwatch("forward", "run", file, "--store", record, "--once").returncode == 0
        same_on_the_server(file, record)
    status = beadwatch("forward", "status", file, "--store", record)
    assert "caught up" in status.stdout
    assert "0 samples wait, 0 lines put aside" in status.stdout


@pytest.mark.needs("influxdb", "influxd")
def test_influxdb_1_holds_every_point_once(record, tmp_path):
    with influxdb_1(tmp_path / "influx") as url:
        file = forward_file(tmp_path, url)
        for _ in range(2):
            assert beadwatch("forward", "run", file, "--store", record, "--once").returncode == 0
            assert beadwatch("forward", "resend", file, "A-2", "--store", record).returncode == 0
        same_on_the_server(file, record)


def test_the_documented_api_takes_every_line(record, tmp_path):
    server = Strict("secret")
    with answering(server) as url:
        file = forward_file(tmp_path, url)
        done = beadwatch("forward", "run", file, "--store", record, "--once")
    assert done.returncode == 0, done.stderr
    assert len(set(server.lines)) == len(server.lines)
    assert sum(line.startswith("beadwatch_sample,") for line in server.lines) == JOINTS * SAMPLES
    assert sum(line.startswith("beadwatch_joint,") for line in server.lines) == JOINTS


@pytest.mark.parametrize(
    ("reply", "expected"),
    [
        ((204, {}, b""), Delivered),
        ((400, {}, b'{"message":"partial write"}'), Rejected),
        ((422, {}, b""), Rejected),
        ((401, {}, b""), Refused),
        ((403, {}, b""), Refused),
        ((404, {}, b""), Refused),
        ((413, {}, b""), TooLarge),
        ((429, {"Retry-After": "7"}, b""), Later),
        ((500, {}, b""), Later),
        ((503, {"Retry-After": "3"}, b""), Later),
        (None, Later),
    ],
)
def test_each_answer_means_what_it_says(reply, expected):
    server = Strict("secret")
    server.script = [reply]
    with answering(server) as url:
        sink = InfluxSink(InfluxTarget(url=url, org="works", bucket="rigs", token="secret", timeout_s=2.0))
        answer = sink.write(["m,a=b f=1.0 1"])
        sink.close()
    assert isinstance(answer, expected)
    assert "secret" not in repr(answer)
    if reply is not None and "Retry-After" in reply[1]:
        assert answer.after_s == float(reply[1]["Retry-After"])
    assert server.asked == 1


def test_a_server_that_is_not_there_is_later_and_a_wrong_token_is_refused():
    sink = InfluxSink(
        InfluxTarget(url=f"http://127.0.0.1:{free_port()}", org="o", bucket="rigs", token="t", timeout_s=1.0)
    )
    assert isinstance(sink.write(["m,a=b f=1.0 1"]), Later)
    sink.close()
    with answering(Strict("secret")) as url:
        sink = InfluxSink(InfluxTarget(url=url, org="works", bucket="rigs", token="wrong"))
        assert isinstance(sink.write(["m,a=b f=1.0 1"]), Refused)
        sink.close()
