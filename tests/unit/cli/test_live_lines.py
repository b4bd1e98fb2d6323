"""`beadwatch state`: a reading that is there and not used says why."""

from logger.cli.live import _lines
from tests.unit.tui.fake_link import channel, state


def test_a_reading_that_is_not_used_says_why() -> None:
    unused = channel("pressure", None, "bar").model_copy(update={"quality": "disagrees"})
    silent = channel("plate_temperature", None, "degC", "lost")
    lines = _lines(state(channels=(unused, silent)))
    assert "pressure: not used, disagrees with the second sensor (present, 0.1 s old)" in lines
    assert "plate_temperature: no reading (lost, 0.1 s old)" in lines
