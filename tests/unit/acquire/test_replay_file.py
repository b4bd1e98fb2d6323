import pytest

from logger.acquire.poller import Poller
from logger.domain.bus import ReplayBus
from logger.domain.channel import Quantity
from logger.errors import InputError
from tests.unit.acquire.rig_builders import ManualClock, column, installation

HEADER = "time_s,pressure_bar,plate_temperature_degC,plate_in\n"
FIELDS = (
    column(Quantity.PRESSURE, "pressure_bar", gain=0.01),
    column(Quantity.PLATE_TEMPERATURE, "plate_temperature_degC", gain=0.1),
    column(Quantity.PLATE_IN, "plate_in", gain=1.0),
)


class InstantClock(ManualClock):
    async def sleep(self, seconds: float) -> None:
        self.now_s += seconds


def poller_of(tmp_path, text, clock, samples):
    file = tmp_path / "trace.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    bus = ReplayBus(name="field", file=str(file))
    return Poller(installation(bus, *FIELDS), clock, samples.append, lambda event: None)


async def test_a_recording_comes_back_with_its_own_times(tmp_path):
    text = HEADER + "12.000,18.40,214.9,1\n12.100,-0.07,,1\n12.200,,,\n13.7504,18.5,215.0,0\n"
    samples: list = []
    clock = InstantClock(500.0)
    await poller_of(tmp_path, text, clock, samples).run()
    assert [(s.t_ms, s.half_width_ms, [r.raw for r in s.readings]) for s in samples] == [
        (12_000, 0, [1840, 2149, 1]),
        (12_100, 0, [-7, 1]),
        (13_750, 0, [1850, 2150, 0]),
    ]
    assert clock.now_s == pytest.approx(501.7504), "paced by the clock, as far as the file goes"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "trace.csv:1: time_s: there is no such column (columns: none)"),
        (HEADER, "trace.csv: has no samples"),
        ("time_s,pressure_bar\n0,1\n", "plate_temperature_degC: there is no such column"),
        (HEADER + "0,1,2,0\n0,1,2,0\n", "trace.csv:3: time_s: time 0 s is not after 0 s"),
        (HEADER + "1,1,2,0\n0.5,1,2,0\n", "trace.csv:3: time_s: time 0.5 s is not after 1 s"),
        (HEADER + "0,1,2,0\n1,hot,2,0\n", "trace.csv:3: pressure_bar: could not convert string to float"),
        (HEADER + "0,1,2\n", "trace.csv:2: the line has not as many fields as the header"),
        (HEADER + "0,1,2,3,4\n", "trace.csv:2: the line has not as many fields as the header"),
        (HEADER + "nan,1,2,3\n", "trace.csv:2: time_s: 'nan' is no time"),
        (b"\x89PNG\r\n\x1a\n\xff\xfe", "trace.csv: cannot be read: "),
    ],
)
def test_a_bad_recording_is_one_clear_line(tmp_path, text, message):
    with pytest.raises(InputError) as caught:
        poller_of(tmp_path, text, InstantClock(), [])
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_recording_is_named(tmp_path):
    bus = ReplayBus(name="field", file=str(tmp_path / "none.csv"))
    with pytest.raises(InputError, match=r"none\.csv: no such file"):
        Poller(installation(bus, *FIELDS), ManualClock(), lambda sample: None, lambda event: None)
