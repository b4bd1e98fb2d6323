"""The screens that a function key leads to. A new screen is one row here, and its catalogue entry."""

from collections.abc import Callable
from dataclasses import dataclass

from tui.catalogue import label
from tui.screens.after import AfterScreen
from tui.screens.base import RoomScreen
from tui.screens.by_hand import ByHandScreen
from tui.screens.entry import EntryScreen
from tui.screens.history import HistoryScreen
from tui.screens.live import LiveScreen
from tui.screens.preparation import PreparationScreen

LIVE = "live"


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One screen: its key, the name of its key in the operator's language, how it is made."""

    key: str
    name: str
    title: Callable[[], str]
    screen: Callable[[], RoomScreen]


ROOMS = (
    Room(key="f1", name="entry", title=lambda: label("entry"), screen=EntryScreen),
    Room(key="f2", name="preparation", title=lambda: label("prepare"), screen=PreparationScreen),
    Room(key="f3", name="by_hand", title=lambda: label("by hand"), screen=ByHandScreen),
    Room(key="f4", name=LIVE, title=lambda: label("live"), screen=LiveScreen),
    Room(key="f5", name="after", title=lambda: label("after"), screen=AfterScreen),
    Room(key="f6", name="history", title=lambda: label("history"), screen=HistoryScreen),
)
"""In the order of the work."""
