"""What the triggers of milestones say: passed already, on a date, or when it is to be expected."""

from __future__ import annotations

import re
from dataclasses import dataclass

import pandas as pd

from antgrowth._core.stages import BROOD, STAGES
from antgrowth._core.text import count_words
from antgrowth.care.nest_room import NestRoom
from antgrowth.care.outdoors import OutdoorWindows
from antgrowth.care.rest_season import RestSeason, rest_left, yearly
from antgrowth.care.timing import NEVER, FirstPassage, first_passage_of
from antgrowth.food.practice import feeding_rules
from antgrowth.forecast.paths import Forecast
from antgrowth.species.milestones import MilestoneRule, Trigger

_DAY = pd.Timedelta("1D")

_TURNS = "and|but|yet|though|although|however|because|since|so|then|now|only|with|due"
"""Words after which a "no" is over: "no eggs but mould" is mould."""

_NOT_BEFORE = re.compile(
    rf"\b(?:(?:no|without|free (?:of|from))(?: +(?!(?:{_TURNS})\b)[\w'-]+){{0,3}}"
    # "could not get rid of the mould" has it: what may follow "not" is told one by one.
    r"|not(?: +(?:a|any|the|much|see|seen|find|found|signs?|traces?|of)){0,3}) +$",
    re.IGNORECASE,
)
"""End of a text after which a word says that something is not there, as "no sign of"."""

_NOT_AFTER = re.compile(r"\w*(?:[ -]free\b|\s*[,:;-]?\s*none\b(?! of\b))", re.IGNORECASE)
"""Beginning of a text before which it is not there either, as "mould-free"."""


@dataclass(frozen=True, eq=False)
class Reading:
    """What one trigger says."""

    because: str  # the trigger in words
    # When it came, if notes or dates say that it came by the last note; else NaT.
    passed: pd.Timestamp = NEVER
    timing: FirstPassage | None = None  # when it comes in each simulated colony
    # First and last day, where a date decides and not chance.
    window: tuple[pd.Timestamp, pd.Timestamp] | None = None
    missed: pd.Timestamp = NEVER  # when it should have come and did not; else NaT
    excluded: str = ""  # why it is not scheduled; empty if it is
    urgent: bool = False  # it came by a note that asks for action, and not by growth


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What triggers look at besides the forecast."""

    forecast: Forecast
    hemisphere: str
    rest: RestSeason | None
    room: NestRoom | None  # None if no nests are given
    outdoors: OutdoorWindows | None  # None if no weather is given


def read_trigger(trigger: Trigger, rule: MilestoneRule, around: Surroundings) -> Reading:
    """Tell what a trigger says."""
    if trigger.kind == "count":
        return _count(trigger.stage, trigger.value, around.forecast)
    if trigger.kind == "food":
        return _protein(around.forecast)
    if trigger.kind == "note":
        return _note(trigger.value, around.forecast)
    if trigger.kind == "date":
        return _date(trigger.value, around)
    if trigger.kind == "nest":
        return _nest(trigger.value, rule, around.room)
    return _outdoors(around) if trigger.value == "outdoors" else _rest(trigger.value, rule, around)


def _count(stage: str, number: int, forecast: Forecast) -> Reading:
    words = count_words(number, number, "exact", stage)
    seen = _seen(stage, number, forecast)
    if stage == "brood":
        there = forecast.paths[..., : len(BROOD)].sum(axis=-1) >= number
    else:
        there = forecast.paths[..., STAGES.index(stage)] >= number
    return Reading(words, passed=seen, timing=first_passage_of(forecast, there))


def _seen(stage: str, number: int, forecast: Forecast) -> pd.Timestamp:
    """First date on which so many were noted; NaT if on none."""
    frame = forecast.fit.counts.frame
    held = frame[frame["stage"] == stage].set_index("date")["low"]
    if stage == "brood":
        parts = frame[frame["stage"].isin(BROOD)].groupby("date")["low"].sum()
        held = pd.concat([held, parts])
    dates = held.index[held >= number]
    return dates.min() if len(dates) else NEVER


def _protein(forecast: Forecast) -> Reading:
    count = feeding_rules(forecast.fit.species).protein_from_workers
    if not count:
        return Reading("prey from the first day", passed=forecast.fit.history.first_day)
    reading = _count("workers", count, forecast)
    return Reading(f"prey with {reading.because}", reading.passed, reading.timing)


def _note(words: tuple[str, ...], forecast: Forecast) -> Reading:
    notes = forecast.fit.counts.notes
    found = notes[[_tells_of(words, str(note)) for note in notes["note"]]]
    if not len(found):
        return Reading(f'a note such as "{words[0]}"')
    first = found.iloc[0]
    return Reading(f'noted: "{first["note"]}"', passed=first["date"], urgent=True)


def _tells_of(words: tuple[str, ...], note: str) -> bool:
    """Whether a note says that one of these is there: "no mould" is no reason to move."""
    hits = re.finditer(rf"\b(?:{'|'.join(map(re.escape, words))})", note, re.IGNORECASE)
    return any(
        not _NOT_BEFORE.search(note[: hit.start()]) and not _NOT_AFTER.match(note[hit.end() :])
        for hit in hits
    )


def _date(text: str, around: Surroundings) -> Reading:
    start = around.forecast.start
    if len(text) > len("05-01"):
        day = pd.Timestamp(text)
        if day <= start:
            return Reading(f"{day:%Y-%m-%d}", passed=day)
    else:
        years = (yearly(text, start.year + shift, around.hemisphere) for shift in (-1, 0, 1, 2))
        day = next(day for day in years if day > start)
    return Reading(f"{day:%Y-%m-%d}", window=(day, day))


def _nest(which: str, rule: MilestoneRule, room: NestRoom | None) -> Reading:
    if room is None:
        return Reading("nest room", excluded="no nests are given: add [[nests]] to colony.toml")
    stage, following = room.present, room.following
    if which == "full":
        because = f"{stage.nest.name} is full"
        if stage.full.now > 0.5:
            return Reading(because, passed=stage.full.start, timing=stage.full)
        return Reading(because, timing=stage.full)
    size = following.nest.room() if following else "{:,.0f} to {:,.0f} workers".format(
        *room.next_size()
    )  # fmt: skip
    name = f"{following.nest.name}, {size}" if following else f"a nest for {size}"
    because = f"{name}, joined so early that it is taken when {stage.nest.name} is full"
    open_by = stage.full.earlier(rule.lead_days)
    if open_by.now > 0.5:  # the day to begin lies behind, but nobody says that it was done
        return Reading(because, passed=open_by.start, timing=open_by, urgent=True)
    return Reading(because, timing=open_by)


def _rest(which: str, rule: MilestoneRule, around: Surroundings) -> Reading:
    season, start = around.rest, around.forecast.start
    if which == "rest ends":  # warming takes days: it is due until they are over
        season = rest_left(around.forecast, rule.ramp_days) or season
    if season is None:
        return Reading("rest", excluded="no rest is planned and the species needs none")
    ramp = rule.ramp_days * _DAY
    missed = season.missed if season.missed is not None else NEVER
    if which == "rest begins":
        if pd.notna(missed) and season.begins == missed:
            late = f"the usual season lasts to {season.ends:%Y-%m-%d}, and no rest is planned"
            return Reading(late, passed=missed, urgent=True)
        window = (season.begins - ramp, season.begins)
        passed = season.begins if season.planned and season.begins <= start else NEVER
        return Reading(f"rest, {season.words}", passed=passed, window=window, missed=missed)
    return Reading(f"end of the rest, {season.words}", window=(season.ends, season.ends + ramp))


def _outdoors(around: Surroundings) -> Reading:
    found = around.outdoors
    if found is None:
        return Reading("outdoors", excluded="no weather is given: add [outdoors] to colony.toml")
    if found.excluded:
        return Reading("outdoors", excluded=found.excluded)
    windows = found.windows()
    if not windows:
        return Reading("outdoors", excluded=found.sentence().removeprefix("Outdoors: ").rstrip("."))
    return Reading(
        f"weather and numbers fit for {found.weeks} weeks, at least {found.chance:.0%}",
        window=windows[0],
    )
