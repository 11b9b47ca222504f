"""The growth law, written once: what a day does to a colony.

A colony is a row of numbers, its *state*: brood by stage and progress, larvae that wait, workers by
age, and how far its laying and rearing stray from the law just now. A day is worked out in two
steps. `controls` tells from what lies in the nest how many eggs are laid, how many are eaten, and
how many larvae find a place; `evening` moves everybody on by these. Given the controls the second
step is linear: each ant goes its own way. The expected course (`mean_field`), its scatter
(`covariance`) and whole-number colonies (`simulation`) all come from these functions.

The law
-------
- A queen lays, by temperature and by the number of her workers, whatever brood lies there.
- Larvae eat eggs, which is what becomes of most of a founding queen's.
- A larva grows only where it has a *place*, of which queens and workers offer so many; pupae hold
  theirs until they hatch. Other larvae wait.
- When the season ends, larvae grow no further, and the queen stops laying, on her own timer some
  days later; pupae still hatch. What waits then outlives the winter, and grows first in spring.

A stage is passed through in `BINS` steps of progress. On each day brood moves on by its rate, some
more and some less, so that durations of individuals scatter by `Laws.development_cv` (a distributed
delay: Manetsch TJ (1976) IEEE Transactions on Systems, Man, and Cybernetics 6:547-553, from
memory). Workers age in so many steps as give the scatter of a Weibull life.

Each function is about one colony, and compiled (`_core.compiled`); `life_cycle` calls them for
arrays of colonies. Day d covers [d, d + 1); counts of a date are those at its end.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.compiled import compiled

BINS = 24
"""Steps of progress through a brood stage."""

EGG, LARVA, PUPA_FIRST, PUPA_LATER = ROWS = (0, 1, 2, 3)
"""Rows of brood: eggs, growing larvae, pupae of first and of later workers."""

WAITING = len(ROWS) * BINS
"""Place in a state of waiting larvae; after it first workers by age, then later ones."""

DRIFTS = ("laying", "places", "eating of eggs")
DRIFT_DAYS = np.array([15.0, 20.0, 20.0])
"""How long a colony strays from the law to the same side (assumed): what food, disturbance and the
queen's own habit make of it. [day]"""

DRIFT_KEPT = np.exp(-1.0 / DRIFT_DAYS)
"""Share of it that is left a day later."""

DRIFT_RENEWED = 1.0 - DRIFT_KEPT**2
"""Share of its variance that comes anew each day."""

AFTER_WORKERS = len(DRIFTS) + 1
"""Places at the end of a state: drift, and workers dead so far."""

SCARCE_EGGS = 30.0
"""With so many eggs in the nest larvae eat half of what they would eat of plenty (chosen with
founding colonies of Lasius niger, see the species' profile)."""

EDGE = 0.5
"""Places are given out up to the limit, give or take so many. [brood]"""

KINDS = 6
"""Kinds of brood that differ by their rates: the rows, as in a nest with workers, then eggs and
larvae as in a nest without any."""

ALONE = len(ROWS)
"""Added to eggs or larvae: their kind in a nest without workers."""

STAGES = np.array([0, 1, 2, 2, 0, 1])
"""Egg, larva or pupa, by kind."""

HASTY = np.array([False, False, True, False, True, True])
"""Kinds that develop as first workers do."""

NOBODY = 1e-30
"""So little of an ant is none: expected numbers never come to an end. [ant]"""

ROUNDING = 1e-16
"""A share so small is lost in the last digit of the rest."""


LAW = np.dtype([
    *((name, float) for name in (
        "founding_rate", "rate_per_worker", "top_rate", "eggs_eaten", "places_alone",
        "places_per_worker", "places_power", "pupa_care", "first_life", "first_development",
        "development_cv", "mean_life", "shift_part",
    )),
    ("shift", np.int64),
    *((name, float, 3) for name in ("days", "log_survival", "log_rest", "drift")),
])  # fmt: skip
"""A draw of `Laws` as the law reads it: logarithms of shares, and between which shifts it lies."""


class Conditions(NamedTuple):
    """Laws of colonies, and what each day brings."""

    laws: Any  # of type `LAW`, shape (draws,)
    # As `ThermalForcing` has it; `loss` with an axis of draws, of length 1 where all are alike,
    # shape (shifts, days, 3)
    development: Floats
    loss: Floats  # shape (days, draws, 3)
    rest_share: Floats  # rest_share, ageing, care: shape (days,)
    ageing: Floats
    care: Floats
    # rearing, laying, hunger: share to which the season lets larvae grow; laying relative to
    # that at the reference; eating relative to that of a larva in season, at the reference,
    # shape (draws, days)
    rearing: Floats
    laying: Floats
    hunger: Floats


class Workspace(NamedTuple):
    """What is known of one colony and one day; written anew for the next."""

    # progress, lasting: share of its stage that each kind of brood passes, and its log-loss
    # beside that of its stage: what its rates hang on, shape (kinds,)
    progress: Floats
    lasting: Floats
    # Steps of progress of the quickest, and one: so many are told. The last entry, as in the
    # two that follow, is of a row with and without workers in parts, shape (kinds + 1,)
    moves: Ints
    # Chance to move on by 0, 1, 2, ... steps; of the last step, to leave the stage from
    # anywhere, shape (kinds + 1, BINS + 2)
    step: Floats
    beyond: Floats  # Chance of more than 0, 1, 2, ... steps, shape (kinds + 1, BINS + 2)
    # Share of eggs (uneaten), growing larvae and pupae that lives through the day,
    # shape (kinds,)
    living: Floats
    staying: Floats  # brood of the evening that was in its stage in the morning, shape (ROWS, BINS)
    leaving: Floats  # those who have completed the stage, shape (ROWS,)
    # Those of whom they are, as it were: the most advanced, who are all as likely to leave, and
    # of whom as many leave as of all, with as much scatter, shape (ROWS,)
    due: Floats
    # Share that lives through half a day, as they do who enter or leave a stage at midday,
    # shape (ROWS,)
    half: Floats

    @classmethod
    def empty(cls) -> Workspace:
        """Of no day."""
        return cls(
            progress=np.full(KINDS, np.nan), lasting=np.zeros(KINDS),
            moves=np.zeros(KINDS + 1, dtype=np.int64), step=np.zeros((KINDS + 1, BINS + 2)),
            beyond=np.zeros((KINDS + 1, BINS + 2)), living=np.zeros(KINDS),
            staying=np.zeros((len(ROWS), BINS)), leaving=np.zeros(len(ROWS)),
            due=np.zeros(len(ROWS)), half=np.zeros(len(ROWS)),
        )  # fmt: skip


class Signals(NamedTuple):
    """What `controls` look at: ants, eggs about to hatch, and drift (logarithms)."""

    eggs: float
    waiting: float
    growing: float
    pupae: float
    workers: float
    ripe: float
    laying: float
    places: float
    eating: float


class Controls(NamedTuple):
    """What a colony's day hangs on."""

    eggs: float  # expected eggs laid
    uneaten: float  # share of eggs that no larva eats
    placed: float  # share of waiting larvae that find a place
    first: float  # share of larvae pupating that become first workers: reared without any worker


@compiled
def totals(state: Floats) -> tuple[float, float, float, float, float]:
    """Eggs, waiting larvae, growing larvae, pupae and workers."""
    eggs = growing = first = later = 0.0
    for place in range(BINS):
        eggs += state[place]
        growing += state[LARVA * BINS + place]
        first += state[PUPA_FIRST * BINS + place]
        later += state[PUPA_LATER * BINS + place]
    pupae, ages = first + later, ages_of(state)
    first = later = 0.0
    for place in range(WAITING + 1, WAITING + 1 + ages):
        first += state[place]
        later += state[place + ages]
    return eggs, state[WAITING], growing, pupae, first + later


@compiled
def ages_of(state: Floats) -> int:
    """Steps of a worker's life."""
    return (len(state) - AFTER_WORKERS - WAITING - 1) // 2


@compiled
def no_worker(workers: float, whole: bool) -> float:
    """Chance that there is no worker.

    Where ants come in whole numbers there is one or none; where their number is an expectation, the
    chance is that of a Poisson number.
    """
    if whole:
        return 1.0 if workers < 0.5 else 0.0
    return float(np.exp(-max(workers, 0.0)))


@compiled
def forget(work: Workspace) -> None:
    """Rates that follow are of another draw."""
    work.progress[:] = np.nan


@compiled
def work_out(conditions: Conditions, draw: int, day: int, first: float, work: Workspace) -> None:
    """Rates of a day for each kind of brood that there is if so many lack workers."""
    law = conditions.laws[draw]
    lost = draw if conditions.loss.shape[1] > 1 else 0
    for kind in range(KINDS):
        row, alone = kind % ALONE, kind >= ALONE
        if (alone and first < ROUNDING) or (row < 2 and not alone and first == 1.0):
            continue
        stage = STAGES[kind]
        rate = (
            conditions.development[law.shift, day, stage] * (1.0 - law.shift_part)
            + conditions.development[law.shift + 1, day, stage] * law.shift_part
        )
        progress = rate / law.days[stage]
        if stage == LARVA:
            progress *= conditions.rearing[draw, day]
        if HASTY[kind]:
            progress /= law.first_development
        lasting = (
            law.log_rest[stage] * conditions.rest_share[day] - conditions.loss[day, lost, stage]
        )
        if progress != work.progress[kind]:
            moves_of(kind, progress, law.development_cv, work)
        elif lasting == work.lasting[kind]:
            continue
        work.progress[kind], work.lasting[kind] = progress, lasting
        work.living[kind] = np.exp(law.log_survival[stage] * progress + lasting)


@compiled
def moves_of(kind: int, progress: float, cv: float, work: Workspace) -> None:
    """Chance of a kind to move by 0, 1, 2, ... steps, and by more than so many.

    Three distances, the mean and one to each side, stand for all; each is split between the whole
    numbers beside it, which scatters by a sixth on average and counts towards the spread. Nobody
    moves back: where the mean is small, the far side is farther off, and the near one likelier.
    """
    mean = BINS * progress
    variance = max((cv * BINS) ** 2 * progress - 1.0 / 6.0, 0.0)
    apart = np.sqrt(3.0 * variance)
    back = min(apart, mean)
    ahead = max(apart, variance / max(back, 1e-12))
    slow = variance / max(back * (back + ahead), 1e-12)
    quick = variance / max(ahead * (back + ahead), 1e-12)
    moves = int(min(mean + ahead, BINS - 1.0)) + 2
    for far in range(moves):
        work.step[kind, far] = 0.0
    split(work.step, kind, slow, mean - back)
    split(work.step, kind, max(1.0 - slow - quick, 0.0), mean)
    split(work.step, kind, quick, mean + ahead)
    farther = 0.0
    for far in range(moves - 1, -1, -1):
        work.beyond[kind, far] = farther
        farther += work.step[kind, far]
    work.moves[kind] = moves


@compiled
def split(step: Floats, kind: int, weight: float, distance: float) -> None:
    """Give the weight of a distance to the whole numbers beside it."""
    distance = min(distance, float(BINS))
    below = int(distance)
    step[kind, below] += weight * (1.0 - (distance - below))
    step[kind, below + 1] += weight * (distance - below)


@compiled
def signals(state: Floats, known: Any, first: float, work: Workspace) -> Signals:
    """What `controls` look at; `known` are the `totals`, `first` as `no_worker` has it."""
    eggs, waiting, growing, pupae, workers = known
    drift = len(state) - AFTER_WORKERS
    return Signals(
        eggs, waiting, growing, pupae, workers, ripe_eggs(state, first, work),
        state[drift], state[drift + 1], state[drift + 2],
    )  # fmt: skip


@compiled
def ripe_eggs(state: Floats, first: float, work: Workspace) -> float:
    """Eggs that would hatch today if all lived."""
    found = 0.0
    for kind in (EGG, EGG + ALONE):
        part = first if kind == EGG + ALONE else 1.0 - first
        if abs(part) < ROUNDING:
            continue
        some = 0.0
        for far in range(min(work.moves[kind] - 1, BINS)):
            some += state[BINS - 1 - far] * work.beyond[kind, far]
        found += part * some
    return found


@compiled
def places(law: Any, care: float, workers: float) -> float:
    """Brood that queens, by their care, and workers rear at a time."""
    helped = law.places_per_worker * ((1.0 + workers) ** law.places_power - 1.0)
    return float(law.places_alone * care + helped)


@compiled
def controls(conditions: Conditions, draw: int, day: int, seen: Signals, whole: bool) -> Controls:
    """What a day's life hangs on."""
    law = conditions.laws[draw]
    eggs, waiting, growing = max(seen.eggs, 0.0), max(seen.waiting, 0.0), max(seen.growing, 0.0)
    pupae, workers, ripe = max(seen.pupae, 0.0), max(seen.workers, 0.0), max(seen.ripe, 0.0)
    asked = law.founding_rate + law.rate_per_worker * workers
    most = law.top_rate * np.exp(seen.laying - 0.5 * law.drift[0] ** 2)
    laid = conditions.laying[draw, day] * most * -np.expm1(-asked / law.top_rate)
    strays = np.exp(seen.places - 0.5 * law.drift[1] ** 2)
    limit = places(law, conditions.care[day], workers) * strays
    room = (limit - growing - law.pupa_care * pupae) / EDGE
    free = EDGE * (max(room, 0.0) + np.log1p(np.exp(-abs(room))))
    asking = max(waiting + ripe, 1e-6)
    placed = conditions.rearing[draw, day] * -np.expm1(-free / asking)
    appetite = law.eggs_eaten * np.exp(seen.eating - 0.5 * law.drift[2] ** 2)
    hunger = conditions.hunger[draw, day] * appetite * (waiting + growing)
    spared = np.exp(-0.5 * hunger / (eggs + SCARCE_EGGS))
    at_noon = (eggs - 0.5 * min(ripe, eggs)) * spared + 0.5 * laid
    eaten = hunger / (at_noon + SCARCE_EGGS)  # as a hazard on each egg
    return Controls(laid, np.exp(-eaten), placed, no_worker(workers, whole))


@compiled
def move(state: Floats, today: Controls, work: Workspace) -> None:
    """Let brood develop and die for a day, before anybody enters a stage."""
    for row in range(len(ROWS)):
        start = row * BINS
        kind, living = kind_of(row, today.first, work)
        if row == EGG:
            living *= today.uneaten
        work.half[row] = half = np.sqrt(living)
        work.leaving[row] = work.due[row] = 0.0
        empty = nobody(state, row)
        still = 0.0 if empty else living * work.step[kind, 0]
        for place in range(BINS):
            work.staying[row, place] = still * state[start + place]
        if empty:
            continue
        for far in range(1, min(work.moves[kind], BINS)):
            part = living * work.step[kind, far]
            for place in range(BINS - far):
                work.staying[row, far + place] += part * state[start + place]
        leaving = sure = 0.0
        for far in range(min(work.moves[kind] - 1, BINS)):
            some = state[start + BINS - 1 - far] * work.beyond[kind, far]
            leaving += some
            sure += some * work.beyond[kind, far]
        work.leaving[row] = leaving * half
        work.due[row] = half * leaving**2 / max(sure, 1e-300)


@compiled
def all_staying(row: int, work: Workspace) -> float:
    """All of a row who stay in it, in four sums at a time, which is sooner done."""
    one = two = three = four = 0.0
    for place in range(0, BINS, 4):
        one += work.staying[row, place]
        two += work.staying[row, place + 1]
        three += work.staying[row, place + 2]
        four += work.staying[row, place + 3]
    return one + two + three + four


@compiled
def nobody(state: Floats, row: int) -> bool:
    """Whether a row is empty, or as good as that."""
    for place in range(row * BINS, (row + 1) * BINS):
        if abs(state[place]) > NOBODY:
            return False
    return True


@compiled
def kind_of(row: int, first: float, work: Workspace) -> tuple[int, float]:
    """Of which kind a row is, and the share living; that of both kinds in parts is worked out."""
    if row >= 2 or abs(first) < ROUNDING:
        return row, work.living[row]
    alone = row + ALONE
    if first == 1.0:
        return alone, work.living[alone]
    moves = max(work.moves[row], work.moves[alone])
    for far in range(moves):
        work.step[KINDS, far] = work.beyond[KINDS, far] = 0.0
    for kind in (row, alone):
        part = first if kind == alone else 1.0 - first
        for far in range(work.moves[kind]):
            work.step[KINDS, far] += part * work.step[kind, far]
            work.beyond[KINDS, far] += part * work.beyond[kind, far]
    work.moves[KINDS] = moves
    return KINDS, (1.0 - first) * work.living[row] + first * work.living[alone]


@compiled
def enter(state: Floats, row: int, number: float, first: float, work: Workspace) -> None:
    """Brood of the evening: those who stayed, and so many who entered the row meanwhile."""
    for place in range(BINS):
        state[row * BINS + place] = work.staying[row, place]
    if row >= 2:
        settle(state, row, row, number, work)
    else:
        if first != 1.0:
            settle(state, row, row, number * (1.0 - first), work)
        if first >= ROUNDING:
            settle(state, row, row + ALONE, number * first, work)


@compiled
def settle(state: Floats, row: int, kind: int, number: float, work: Workspace) -> None:
    """Place those who entered at any time of the day.

    In proportion to the chance of a longer step: on a walk that begins so, each place is passed
    with the same chance, and a stage lasts as many days on average as it should (a stationary
    renewal process, Cox DR (1962) Renewal Theory, from memory). Nobody is done on the same day.
    """
    mean = BINS * work.progress[kind]
    if mean <= 1e-12:  # where nothing moves
        state[row * BINS] += number
        return
    left = number
    for far in range(min(work.moves[kind] - 1, BINS - 1)):
        some = number * work.beyond[kind, far] / mean
        state[row * BINS + far] += some
        left -= some
    if work.moves[kind] > BINS:
        state[row * BINS + BINS - 1] += left


@compiled
def waiting_alive(conditions: Conditions, draw: int, day: int) -> float:
    """Share of waiting larvae that lives through a day."""
    lost = draw if conditions.loss.shape[1] > 1 else 0
    loss = conditions.loss[day, lost, LARVA]
    return float(np.exp(conditions.laws[draw].log_rest[LARVA] * conditions.rest_share[day] - loss))


@compiled
def age(conditions: Conditions, draw: int, day: int, kind: int, state: Floats) -> float:
    """Let first or later workers grow older by a day; how many died."""
    law = conditions.laws[draw]
    ages = ages_of(state)
    life = law.mean_life * law.first_life if kind == 0 else law.mean_life
    chance = min(ages * conditions.ageing[day] / life, 1.0)
    youngest, older = WAITING + 1 + kind * ages, 0.0
    for place in range(youngest, youngest + ages):
        gone = state[place] * chance
        state[place] += older - gone
        older = gone
    return older


@compiled
def evening(
    conditions: Conditions, draw: int, day: int, state: Floats, today: Controls, work: Workspace
) -> None:
    """Expected state after a day, in place of that of the morning; linear in it."""
    move(state, today, work)
    hatched, pupating = work.leaving[EGG], work.leaving[LARVA]
    asking = state[WAITING] * waiting_alive(conditions, draw, day) + hatched
    placed, first = today.placed * asking, today.first * pupating
    enter(state, EGG, today.eggs * work.half[EGG], today.first, work)
    enter(state, LARVA, placed * work.half[LARVA], today.first, work)
    enter(state, PUPA_FIRST, first * work.half[PUPA_FIRST], today.first, work)
    enter(state, PUPA_LATER, (pupating - first) * work.half[PUPA_LATER], today.first, work)
    state[WAITING] = asking - placed
    ages = ages_of(state)
    for kind in range(2):
        state[len(state) - 1] += age(conditions, draw, day, kind, state)
        state[WAITING + 1 + kind * ages] += work.leaving[PUPA_FIRST + kind]
