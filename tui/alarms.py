"""Patterns of bell and flash: told apart by their number and pace, never by colour or pitch."""

from tui.glance import Alarm

BEATS_S: dict[Alarm, tuple[float, ...]] = {
    Alarm.NONE: (),
    Alarm.PREPARE: (0.0, 0.4),
    Alarm.DEVIATION: (0.0, 0.4, 0.8, 1.2),
    Alarm.DONE: (0.0, 1.0, 2.0),
}
"""When the bell sounds and the band flashes, counted from the beginning. Never more than three flashes in any
second (WCAG 2.2, success criterion 2.3.1, from memory)."""
FLASH_S = 0.2
TEST_PAUSE_S = 3.0
"""Between two patterns when all are tried."""
