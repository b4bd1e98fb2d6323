"""The forwarder beside a recorder: its state is in the recorder's, and whatever it meets sampling goes on."""

import pytest

from tests.system.forward.servers import Strict, answering, forward_file, free_port
from tests.system.processes import Recorder, running, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]


def test_the_recorder_shows_where_curves_go_and_samples_on(tmp_path):
    office = Strict("secret")
    with simulated("clean", tmp_path) as rig, answering(office) as url:
        recorder = Recorder(tmp_path, rig.bus("tcp"))
        file = forward_file(tmp_path, {"office": url, "away": f"http://127.0.0.1:{free_port()}"})
        arguments = ["-m", "logger", "forward", "run", str(file), "--store", str(recorder.store)]
        with recorder.recording():
            assert recorder.state().forwarding == ()
            with running(arguments, tmp_path / "forward.log"):
                shown = recorder.until(
                    lambda state: (
                        any(
                            one.target == "away" and one.state == "server_down" and one.backlog > 0
                            for one in state.forwarding
                        )
                        and len(office.lines) > 100
                    ),
                    "both targets in the state",
                )
            before_s = recorder.stored_s()
            recorder.until(lambda _: recorder.stored_s() > before_s, "more samples on disk")
            assert recorder.state().store.dropped == 0
    away = next(one for one in shown.forwarding if one.target == "away")
    assert away.backlog > 0
    assert away.oldest_age_s is not None
    assert len(set(office.lines)) == len(office.lines)
