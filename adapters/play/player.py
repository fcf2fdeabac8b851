"""The player: does what a script says, on a store, and looks at what comes back."""
from __future__ import annotations

import logging
from collections.abc import Awaitable, Callable
from datetime import datetime

from adapters.channel import in_words
from adapters.clock import Clock
from adapters.codes import invitation, new_code
from adapters.play.calendar import backwards, moved, sent_then
from adapters.play.halls import Halls
from adapters.play.instants import Instants
from adapters.play.look import Looked, NotFound, child_id, look, person
from adapters.play.match import Came, compare
from adapters.play.phones import CHANNEL, Message, NoSuchChoice, Phones
from adapters.play.result import Played, Report, Result, Wrong, diff
from adapters.play.script import (
    Again,
    Expect,
    Expected,
    Fault,
    Invite,
    LoadHall,
    Move,
    MoveClock,
    Nobody,
    Prose,
    Reach,
    Restart,
    Script,
    ScriptErrors,
    Speak,
)
from adapters.service import Service
from adapters.thinking import AtOnce, Thinking
from bot.port import Store
from bot.step import Refused, Said

log = logging.getLogger(__name__)


def _serve(store: Store, clock: Clock, thinking: Thinking) -> Service:
    return Service(store, clock, thinking.decide, thinking.wake)


class Player:
    """Plays one script. `restart` ends the program and gives the store that it starts on again."""

    def __init__(
        self, script: Script, store: Store, restart: Callable[[Store], Awaitable[Store]], report: Report,
        *, run: str = "play", serve: Callable[[Store, Clock, Thinking], Service] = _serve,
    ) -> None:
        self.store = store
        self._script = script
        self._restart = restart
        self._report = report
        self._run = run                 # keeps the ids of two runs on one store apart
        self._serve = serve
        self._thinking = AtOnce()
        self._halls = Halls(script)
        self._phones = Phones()
        self._played = Played(script)
        self._time = Instants()
        self._sent: list[Message] = []
        self._waiting: list[LoadHall] = []              # halls named before history begins
        self._last: Result | None = None                # what was done last

    async def play(self) -> Played:
        """Play to the end, or to a line that can't be done. Raises ScriptErrors where the script is at fault."""
        for move in self._script.moves:
            try:
                await self._do(move)
            except NoSuchChoice as wrong:
                self._wrong(Wrong(move.at, str(wrong)))
                self._played.stopped = True
                break
            except (Refused, NotFound) as wrong:
                self._wrong(Wrong(move.at, str(wrong)))
            except ScriptErrors:
                raise
            except Exception as fault:      # a fault of the program is a finding, at this line of the script
                log.exception("a move could not be made")
                self._wrong(Wrong(move.at, f"the program fails here ({type(fault).__name__}: {fault})"))
                self._played.stopped = True
                break
        return self._played

    def same(self, name: str) -> str:
        """One name for each person, whichever of their names a script uses."""
        return self._phones.same(name)

    async def _do(self, move: Move) -> None:
        """One move. Whoever tells us of a new kind of action adds its line here."""
        action = move.action
        if isinstance(action, Prose):
            self._report.prose(action.text)
        elif isinstance(action, Expect):
            await self._expect(move, action)
        elif isinstance(action, Nobody):
            self._nobody(move)
        else:
            await self._act(move)

    async def _act(self, move: Move) -> None:
        """A move that may bring messages."""
        action, came, speaker = move.action, [], self._sent[-1].who if self._sent else None
        if isinstance(action, LoadHall):
            came = await self._hall(action)
        elif isinstance(action, MoveClock):
            came = await self._move_clock(move, action)
        elif isinstance(action, Speak):
            speaker = self._phones.name(action.who)
            came = await self._speak(action, speaker)
        elif isinstance(action, Again):
            came = await self._again()
        elif isinstance(action, Reach):
            speaker = self._phones.name(action.who)
            came = await self._reach(speaker, action.online)
        elif isinstance(action, Restart):
            self._report.note("the program is started again")
            self.store = await self._restart(self.store)
            self._thinking = AtOnce()
        elif isinstance(action, Invite):
            await self._invite(action)
        self._look_at(move, tuple(came), speaker)

    def _look_at(self, move: Move, came: tuple[Came, ...], speaker: str | None) -> None:
        comparison = compare(move.items, came, speaker, self._phones.same)
        self._last = Result(move, speaker, came, comparison)
        self._played.results.append(self._last)
        if not comparison.ok:
            says = "what comes back is not what the script says (- the script, + what came)"
            self._wrong(Wrong(move.at, says, diff(comparison, speaker)))

    def _wrong(self, wrong: Wrong) -> None:
        self._played.wrong.append(wrong)
        self._report.wrong(wrong)

    # --- time --------------------------------------------------------------------------------------

    async def _move_clock(self, move: Move, action: MoveClock) -> list[Came]:
        zone, first = self._halls.zone, not self._time.begun
        target = moved(self._time.base, action.to, zone)
        if not first and target < self._time.base:
            raise ScriptErrors(self._script.path, (Fault(move.at, backwards(self._time.base, zone)),))
        until = self._time.move(target)
        came: list[Came] = []
        if first:
            self._report.time(target.astimezone(zone))
            self._time.tick()
            for hall in self._waiting:
                came += await self._load(hall)
            return came
        async for due, said in self._service().pass_time(until):
            came += self._heard(self._time.stand(due), said)
        self._time.tick()
        self._report.time(target.astimezone(zone))
        return came

    async def _due(self) -> list[Came]:
        """What falls due at this very instant."""
        return self._heard(self._time.now(), await self._service().wake())

    def _service(self) -> Service:
        return self._serve(self.store, self._time.clock, self._thinking)

    # --- halls and people --------------------------------------------------------------------------

    async def _hall(self, action: LoadHall) -> list[Came]:
        if not self._time.begun:
            self._waiting.append(action)
            return []
        self._time.tick()
        return await self._load(action)

    async def _load(self, action: LoadHall) -> list[Came]:
        hall = self._halls.loaded(action.name)
        loaded = await self.store.load(hall, self._time.now())
        self._report.note(f"hall {action.name}: {' '.join(loaded.changes) or 'Nothing has changed.'}")
        for one in hall.people:
            await self.store.meet(CHANNEL, one.id, loaded.club, one.id)
            self._phones.know(one.id, loaded.club, one.id)
        self._halls.in_force(loaded.club)
        return await self._due()

    async def _invite(self, action: Invite) -> None:
        child, who = None, None
        if action.child is not None:
            club, child = await child_id(self.store, self._halls.clubs, action.child)
        else:
            club, who = await person(self.store, self._halls.clubs, action.person or "")
        code = new_code()
        await self.store.invite(invitation(club, self._time.tick(), person=who, child=child), code)
        self._phones.codes[action.name] = code
        whom = f"a parent of {action.child}" if child else action.person
        self._report.note(f"{action.name} is handed a code, as {whom}")

    # --- what people say ---------------------------------------------------------------------------

    async def _speak(self, action: Speak, who: str) -> list[Came]:
        now = self._time.tick()
        sent = now if action.sent is None else sent_then(now, self._time.base, action.sent, self._halls.zone)
        text, choice = action.text, None
        if text is None:
            choice = self._phones.choice(action)
        else:
            text = self._phones.with_code(who, text)
        message = Message(f"{self._run}-{len(self._sent) + 1}", who, sent, text, choice)
        self._sent.append(message)
        late = "" if action.sent is None else f" (sent {sent.astimezone(self._halls.zone):%H:%M})"
        held = " (held back)" if who in self._phones.held else ""
        words = f"[{action.label}]" if action.text is None else action.text
        self._report.said(now.astimezone(self._halls.zone), who, words + late + held)
        return await self._deliver(message)

    async def _deliver(self, message: Message) -> list[Came]:
        if message.who in self._phones.held:
            self._phones.held[message.who].append(message)
            return []
        said = await self._service().hear(
            CHANNEL, message.who, text=message.text, choice=message.choice, id=message.id, sent_at=message.sent_at,
        )
        for one in said:
            if one.club:
                self._phones.know(message.who, one.club, one.person)
        return self._heard(self._time.now(), said, message.who) + await self._due()

    async def _again(self) -> list[Came]:
        if not self._sent:
            raise NotFound("nothing was sent yet that could come again")
        last = self._sent[-1]
        self._report.note(f"the message of {last.who} is delivered again")
        self._time.tick()
        return await self._deliver(last)

    async def _reach(self, who: str, online: bool) -> list[Came]:
        self._report.note(f"{who} is {'within' if online else 'out of'} reach")
        if not online:
            self._phones.held.setdefault(who, [])
            return []
        came: list[Came] = []
        for message in self._phones.held.pop(who, []):
            self._time.tick()
            came += await self._deliver(message)
        return came

    def _heard(self, now: datetime, said: tuple[Said, ...], who: str | None = None) -> list[Came]:
        came = [Came(who or self._phones.owner(one), in_words(one)) for one in said]
        self._phones.show(came)
        for one in came:
            self._report.came(now.astimezone(self._halls.zone), one)
        return came

    # --- looking -----------------------------------------------------------------------------------

    async def _expect(self, move: Move, action: Expect) -> None:
        found: Looked = await look(self.store, self._halls.clubs, action, self._time.now())
        self._played.results.append(Result(move, standing=found.standing))
        if found.standing != action.standing:
            self._wrong(Wrong(move.at, f"{found.child} / {found.what} is {found.standing}, not {action.standing}"))

    def _nobody(self, move: Move) -> None:
        """Nobody hears anything that is not listed. Where nothing is listed, that was told already."""
        listed = self._last.move.items if self._last is not None else ()
        if self._last is None or any(isinstance(item, Expected) for item in listed):
            return
        self._played.results.append(Result(move, came=self._last.came))
        if self._last.came and listed:
            self._wrong(Wrong(move.at, "somebody hears something, see above"))
