"""Without a joint open, the recorder watches for what looks like one: it is stored all the same."""

from collections import deque

from logger.domain.phase import Phase
from logger.domain.sample import RawSample
from logger.domain.scale import Scaler
from logger.session.advance import advance
from logger.session.state import SessionState, Setting, opened

WATCH_S = 1800.0
"""Samples kept while no joint is open: longer than any soak, so that an unnamed joint is stored whole."""
PROVEN_S = 46.0
"""A cooling that has lasted so long is one: a bead-up after an alignment check looks like it until then."""


class Watch:
    """The last half hour without a joint, on the recorder's own clock."""

    def __init__(self, setting: Setting) -> None:
        self._setting = setting
        self._kept: deque[RawSample] = deque()
        self._scaler = None if setting.rig is None else Scaler(setting.rig)
        self.session: SessionState = opened(setting)

    def look(self, raw: RawSample) -> bool:
        """Take one poll; True when a cooling has gone on for a while: a joint is being made."""
        self._kept.append(raw)
        while raw.t_ms - self._kept[0].t_ms > WATCH_S * 1000:
            self._kept.popleft()
        if self._scaler is None:
            return False
        self.session, _ = advance(self.session, self._scaler.read(raw))
        tracked = self.session.tracked
        if tracked.phase is Phase.COOLING and tracked.now_s - tracked.since_s > PROVEN_S:
            return True
        if len(self.session.samples) > 2 * len(self._kept) and self.session.tracked.phase is None:
            self.session = opened(self._setting)
        return False

    def taken(self) -> list[RawSample]:
        """Hand over what was kept, and begin again."""
        kept = list(self._kept)
        self.forget()
        return kept

    def forget(self) -> None:
        self._kept.clear()
        self.session = opened(self._setting)
