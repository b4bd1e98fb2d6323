"""What the board says of a reading that is not used, and why."""

from logger.daemon.channel_board import ChannelBoard
from logger.domain.channel import Channel, CurrentLoop, DataType, Quantity, Scaling
from logger.domain.rig import Rig
from logger.domain.sample import RawReading, RawSample

PRESSURE = Channel(
    quantity=Quantity.PRESSURE,
    scaling=Scaling(data_type=DataType.UINT16, gain=0.01, offset=-40.0),
    loop=CurrentLoop(at_4_mA=0.0, at_20_mA=160.0),
)


def poll(t_ms: int, raw: int) -> RawSample:
    return RawSample(t_ms=t_ms, half_width_ms=1, readings=(RawReading(quantity=Quantity.PRESSURE, raw=raw),))


def test_a_broken_wire_has_a_name_and_no_value() -> None:
    """12 mA; 3.5 mA is a broken wire; at 3.7 mA it still is; 3.8 mA is a value again."""
    board = ChannelBoard(Rig(name="r", channels=(PRESSURE,)))
    seen = []
    for number, raw in enumerate([12000, 3500, 3700, 3800]):
        board.read(poll(100 * number, raw))
        (message,) = board.messages(now_s=number / 10)
        seen.append((message.quality, message.value))
    assert [quality for quality, _ in seen] == ["good", "loop_low", "loop_low", "good"]
    assert [value for _, value in seen] == [80.0, None, None, -2.0]


def test_a_second_sensor_is_shown_too() -> None:
    second = Channel(quantity=Quantity.PRESSURE_2, scaling=PRESSURE.scaling)
    board = ChannelBoard(Rig(name="r", channels=(PRESSURE, second)))
    reading = RawReading(quantity=Quantity.PRESSURE_2, raw=12100)
    board.read(RawSample(t_ms=0, half_width_ms=1, readings=(reading,)))
    shown = {message.quantity: message.value for message in board.messages(now_s=0.0)}
    assert shown == {"pressure": None, "pressure_2": 81.0}
