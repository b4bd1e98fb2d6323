"""A search for devices on a Modbus bus: what is asked, how long that can take, and what was found."""

from dataclasses import dataclass

from logger.domain.bus import Parity, Table
from logger.domain.serial_ports import LineSetting

SCANNED = (Table.HOLDING, Table.INPUT, Table.COIL, Table.DISCRETE)
"""Most devices have registers; some only inputs, some only bits, and a few are silent to what they lack."""

_QUESTION_CHARACTERS = 8
_SPARE_S = 0.06
"""Of each question: the pause between frames, the wait for a restless line, and this program itself."""
_OPENING_S = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanPlan:
    """Every unit id is asked for one place of each table at each setting; no settings means TCP.

    Each question is waited for `timeout_s`. Who gave data of one table is not asked for the others.
    """

    settings: tuple[LineSetting, ...] = ()
    unit_ids: tuple[int, ...] = tuple(range(1, 33))
    tables: tuple[Table, ...] = SCANNED
    timeout_s: float = 0.15

    @property
    def questions(self) -> int:
        """How many there are at most."""
        return max(1, len(self.settings)) * len(self.tables) * len(self.unit_ids)

    @property
    def bound_s(self) -> float:
        """The longest that the whole search takes."""
        if not self.settings:
            return _OPENING_S + self.questions * (2 * self.timeout_s + _SPARE_S)
        return len(self.tables) * sum(
            _OPENING_S + len(self.unit_ids) * (self.timeout_s + _SPARE_S + question_s(setting))
            for setting in self.settings
        )


def question_s(setting: LineSetting) -> float:
    """Return how long a question is on the wire."""
    bits = 1 + 8 + (setting.parity is not Parity.NONE) + setting.stop_bits
    return _QUESTION_CHARACTERS * bits / setting.baudrate


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanQuestion:
    """One question of a search, by its number from 0; `setting` is None on TCP."""

    number: int
    setting: LineSetting | None
    table: Table
    unit_id: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundUnit:
    """A device that answered for `table`, if only with exception `exception`; `setting` is None on TCP."""

    unit_id: int
    table: Table
    setting: LineSetting | None
    latency_s: float
    exception: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanResult:
    """Who answered, and at which settings bytes came that are nobody's answer."""

    found: tuple[FoundUnit, ...] = ()
    disturbed: tuple[LineSetting, ...] = ()
