"""The monitor: one listener, one picture, screens that draw it, keys that are safe to press in gloves."""

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import ClassVar

from textual import events, on
from textual.app import App
from textual.binding import Binding, BindingType
from textual.css.query import NoMatches
from textual.message import Message
from textual.screen import ModalScreen
from textual.widgets import Input

from logger.errors import BeadwatchError
from logger.wire.history import JointDetail
from logger.wire.stream import HelloMessage, SamplesMessage
from logger.wording.units import METRIC, PressureUnit, Units
from tui.alarms import BEATS_S, FLASH_S, TEST_PAUSE_S
from tui.catalogue import label, tr
from tui.glance import Alarm, Cue
from tui.link import Arrival, Link, Lost
from tui.model import Picture
from tui.rooms import LIVE, ROOMS
from tui.screens.base import ALL_KEYS, KeyOffer, RoomScreen
from tui.screens.dialogs import ConfirmDialog
from tui.screens.questions import PickDialog
from tui.themes import THEMES
from tui.widgets.form import Choice
from tui.widgets.lines import Lines

AGAIN_S = 0.6
"""The same key within this time is the same press, held or bounced."""
MOVES = frozenset(
    {"up", "down", "left", "right", "tab", "shift+tab", "pageup", "pagedown", "backspace", "delete"}
)
"""Keys that only move or take back a letter: held down they go on."""
LOOK_EVERY_S = 0.5
NOTICE_S = 8.0
ASK_AGAIN_S = 1.0
GIVEN_UP_S = 60.0
"""With nothing heard for so long the keys work again, whatever phase it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """What the operator chose at the start."""

    units: Units = METRIC
    theme: str = "dark"


class Arrived(Message):
    """Something came over the link."""

    def __init__(self, arrival: Arrival) -> None:
        super().__init__()
        self.arrival = arrival


class MonitorApp(App[None]):
    """Its screens are the rooms; the live one is where everything returns to."""

    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        *(Binding(room.key, f"room('{room.name}')") for room in ROOMS),
        Binding("f9", "sound"),
        Binding(ALL_KEYS, "keys"),
        Binding("t", "next_theme"),
        Binding("u", "next_unit"),
        Binding("q", "leave"),
    ]
    SCREENS: ClassVar = {room.name: room.screen for room in ROOMS}

    def __init__(
        self, link: Link, choices: Choices | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__()
        self.link = link
        self._choices = choices or Choices()
        self._clock = clock
        self.picture = Picture(self._choices.units)
        self.cue = Cue(action="")
        self.room = LIVE
        self.chosen_uuid: str | None = None
        self._pressed: tuple[str, float] = ("", 0.0)
        self._deviations = 0
        self._notice_until_s = 0.0
        self.beats = 0
        """How often the bell has sounded: what a test can hear."""

    async def on_mount(self) -> None:
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = self._choices.theme
        await self.push_screen(LIVE)
        self.run_worker(self._listen(), group="link", exit_on_error=True)
        self.set_interval(LOOK_EVERY_S, self.look)

    async def _listen(self) -> None:
        async for arrival in self.link.arrivals():
            self.post_message(Arrived(arrival))

    @on(Arrived)
    def take(self, message: Arrived) -> None:
        """Put what came into the picture and show it."""
        arrival = message.arrival
        before = self.picture.joint_uuid
        match arrival:
            case Lost():
                self.picture.lose(arrival.reason)
            case SamplesMessage():
                self.picture.take_samples(arrival)
            case HelloMessage():
                pass
            case _:
                self.picture.take(arrival, self._clock())
        if self.picture.joint_uuid != before:
            self._deviations = 0
            self.run_worker(self._ask_operator(), group="operator", exclusive=True)
        self.look()

    async def _ask_operator(self) -> None:
        """Who makes the joint: what is said of it here is said by them."""
        uuid = self.picture.joint_uuid
        while uuid is not None and uuid == self.picture.joint_uuid:
            try:
                detail = await self.link.get(JointDetail, f"/v1/joints/{uuid}")
            except BeadwatchError:
                # The joint is told before its header is on disk, and a busy machine answers late.
                await asyncio.sleep(ASK_AGAIN_S)
            else:
                self.picture.operator = detail.summary.operator
                return

    def look(self) -> None:
        """Draw the present cue; sound it when it is a new one. Nothing once the screens are taken down."""
        if not self.screen_stack:
            return
        now_s = self._clock()
        before, self.cue = self.cue, self.picture.cue(now_s)
        if self.cue.is_quiet or (self.cue.alarm is Alarm.PREPARE and before.alarm is not Alarm.PREPARE):
            self._clear_the_way()
        if self.cue.alarm is not before.alarm:
            self.ring(self.cue.alarm)
        deviations = sum(deviation.until_s is None for deviation in self.picture.watch.seen)
        if deviations > self._deviations and not self.cue.is_quiet:
            self.ring(Alarm.DEVIATION)
        self._deviations = deviations
        if self._notice_until_s and now_s > self._notice_until_s:
            self.say("")
        screen = self.screen
        if isinstance(screen, RoomScreen) and screen.is_laid_out:
            # A screen that is being taken down has lost its parts already.
            with contextlib.suppress(NoMatches):
                screen.show(self.picture, self.cue, now_s)
                screen.refresh_keys(self.cue, self._offers())

    def _clear_the_way(self) -> None:
        """The changeover is near or on: no question and no other screen stands before it."""
        while isinstance(self.screen, ModalScreen):
            self.pop_screen()
        if self.room != LIVE:
            self.action_room(LIVE)

    @property
    def is_quiet(self) -> bool:
        """No key does anything now."""
        age_s = self.picture.age_s(self._clock())
        return self.cue.is_quiet and age_s is not None and age_s < GIVEN_UP_S

    async def on_event(self, event: events.Event) -> None:
        """Drop every key while hands are near the plate, and the second of two presses of one key."""
        if isinstance(event, events.Key) and self._is_refused(event):
            return
        if isinstance(event, events.MouseDown | events.MouseUp) and self.is_quiet:
            return
        await super().on_event(event)

    def _is_refused(self, event: events.Key) -> bool:
        if self.is_quiet:
            return True
        if event.is_forwarded:
            # The same press on its way back from the screen, which had no use for it.
            return False
        now_s = self._clock()
        (last, at_s), self._pressed = self._pressed, (event.key, now_s)
        is_typed = isinstance(self.focused, Input) and event.is_printable
        return not is_typed and event.key not in MOVES and event.key == last and now_s - at_s < AGAIN_S

    def _offers(self) -> tuple[KeyOffer, ...]:
        rooms = [
            KeyOffer(key=room.key, name=room.title(), action=f"app.room('{room.name}')")
            for room in ROOMS
            if room.name != self.room
        ]
        return (
            *rooms,
            KeyOffer(key="q", name=label("quit"), action="app.leave"),
            KeyOffer(key="u", name=label("unit"), action="app.next_unit"),
            KeyOffer(key="t", name=label("colours"), action="app.next_theme"),
            KeyOffer(key="f9", name=label("test bell"), action="app.sound"),
        )

    def action_room(self, room: str) -> None:
        """Go to a screen."""
        self.room = room
        self.switch_screen(room)
        self.call_after_refresh(self.look)

    def action_keys(self) -> None:
        """List all keys that do something now; the one that is picked does it."""
        screen = self.screen
        if not isinstance(screen, RoomScreen):
            return
        texts = [offer.shown() if offer.key else offer.name for offer in screen.all_offers]
        offers = zip(screen.all_offers, texts, strict=True)
        choices = [Choice(value=offer.action, text=text) for offer, text in offers]

        async def run(action: str | None) -> None:
            if action is not None:
                await self.run_action(action, screen)

        self.push_screen(PickDialog(tr("What the keys do now"), choices), run)

    def action_next_theme(self) -> None:
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)]

    def action_next_unit(self) -> None:
        units = list(PressureUnit)
        present = self.picture.units.pressure
        self.picture.units = Units(pressure=units[(units.index(present) + 1) % len(units)])
        self.look()

    def action_leave(self) -> None:
        def leave(answer: object) -> None:
            if answer:
                self.exit()

        self.push_screen(ConfirmDialog(tr("Close the monitor? The recorder goes on without it.")), leave)

    def action_sound(self) -> None:
        """Sound and flash every pattern, one after the other, with its name."""
        for index, alarm in enumerate((Alarm.PREPARE, Alarm.DEVIATION, Alarm.DONE)):
            self.set_timer(0.01 + index * TEST_PAUSE_S, lambda alarm=alarm: self._try(alarm))

    def _try(self, alarm: Alarm) -> None:
        names = {
            Alarm.PREPARE: tr("Bell test: prepare, two beats"),
            Alarm.DEVIATION: tr("Bell test: deviation, four beats"),
            Alarm.DONE: tr("Bell test: done, three slow beats"),
        }
        self.say(names[alarm])
        self.ring(alarm)

    def ring(self, alarm: Alarm) -> None:
        """Sound a pattern on this machine's own terminal, and flash the band of the next action with it."""
        for beat_s in BEATS_S[alarm]:
            self.set_timer(beat_s + 0.01, self._beat)

    def _beat(self) -> None:
        self.beats += 1
        self.bell()
        for band in self._lines("#action"):
            band.add_class("-flash")
            self.set_timer(FLASH_S, lambda band=band: band.remove_class("-flash"))

    def _lines(self, selector: str) -> list[Lines]:
        """Those of the present screen; none once the screens are taken down."""
        return list(self.screen.query(selector).results(Lines)) if self.screen_stack else []

    def say(self, text: str) -> None:
        """Tell the operator something that passes."""
        self._notice_until_s = self._clock() + NOTICE_S if text else 0.0
        for line in self._lines("#notice"):
            line.show(*([text] if text else []))

    def send(self, work: Callable[[], Awaitable[object]], done: str) -> None:
        """Carry a command to the recorder; say that it was carried out, or why not."""

        async def carry() -> None:
            try:
                await work()
            except BeadwatchError as error:
                self.say(tr("NOT DONE: {reason}", reason=error))
            else:
                self.say(done)
            self.look()

        self.run_worker(carry(), group="command")
