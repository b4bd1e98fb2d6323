"""What every screen of the monitor shares: it is shown a picture, and says which keys it takes now."""

from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, cast

from textual.screen import Screen
from textual.widgets import Input
from textual.worker import Worker

from tui.catalogue import label, tr
from tui.glance import Cue
from tui.link import Link
from tui.model import Picture
from tui.widgets.lines import UNBROKEN, Lines, wrapped

KEYS = "keys"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyOffer:
    """A key that does something now: as the framework names it, as it is shown, and the action it runs."""

    key: str
    name: str
    action: str

    def shown(self) -> str:
        return f"[{self.key.upper()}] {self.name}".replace(" ", UNBROKEN)


ALL_KEYS = "f12"


def key_row(offers: Sequence[KeyOffer], width: int, rows: int) -> str:
    """The keys that fit into so many rows, first things first; one that lists them all stands for the rest.

    An offer without a key is only in that list.
    """
    names = [offer.shown() for offer in offers if offer.key]
    rest = KeyOffer(key=ALL_KEYS, name=label("all keys"), action="keys").shown()
    if len(names) == len(offers) and len(wrapped("  ".join(names), width)) <= rows:
        return "  ".join(names)
    while names and len(wrapped("  ".join([*names, rest]), width)) > rows:
        names.pop()
    return "  ".join([*names, rest])


class Desk(Protocol):
    """What a screen may ask of the monitor it belongs to."""

    picture: Picture
    link: Link
    chosen_uuid: str | None
    """The joint that was picked from the record to be looked at and closed; None is the last one."""

    def send(self, work: Callable[[], Awaitable[object]], done: str) -> None:
        """Carry a command to the recorder; say `done`, or why it was not."""

    def say(self, text: str) -> None:
        """Tell the operator something that passes."""

    def look(self) -> None:
        """Draw what is known now."""

    def action_room(self, room: str) -> None:
        """Go to a screen."""


class RoomScreen(Screen[None]):
    """A screen reached by a function key.

    A subclass composes a `Lines` with the id `keys`, has `BINDINGS` for its own keys, names in `offers` those
    that hold now, and draws in `show`. Keys that are not offered do nothing.
    """

    VERTICAL_BREAKPOINTS = [(0, "-low"), (20, "-middle"), (34, "-tall")]  # noqa: RUF012 - the framework's form
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (60, "-broad"), (105, "-wide")]  # noqa: RUF012 - the framework's form

    _cue: Cue | None = None
    all_offers: tuple[KeyOffer, ...] = ()
    """Every key that does something now, in the order of the row."""
    is_laid_out = False
    """All parts are there: from now on `show` may be called."""

    def on_mount(self) -> None:
        self.call_after_refresh(self._begin)

    def on_resize(self) -> None:
        # What fits is chosen anew.
        self.call_after_refresh(self.desk.look)

    def _begin(self) -> None:
        self.is_laid_out = True
        self.desk.look()

    @property
    def desk(self) -> Desk:
        return cast(Desk, self.app)

    def work(self, job: Callable[[], Coroutine[None, None, None]]) -> None:
        """Do something that waits for the recorder."""
        # A coroutine made here would be left over where the screen goes before it has begun.
        _: Worker[None] = self.run_worker(job, group="screen")

    def show(self, picture: Picture, cue: Cue, now_s: float) -> None:
        """Draw what is known; called for each message and at least twice a second."""
        raise NotImplementedError

    def offers(self, cue: Cue | None) -> tuple[KeyOffer, ...]:
        """The screen's own keys that do something now."""
        return ()

    def refresh_keys(self, cue: Cue, rooms: tuple[KeyOffer, ...]) -> None:
        """Show which keys there are; where there is no room for all of them, that F12 lists them."""
        self._cue = cue
        # Letters go into the field that is being filled in.
        others = [room for room in rooms if len(room.key) > 1 or not isinstance(self.focused, Input)]
        own = [replace(offer, action=f"screen.{offer.action}") for offer in self.offers(cue)]
        self.all_offers = (*own, *others)
        for line in self.query(f"#{KEYS}").results(Lines):
            if cue.is_quiet:
                line.show(tr("No key is needed now; none acts."))
            else:
                rows = line.styles.max_height
                line.show(key_row(self.all_offers, line.size.width, int(rows.value) if rows else 1))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        own = {binding.action for binding in self.BINDINGS if not isinstance(binding, tuple)}
        if action not in own:
            return super().check_action(action, parameters)
        return action in {offer.action for offer in self.offers(self._cue)}
