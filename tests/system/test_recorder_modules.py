"""What the recorder has loaded once it has recorded, judged and sealed a joint: it runs for weeks."""

from pathlib import Path

import httpx
import pytest

from tests.system.processes import Recorder, simulated

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

PROBE = (
    "import atexit, sys; atexit.register(lambda: print(*sys.modules));"
    "from logger.cli.main import main; main()"
)
"""The command `beadwatch`, which names its modules on stdout when it has ended."""

SCREENS = {"rich", "textual", "tui"}
REPORTS = {"PIL", "logger.export", "pypdfium2", "reportlab", "xlsxwriter"}
ARRAYS = {"numpy", "pandas", "pyarrow", "scipy"}
OTHER_PROCESSES = {"httpx", "influxdb_client", "logger.forward.influx", "simulators"}
"""The forwarder's, the commands' and the rig's."""
MORE_THAN_SIGNATURES = {"cryptography"}
"""9 MB, where signing alone needs less than 1.5."""
NEVER = SCREENS | REPORTS | ARRAYS | OTHER_PROCESSES | MORE_THAN_SIGNATURES


class Probed(Recorder):
    def arguments(self, joint_file: Path | None = None) -> list[str]:
        _, _, *words = super().arguments(joint_file)
        return ["-c", PROBE, *words]


@pytest.mark.parametrize("transport", ["tcp", "rtu"])
def test_the_recorder_has_loaded_nothing_that_only_others_need(folder: Path, transport: str) -> None:
    with simulated("clean", folder) as rig:
        recorder = Probed(folder / "r", rig.bus(transport))
        with recorder.recording() as process:
            recorder.until_phase("heat_soak")
            with httpx.Client(transport=httpx.HTTPTransport(uds=str(recorder.socket))) as api:
                assert "UpdateMessage" in api.get("http://recorder/docs").text
            recorder.link.abort("enough")
            recorder.until_ended()
            process.terminate()
            loaded = set(process.communicate(timeout=60)[0].split())
    assert recorder.judgement()["verdict"]
    assert {"logger.judge.judge", "logger.store.keys", "nacl.signing"} <= loaded
    assert sorted(loaded & NEVER) == []
    assert ("pymodbus" in loaded) == (transport == "tcp")
