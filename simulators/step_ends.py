"""When a step of the operator is over."""

from simulators.hydraulics import Hydraulics
from simulators.operator_script import Ends

_DOWN_BAR = 0.05  # what a gauge's needle hides
_LET_DOWN_LONGEST_S = 4.0


def after(duration_s: float) -> Ends:
    """This long after the step began."""
    return lambda _rig, in_step_s, _since_s: in_step_s >= duration_s


def since_boundary(duration_s: float) -> Ends:
    """This long after the last phase began."""
    return lambda _rig, _in_step_s, since_s: since_s >= duration_s


def touches(rig: Hydraulics, _in_step_s: float, _since_s: float) -> bool:
    """The faces have met what is between them."""
    return rig.opening_mm <= rig.contact_mm


def left(rig: Hydraulics, _in_step_s: float, _since_s: float) -> bool:
    """The faces have come off what is between them."""
    return not rig.touching


def opened(opening_mm: float) -> Ends:
    return lambda rig, _in_step_s, _since_s: rig.opening_mm >= opening_mm


def closed(opening_mm: float) -> Ends:
    return lambda rig, _in_step_s, _since_s: rig.opening_mm <= opening_mm


def let_down_to(bar: float, seconds: float) -> Ends:
    """Pressure is down, `seconds` having passed; at the latest some time after that."""

    def ends(rig: Hydraulics, in_step_s: float, _since_s: float) -> bool:
        is_down = rig.closing_bar <= bar + _DOWN_BAR
        return in_step_s >= seconds + (0.0 if is_down else _LET_DOWN_LONGEST_S)

    return ends
