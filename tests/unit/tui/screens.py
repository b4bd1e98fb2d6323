"""Screens as text, and the joint they show, as a viewer hears of it."""

from pathlib import Path

import numpy as np

from tests.unit.tui.fake_link import EventMessage, event, samples, snapshot, state
from tui.app import MonitorApp

GOLDEN = Path(__file__).parent / "golden"


def text_of(app: MonitorApp) -> str:
    """What stands on the screen, without trailing blanks."""
    strips = app.screen._compositor.render_strips()
    return "\n".join("".join(segment.text for segment in strip).rstrip() for strip in strips) + "\n"


PRESSURE_BAR = (
    (0, 0.0), (15, 0.0), (16, 9.0), (20, 8.2), (24, 8.1), (25, 62.0), (25.5, 0.0), (30, 0.0), (31, 8.0),
    (115, 8.0), (117, 0.0), (118, 8.2), (120, 10.46), (136, 10.45), (137, 4.1), (195.9, 4.1), (196, 0.0),
    (197, 61.0), (198, 0.0), (198.5, 8.1), (199.8, 8.1), (203.8, 10.46),
    (585.6, 10.42), (586.5, 0.0), (620, 0.0),
)  # fmt: skip
"""A clean joint drawn by hand, drag test to release; an opening stroke reaches relief pressure."""
PLATE_DEGC = ((0, 220), (118, 221), (124, 217), (140, 219), (196, 221), (300, 219), (400, 221), (620, 219))
PHASES = (
    ("bead_up", 118.0), ("heat_soak", 136.0), ("changeover", 196.0), ("pressure_build_up", 199.8),
    ("cooling", 203.8),
)  # fmt: skip
RELEASED_S = 585.6


def message_at(now_s: float, **changes: object):
    """The snapshot of a viewer that comes at this time of the joint."""
    times = [k / 10 for k in range(int(now_s * 10) + 1)]
    pressure = np.interp(times, *zip(*PRESSURE_BAR, strict=True)).tolist()
    plate = np.interp(times, *zip(*PLATE_DEGC, strict=True)).tolist()
    phase, since_s, events = _phase_at(now_s)
    run = samples(1, times, pressure, plate)
    values = {"pressure_bar": pressure[-1], "plate_degC": plate[-1], "events": events, **changes}
    return snapshot(state(phase, since_s, now_s, **values), run)


def _phase_at(now_s: float) -> tuple[str | None, float, tuple[EventMessage, ...]]:
    phase: str | None = None
    since_s = 0.0
    events = []
    for name, start_s in PHASES:
        if start_s <= now_s:
            phase, since_s = name, start_s
            events.append(event(len(events) + 1, start_s, f"phase.{name}"))
    if now_s >= RELEASED_S:
        phase = None
        events.append(event(len(events) + 1, RELEASED_S, "phase.none"))
    return phase, since_s, tuple(events)
