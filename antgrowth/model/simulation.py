"""Whole-number colonies: the growth law played out by chance, many colonies at once.

Every egg has its own pace, fate and life as long as few are laid; beyond `FATES` eggs a day in one
colony, eggs share a fate in packets and survive by binomial chance, so that the cost does not grow
with the number of ants.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import special

from antgrowth.model.common_random_numbers import (
    DEATH,
    FATE,
    LAYING,
    LIFE,
    PACE,
    SPELL,
    STANDING,
    SURVIVAL,
    Luck,
    Queue,
    names_of,
)
from antgrowth.model.parameters import SPELL_DAYS, Climate, Laws, Move, births_of_day
from antgrowth.model.thermal_time import Clock
from antgrowth.model.transfers import OLDEST_WORKER

__all__ = ["Packets", "simulate"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Naming = Callable[[Ints, Ints], NDArray[np.uint64]]

FATES = 4
"""At most so many different fates among the eggs of one colony and day."""

CROWD, CROWD_FATES = 8, 2
"""Of more eggs a day than `CROWD` two fates will do where colonies grow by luck, many plans at a
time: the days mix them, and what plans differ by stays the same."""

HALVINGS = 12
"""Steps to find a moment of death: to an hour and a half within a year in one stage."""

HARDLY_ANY = 1e-3
"""Log-loss to heat or rest within a stage that forecasts take as spread like the stage's own, which
spares most packets the long way of `HALVINGS`."""

WORKER_FATES = 2
"""The same for the lives of workers of one packet, which are long and seldom end in view."""

BATCH = 6
"""Larvae are followed in batches of so many days, well before they hatch: fewer, larger arrays."""


@dataclass(frozen=True, eq=False)
class Packets:
    """Ants that share their fate; all arrays of shape (packets,).

    Attributes
    ----------
    draw : array of int
        Colony, counted from 0.
    number : array of int
        Individuals in the packet; below zero for ants carried out, whose future is missing.
    stage : array of int
        0 egg, 1 larva, 2 pupa, 3 worker.
    first : array of bool
        Whether they are, or become, first workers.
    pace : array
        Pace of development.
    entered : array
        When they entered their stage; may be before day 0. [day]
    seen : array
        When they were there for certain: at entering or later. [day]
    name : array of uint64 or None
        What their luck goes by, where colonies grow by luck.
    """

    draw: Ints
    number: Ints
    stage: Ints
    first: NDArray[np.bool_]
    pace: Floats
    entered: Floats
    seen: Floats
    name: NDArray[np.uint64] | None = None

    def where(self, chosen: NDArray) -> Packets:
        """Select packets (boolean array)."""
        place = np.flatnonzero(chosen)  # of so many arrays, taking by place is quicker than by mask
        kept: list[Any] = [v if v is None else v.take(place) for v in vars(self).values()]
        return Packets(*kept)

    @classmethod
    def joined(cls, parts: Sequence[Packets]) -> Packets:
        """Several packets put together."""
        fields = zip(*(vars(part).values() for part in parts), strict=True)
        whole: list[Any] = [None if f[0] is None else np.concatenate(f) for f in fields]
        return cls(*whole)


def simulate(
    laws: Laws,
    climate: Climate,
    rng: np.random.Generator | Luck,
    *,
    start_day: int = 0,
    standing: Packets | None = None,
) -> Ints:
    """Let one colony per draw grow by chance.

    Parameters
    ----------
    laws : Laws
        Parameters of each colony.
    climate : Climate
        From day 0; the colonies grow until its end.
    rng : numpy.random.Generator or Luck
        Luck where colonies are to be compared that grow under several plans.
    start_day : int
        Day at whose start the colonies stand; 0 is the founding.
    standing : Packets, optional
        What is in the nests then; nothing but the queen if not given.

    Returns
    -------
    array of int, shape (draws, days - start_day + 1, 4)
        Eggs, larvae, pupae, workers at the start of `start_day` and the end of each day after.
    """
    return _Nests(laws, climate, rng, start_day).run(standing)


class _Nests:
    """All colonies of a simulation, with a diary of who enters and leaves which stage when."""

    def __init__(
        self, laws: Laws, climate: Climate, rng: np.random.Generator | Luck, start_day: int
    ) -> None:
        self.laws, self.start_day = laws, start_day
        self.luck = rng if isinstance(rng, Luck) else None
        self.rng = rng.source(FATE) if isinstance(rng, Luck) else rng
        self.clocks = climate.clocks(laws.shift_c)
        self.days, self.colonies = climate.days, len(laws)
        self.diary = np.zeros((self.days - start_day + 1, 4, self.colonies), dtype=np.int64)
        needs = laws.needs(np.ones(1))[:, ::-1, 0]
        self.need = needs.transpose(2, 0, 1).reshape(3, -1)  # stages, (draws, later or first)
        self.life = laws.lives()[:, ::-1].ravel()  # (draws, later or first)
        self.hazard = np.ascontiguousarray(-np.log(laws.survival).T)
        self.moves = [m for m in climate.moves if start_day < m.day <= climate.days]
        self.has_loss = any(
            np.ptp(clock.readings[0, start_day:]) > 0.01 for clock in self.clocks.losses
        )
        draws = np.arange(self.colonies)
        last = np.full(self.colonies, float(self.days))
        self.ends = [clock.at(last, draws) for clock in self.clocks.stages]
        self.pace = _pace_table(laws.pace_cv)
        self.hardly_any = 0.0
        # Ants carried in or out are numbered apart from those laid, and from those standing.
        self.carried = None if self.luck is None else np.full(self.colonies, STANDING // 2)

    def run(self, standing: Packets | None) -> Ints:
        now = np.zeros((4, self.colonies), dtype=np.int64)
        if standing is not None:
            self.hardly_any = HARDLY_ANY  # from their founding, colonies are told to the hour
            np.add.at(now, (standing.stage, standing.draw), standing.number)
            self._follow(self._named(standing))
        for move in self.moves:
            self._carry(move)
        counts = np.empty((self.days - self.start_day + 1, 4, self.colonies), dtype=np.int64)
        counts[0] = now
        appetite = self.laws.appetite(self.clocks)
        waiting: list[Packets] = []
        spell = self._spells()
        queue = None if self.luck is None else Queue(self.luck, self.colonies)
        for step, day in enumerate(range(self.start_day, self.days), start=1):
            # Laying answers to the nest of midday: half a day late would add up over generations.
            midday = np.maximum(now + 0.5 * self.diary[step], 0.0)  # more may be carried out
            brood, workers = self.laws.load(midday.T), midday[3]
            self._turn_to(LAYING, day)
            room, fill = births_of_day(self.laws, appetite[day] * spell(), brood, workers)
            places = (room + self.rng.random(self.colonies)).astype(np.int64)  # right on average
            since = None if queue is None else queue.laid.copy()
            laid = (
                self.rng.binomial(places, fill)
                if queue is None
                else queue.lay(places, fill, self.rng)
            )
            eggs = self._eggs(day, laid, now[3] == 0, since)
            self._note(eggs.draw, 0, eggs.entered, eggs.number)
            next_batch = (step // BATCH + 1) * BATCH + self.start_day
            larvae = self._finish(0, eggs)
            waiting.append(larvae)
            if step % BATCH == 0 or (larvae.entered < next_batch).any():
                self._turn_to(FATE, day)
                waiting = [self._follow_soon(waiting, before=next_batch)]
            now = now + self.diary[step]
            counts[step] = now
        return np.maximum(counts.transpose(2, 0, 1), 0)

    def _turn_to(self, purpose: int, day: int) -> None:
        """Go on with the luck of a purpose and day, where colonies grow by luck."""
        if self.luck is not None:
            self.rng = self.luck.source(purpose, day)

    def _spells(self) -> Callable[[], Floats]:
        """Good and bad spells of laying: a factor of mean 1 for each colony, new each day."""
        spread, keep = self.laws.spells, np.exp(-1.0 / SPELL_DAYS)
        if spread == 0:
            return lambda: np.ones(self.colonies)
        rng = self.rng if self.luck is None else self.luck.source(SPELL)
        place = spread * rng.standard_normal(self.colonies)
        fresh = spread * np.sqrt(1.0 - keep**2)

        def next_day() -> Floats:
            place[:] = keep * place + fresh * rng.standard_normal(self.colonies)
            return np.exp(place - 0.5 * spread**2)

        return next_day

    def _named(self, standing: Packets) -> Packets:
        """Name the ants that are in the nests at the start, where colonies grow by luck."""
        if self.luck is None:
            return standing
        order = np.argsort(standing.draw, kind="stable")
        begins = np.searchsorted(standing.draw[order], np.arange(self.colonies))
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order)) - begins[standing.draw[order]]
        return replace(standing, name=names_of(standing.draw, STANDING + place))

    def _chance(self, name: NDArray[np.uint64] | None, purpose: int, size: int) -> Floats:
        """Chance from 0 to 1: by name where colonies grow by luck."""
        if self.luck is None or name is None:
            return self.rng.random(size)
        return self.luck.chance(name, purpose)

    def _eggs(self, day: int, laid: Ints, first: NDArray[np.bool_], since: Ints | None) -> Packets:
        most = FATES if self.luck is None else np.where(laid > CROWD, CROWD_FATES, FATES)
        draw, number, chance, name = self._split(laid, most, PACE, self._in_order(since))
        return Packets(
            draw=draw,
            number=number,
            stage=np.zeros(len(draw), dtype=np.int64),
            first=first[draw],
            pace=self.pace.take((chance * self.pace.size).astype(np.intp)),
            entered=np.full(len(draw), day + 0.5),
            seen=np.full(len(draw), day + 0.5),
            name=name,
        )

    def _carry(self, move: Move) -> None:
        """Write ants carried in or out, of any age in their stage, into the diary."""
        number, taken = np.full(self.colonies, abs(int(move.number))), self._in_order(self.carried)
        draw, number, chance, name = self._split(number, FATES, PACE, taken)
        if self.carried is not None:
            self.carried += FATES
        day, number = float(move.day), number * int(np.sign(move.number))
        if move.stage == 3:
            clock, span = self.clocks.ageing, OLDEST_WORKER * self.laws.life
        else:
            clock, span = self.clocks.stages[move.stage], self.laws.days[:, move.stage]
        carried = Packets(
            draw=draw,
            number=number,
            stage=np.full(len(draw), move.stage, dtype=np.int64),
            first=np.zeros(len(draw), dtype=bool),
            pace=np.ones(len(draw)),
            entered=clock.before(np.full(len(draw), day), chance * span[draw], draw),
            seen=np.full(len(draw), day),
            name=name,
        )
        self._write(move.stage, self._place(draw, carried.seen), number)
        self._follow(carried)

    def _in_order(self, since: Ints | None) -> Naming | None:
        """Name ants by their number in their colony, from the one given on."""
        if since is None:
            return None
        return lambda draw, place: names_of(draw, since[draw] + place)

    def _split(
        self, numbers: Ints, most: Ints | int, purpose: int, naming: Naming | None
    ) -> tuple[Ints, Ints, Floats, NDArray[np.uint64] | None]:
        """Split each number into a few: owner and size of the parts, their chance and names."""
        parts = np.minimum(numbers, most)
        owner = np.repeat(np.arange(len(numbers)), parts)
        place = np.arange(len(owner)) - (np.cumsum(parts) - parts).take(owner)
        size, extra = np.divmod(numbers, np.maximum(parts, 1))
        # What is left over goes to any part alike: the first stand for the quick and the young.
        turned = place + self.rng.integers(np.maximum(parts, 1)).take(owner)
        around = parts.take(owner)
        turned -= around * (turned >= around)
        name = None if naming is None else naming(owner, place)
        chance = self._chance(name, purpose, len(owner))
        # Parts that stand for many are spread evenly: free chance would scatter them too much.
        chance = np.where((numbers > most).take(owner), (place + chance) / around, chance)
        return owner, size.take(owner) + (turned < extra.take(owner)), chance, name

    def _follow_soon(self, waiting: list[Packets], before: int) -> Packets:
        """Follow the larvae that hatch before a day; return those that hatch later."""
        larvae = Packets.joined(waiting)
        soon = larvae.entered < before
        self._follow(larvae.where(soon))
        return larvae.where(~soon)

    def _follow(self, packets: Packets) -> None:
        """Write the future of standing ants into the diary, stage by stage."""
        for stage in range(3):
            here = packets.stage == stage
            if here.all():
                packets = self._finish(stage, packets)
            else:
                through = self._finish(stage, packets.where(here))
                packets = Packets.joined([through, packets.where(packets.stage > stage)])
        self._age(packets)

    def _finish(self, stage: int, packets: Packets) -> Packets:
        """Let packets finish their stage; return those who live to enter the next."""
        draw, clock = packets.draw, self.clocks.stages[stage]
        need = packets.pace * self.need[stage].take(2 * draw + packets.first)
        hazard = self.hazard[stage].take(draw) / need
        since = np.maximum(packets.entered, packets.seen)
        entered = clock.at(packets.entered, draw)
        ready = entered + need
        done = np.maximum(clock.when(ready, draw), since)
        late = bool((packets.seen > packets.entered).any())
        begun = clock.at(since, draw) if late else entered
        passed = np.maximum(np.minimum(ready, self.ends[stage].take(draw)) - begun, 0.0)
        lost, loss = hazard * passed, self.clocks.losses[stage]
        has_loss = self.has_loss and self._is_lossy(loss, since, done)
        if has_loss:
            more = loss.at(done, draw) - loss.at(since, draw)
            lost = lost + more
        living, drawn = self._survivors(packets, SURVIVAL + stage, np.exp(-lost))
        # Within the stage, the dying die at moments that thin out with its hazard.
        dying, name = np.flatnonzero(living != packets.number), packets.name
        whose, toll = draw.take(dying), lost.take(dying)
        names = name if name is None else name.take(dying)
        moment = self._chance(names, DEATH + stage, dying.size)
        borne = -np.log1p(moment * np.expm1(-toll))  # log-loss till then
        if name is not None:  # by luck, one draw tells a single ant whether it dies, and when
            alone = np.flatnonzero(np.abs(packets.number.take(dying)) == 1)
            borne[alone] = -np.log(np.maximum(drawn.take(dying.take(alone)), 1e-300))
        died = clock.when(begun.take(dying) + borne / toll * passed.take(dying), whose)
        if has_loss:
            hard = np.flatnonzero(more.take(dying) > self.hardly_any)
            whom = dying.take(hard)
            died[hard] = self._bearing(
                borne[hard], stage, draw[whom], hazard[whom], since[whom], done[whom]
            )
        self._note(whose, stage, died, (living - packets.number).take(dying))
        through = replace(packets, number=living, stage=packets.stage + 1, entered=done, seen=done)
        through = through.where((living != 0) & (done < self.days))
        place = self._place(through.draw, through.entered)
        self._write(stage, place, -through.number)
        self._write(stage + 1, place, through.number)
        return through

    def _is_lossy(self, loss: Clock, since: Floats, done: Floats) -> bool:
        """Whether heat or a rest takes anything to speak of from any of these packets."""
        if not since.size:
            return False
        span = np.array([since.min(), done.max()])
        return float(np.ptp(loss.at(span, np.zeros(2, dtype=np.intp)))) > self.hardly_any

    def _survivors(self, packets: Packets, purpose: int, chance: Floats) -> tuple[Ints, Floats]:
        """How many of each packet live, whether they are there or missing, and what was drawn."""
        number = np.abs(packets.number)
        drawn = self._chance(packets.name, purpose, len(number))
        living = (drawn < chance).astype(np.int64)
        many = np.flatnonzero(number > 1)  # one ant lives or dies: no need of a binomial draw
        living[many] = self.rng.binomial(number.take(many), chance.take(many))
        return living * np.sign(packets.number), drawn

    def _bearing(
        self, borne: Floats, stage: int, draw: Ints, rate: Floats, since: Floats, done: Floats
    ) -> Floats:
        """When the log-loss since entering a stage, of two clocks, reaches a value: by halving."""
        clock, loss = self.clocks.stages[stage], self.clocks.losses[stage]
        target = borne + rate * clock.at(since, draw) + loss.at(since, draw)
        for _ in range(HALVINGS):
            middle = 0.5 * (since + done)
            later = rate * clock.at(middle, draw) + loss.at(middle, draw) < target
            since, done = np.where(later, middle, since), np.where(later, done, middle)
        return done

    def _age(self, workers: Packets) -> None:
        """Write the deaths of workers, by Weibull life on the ageing clock."""
        kept = workers.name
        naming = None if kept is None else lambda part, place: _again(kept[part], place)
        part, number, chance, _ = self._split(np.abs(workers.number), WORKER_FATES, LIFE, naming)
        number = number * np.sign(workers.number).take(part)
        draw, clock, shape = workers.draw.take(part), self.clocks.ageing, self.laws.life_shape
        life = self.life.take((2 * workers.draw + workers.first).take(part))
        hatched = clock.at(workers.entered).take(part)
        toll = -np.log1p(-chance)  # log-loss by the day of death
        aged = np.flatnonzero((workers.seen > workers.entered).take(part))
        reached = clock.at(workers.seen).take(part.take(aged)) - hatched.take(aged)
        toll[aged] += (np.maximum(reached, 0.0) / life.take(aged)) ** shape
        self._note(draw, 3, clock.when(hatched + life * toll ** (1 / shape)), -number)

    def _note(self, draw: Ints, stage: int, moment: Floats, change: Ints) -> None:
        """Note a change at a moment: it shows at the end of that day."""
        seen = np.flatnonzero(moment < self.days)
        self._write(stage, self._place(draw.take(seen), moment.take(seen)), change.take(seen))

    def _place(self, draw: Ints, moment: Floats) -> Ints:
        """Where in the diary the end of the day of a moment stands, for eggs."""
        # What is overdue at the start happens on the first day.
        step = np.maximum(np.ceil(moment).astype(np.intp) - self.start_day, 1)
        return step * (4 * self.colonies) + draw

    def _write(self, stage: int, place: Ints, change: Ints) -> None:
        np.add.at(self.diary.reshape(-1), place + stage * self.colonies, change)


def _again(name: NDArray[np.uint64], place: Ints) -> NDArray[np.uint64]:
    """Another name for each further part of a packet."""
    return name | (place.astype(np.uint64) << np.uint64(62))


def _pace_table(cv: float, size: int = 1024) -> Floats:
    """Equally likely paces: gamma distributed with mean 1, shape (size,)."""
    if cv == 0:
        return np.ones(1)
    return special.gammaincinv(cv**-2, (np.arange(size) + 0.5) / size) * cv**2
