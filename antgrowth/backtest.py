"""Would it have been right? Forecasts from earlier looks, held against what the log shows later.

At each cutoff the log is cut, fitted and forecast as if the later notes did not exist, beside two
simple ways to guess: the species alone, and a straight line through the logarithm of the workers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from antgrowth._baselines import log_linear_growth, species_average
from antgrowth._days import as_day
from antgrowth._truth import Target, arrival_seen, choose_cutoffs, targets_after
from antgrowth._verdict import backtest_report, summarise
from antgrowth.changes import ChangeLog, read_changes
from antgrowth.counts import CountLog, read_counts
from antgrowth.errors import AntgrowthError, TemperatureError
from antgrowth.fit import Fit, _seeded, fit
from antgrowth.forecast import QUANTILES, Arrival
from antgrowth.inference import ERROR_SPREAD
from antgrowth.likelihood import ROUNDING, error_variance
from antgrowth.notes import held_at_first
from antgrowth.prior import Prior
from antgrowth.scoring import crps, stand_at_horizon
from antgrowth.setting import Setting
from antgrowth.species import Species, load_species
from antgrowth.stages import STAGES
from antgrowth.temperature import Temperature

__all__ = ["Backtest", "backtest", "log_linear_growth", "species_average"]

Floats = NDArray[np.float64]

OURS, USUAL, LINE = "antgrowth", "species average", "log-linear"
KNOWN, THEN, UNUSED = "known", "as known then", "not used"

BEYOND = 90
"""Days looked ahead beyond the last note, so that a forecast can be late. [day]"""

FEWEST = 20
"""A species average rests on at least so many colonies that have not arrived by the cutoff."""

_ONE_DAY = pd.Timedelta("1D")


@dataclass(frozen=True, eq=False, repr=False)
class Backtest:
    """Forecasts from earlier looks at a log, held against what it shows later.

    Attributes
    ----------
    counts : CountLog
        The whole log.
    workers : int
        The number waited for.
    reached : tuple of Timestamp, or None
        First and last day on which it may first have been there; None if the log never shows it.
        The first is NaT if the first note shows it already.
    cutoffs : DatetimeIndex
        After the evening of each of them, the log was cut.
    days : int or None
        Days looked ahead from each cutoff; None for 90 days beyond the last note. [day]
    draws : int
        Simulated colonies of each forecast.
    seed : int
    folds : DataFrame
        One row for each cutoff, method, temperatures and target. Columns:

        - `cutoff`; `method` ("antgrowth", "species average", "log-linear"); `temperatures`:
          "known" (as they turned out: this leaks), "as known then" or "not used";
        - `target`: "arrival" or the stage counted; `date` of the count, or by which it had arrived;
          `unit`: "day" after the cutoff, or "ant"; `horizon_days` from the cutoff to the truth;
        - `truth_low`, `truth`, `truth_high`: an arrival is known only as between two looks, and
          `truth` is the middle; of a count all three are the same;
        - `median`, `q05`, `q25`, `q75`, `q95` of the forecast;
        - `crps` against `truth`; `covered_50`, `covered_90`: whether the interval holds the truth
          or, of an arrival, overlaps the days on which it may have been; `error_days`: from the
          nearest of these days to the median, above 0 for a forecast too late;
        - `status`: "scored", "no answer", "failed" or "no truth"; `reason` in words.
    """

    counts: CountLog
    workers: int
    reached: tuple[pd.Timestamp, pd.Timestamp] | None
    cutoffs: pd.DatetimeIndex
    days: int | None
    draws: int
    seed: int
    folds: pd.DataFrame = field(repr=False)

    def summary_frame(self, by_horizon: bool = False) -> pd.DataFrame:
        """Average the scores.

        Parameters
        ----------
        by_horizon : bool
            Split by how far ahead the truth lay.

        Returns
        -------
        DataFrame
            One row for each target, (horizon,) method and temperatures. Columns: those; unit;
            folds (cutoffs with a known truth); failed (folds that could not be fitted or forecast);
            cases (truths); answered (truths with a score); mean crps; covered_50, covered_90 (share
            of those answered); error_days (mean size), bias_days (mean); crps_ratio: what antgrowth
            scores relative to this method, over the cases that both answered; below 1 antgrowth is
            better.

        Notes
        -----
        Folds of one log overlap and share its luck: their number does not stand for as many
        colonies. Closed intervals of small whole numbers hold more than they claim.
        """
        return summarise(self.folds, by_horizon, OURS, {UNUSED: THEN})

    def summary(self) -> str:
        """Report in plain text: what was cut where, and the scores of each method."""
        return backtest_report(self).as_text()

    def __str__(self) -> str:
        return self.summary()

    def _repr_html_(self) -> str:
        return backtest_report(self).as_html()

    def __repr__(self) -> str:
        return (
            f"Backtest({self.counts.name!r}, {self.workers} workers, {len(self.cutoffs)} cutoffs, "
            f"{self.cutoffs[0]:%Y-%m-%d} to {self.cutoffs[-1]:%Y-%m-%d})"
        )


def backtest(
    counts: CountLog | pd.DataFrame | str,
    temps: Temperature,
    species: Species | str,
    *,
    workers: int = 30,
    queen_since: str | pd.Timestamp | None = None,
    queens: int = 1,
    changes: ChangeLog | pd.DataFrame | str | None = None,
    cutoffs: int | Sequence[str | pd.Timestamp] = 6,
    days: int | None = None,
    draws: int = 500,
    rng: int | np.random.Generator | None = None,
    progress: bool = False,
) -> Backtest:
    """Forecast from earlier looks of a log and score what came.

    Parameters
    ----------
    counts, temps, species, queen_since, queens, changes
        As for `fit`.
    workers : int
        The number waited for.
    cutoffs : int or sequence of dates
        In the evening of which days to cut the log. A number: at most so many looks, spread evenly
        from the third date with a count to the last that has something to score after it.
    days : int, optional
        How far to look ahead from each cutoff; later counts are not scored. If not given: to 90
        days beyond the last note. [day]
    draws : int
        Simulated colonies of each forecast, at least 20.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.
    progress : bool
        Show a progress bar.

    Returns
    -------
    Backtest

    Raises
    ------
    LogError
        If the log is too short, or a cutoff leaves nothing to forecast from or to score.
    TemperatureGapError
        If temperatures do not cover the log.
    AntgrowthError
        If an argument is out of range. If no cutoff at all can be fitted, the error of the first.

    Notes
    -----
    A forecast from a cutoff sees only the notes up to it. Temperatures are taken twice: as they
    turned out, which no keeper could have known, and as known then, which is the record up to the
    cutoff and the mean day of its last two weeks from there on (a rest season still to come is not
    known). Changes after the cutoff go with the temperatures: known in the first case only.

    Counts are scored as a keeper would count them: the eggs and larvae usually overlooked are left
    out, and the usual counting error is added. Only exact counts are scored. An arrival is scored
    in days after the cutoff; colonies that have not arrived when the time looked ahead is over
    stand at its last day.

    The species average is the same growth from the profile alone, with those colonies left out
    that would have arrived by the cutoff. The log-linear guess is a regression of the logarithm of
    the workers counted, whose answer to an arrival needs three counts and an upward slope.

    Examples
    --------
    >>> import antgrowth as ag
    >>> from antgrowth.backtest import backtest
    >>> import pandas as pd
    >>> invented = pd.DataFrame({
    ...     "date": ["2026-03-10", "2026-03-20", "2026-04-01", "2026-04-20", "2026-05-05"],
    ...     "eggs": [8, 12, "", 9, ""], "larvae": ["", "", 7, "", ""], "workers": ["", "", 0, 3, 6]})
    >>> trial = backtest(invented, ag.constant(25), "lasius-niger", queen_since="2026-03-01",
    ...                  cutoffs=["2026-04-01"], draws=50, rng=1)
    >>> trial
    Backtest('counts', 30 workers, 1 cutoffs, 2026-04-01 to 2026-04-01)
    >>> trial.folds.query("target == 'workers' and method == 'antgrowth'")["truth"].tolist()
    [3.0, 6.0, 3.0, 6.0]
    """
    for name, value, least in (("workers", workers, 1), ("draws", draws, FEWEST), ("days", days, 1)):
        whole = isinstance(value, (int, np.integer)) and not isinstance(value, bool)
        if not (value is None and name == "days") and not (whole and value >= least):
            raise AntgrowthError(
                f"backtest: {name} = {value!r}. Give a whole number of at least {least}."
            )
    log = counts if isinstance(counts, CountLog) else read_counts(counts)
    profile = species if isinstance(species, Species) else load_species(species)
    if changes is not None and not isinstance(changes, ChangeLog):
        changes = read_changes(changes)
    founded = None if queen_since is None else pd.Timestamp(as_day(queen_since, "queen_since"))
    _check_covered(temps, log, founded)
    reached = arrival_seen(log, workers, founded)
    cuts = choose_cutoffs(log, cutoffs, reached, days)
    seed, _ = _seeded(rng)
    folds = [
        _Fold(
            log=log.until(cut),
            temperature=temps,
            species=profile,
            founded=founded,
            queens=queens,
            changes=changes,
            cutoff=cut,
            ahead=days or int((log.end - cut) / _ONE_DAY) + BEYOND,
            workers=int(workers),
            draws=int(draws),
            seed=(seed, place),
        )
        for place, cut in enumerate(cuts)
    ]
    rows = []
    for fold in _with_progress(folds, progress):
        targets = targets_after(log, fold.cutoff, fold.ahead, fold.workers, reached)
        rows += fold.rows(targets)
    if not any(fold.fitted for fold in folds):
        folds[0].fit  # nothing to report: the keeper needs the error itself
    return Backtest(
        counts=log,
        workers=int(workers),
        reached=reached,
        cutoffs=cuts,
        days=days,
        draws=int(draws),
        seed=seed,
        folds=pd.DataFrame(rows).astype({"covered_50": "boolean", "covered_90": "boolean"}),
    )


def _check_covered(temps: Temperature, log: CountLog, founded: pd.Timestamp | None) -> None:
    if not isinstance(temps, Temperature):
        raise TemperatureError(
            f"backtest: temps is a {type(temps).__name__}. Give what read_temperature, constant or "
            "day_night return, for example ag.constant(24.0)."
        )
    first = log.start if founded is None else min(founded, log.start)
    temps.hours(first, int((log.end - first) / _ONE_DAY) + 1)


def _with_progress(folds: Sequence[_Fold], progress: bool) -> Sequence[_Fold]:
    if not progress:
        return folds
    from tqdm import tqdm

    return tqdm(folds, desc="backtest", unit="cutoff")


@dataclass(frozen=True, eq=False)
class _Outlook:
    """What one method foresees at a cutoff.

    Attributes
    ----------
    counts : dict
        Day after the cutoff and stage to the numbers a keeper would count, shape (draws,).
    arrival : Arrival or None
    silence : str
        Why it does not answer, where it does not.
    """

    counts: dict[tuple[int, str], Floats]
    arrival: Arrival | None
    silence: str = ""


@dataclass(frozen=True, eq=False)
class _Fold:
    """One cutoff: what was known then, and what each method makes of it."""

    log: CountLog
    temperature: Temperature
    species: Species
    founded: pd.Timestamp | None
    queens: int
    changes: ChangeLog | None
    cutoff: pd.Timestamp
    ahead: int
    workers: int
    draws: int
    seed: tuple[int, int]

    @cached_property
    def fit(self) -> Fit:
        return fit(
            self.log,
            self.temperature,
            self.species,
            queen_since=self.founded,
            queens=self.queens,
            changes=self.changes,
            rng=self.seed[0],
        )

    @property
    def fitted(self) -> bool:
        return "fit" in vars(self)

    @cached_property
    def setting(self) -> Setting:
        """The setting without the fit, which the species average does not need."""
        if self.founded is not None:
            return Setting.founded(
                self.species, self.temperature, self.founded, self.changes, self.queens
            )
        held = held_at_first(self.log)
        return Setting.acquired(
            self.species, self.temperature, self.log.start, held, self.changes, self.queens
        )

    def rows(self, targets: Sequence[Target]) -> list[dict[str, object]]:
        """Score all methods on all targets."""
        rows = []
        for method, temperatures, outlook in self._methods(targets):
            outcome: _Outlook | str
            try:
                outcome = outlook()
            except (ValueError, ArithmeticError) as error:  # AntgrowthError is a ValueError
                outcome = f"{type(error).__name__}: {error}"
            for target in targets:
                if method == LINE and target.name not in ("arrival", "workers"):
                    continue  # it does not speak of brood at all, so it does not fail at it
                row = {"cutoff": self.cutoff, "method": method, "temperatures": temperatures}
                rows.append(row | self._judged(target, outcome))
        return rows

    def _methods(
        self, targets: Sequence[Target]
    ) -> Iterator[tuple[str, str, Callable[[], _Outlook]]]:
        days = sorted({int(target.ahead) for target in targets if target.name != "arrival"})
        for temperatures in (THEN, KNOWN):
            yield OURS, temperatures, partial(self._ours, temperatures, days)
            yield USUAL, temperatures, partial(self._usual, temperatures, days)
        yield LINE, UNUSED, partial(self._line, days)

    def _setting_of(self, setting: Setting, temperatures: str) -> tuple[Setting, Temperature]:
        """The setting as far as it was known, and the temperatures from its start to the end."""
        if temperatures == THEN:
            if self.changes is not None:
                setting = replace(setting, changes=self.changes.until(self.cutoff))
            return setting, _go_on_as_usual(self.temperature, self.cutoff)
        last = self.temperature.covers()[1]
        if last is None or last >= self.cutoff + self.ahead * _ONE_DAY:
            return setting, self.temperature
        return setting, _go_on_as_usual(self.temperature, last)

    def _ours(self, temperatures: str, days: list[int]) -> _Outlook:
        rng = np.random.default_rng((*self.seed, 1))
        setting, plan = self._setting_of(self.fit.setting, temperatures)
        drawn = self.fit.estimate.draw(self.draws, rng)
        wait = int((self.cutoff - self.log.end) / _ONE_DAY)
        seen = replace(self.fit, setting=setting, draws=drawn).forecast(
            days=wait + self.ahead, temperature=plan, draws=self.draws, rng=rng
        )
        best = self.fit.estimate
        scale = best.error_scale * np.exp(best.error_spread * rng.standard_normal(self.draws))
        shares = self.fit.model.prior.seen(drawn)
        paths = seen.paths[:, wait:]
        return _Outlook(_counted(paths, days, shares, scale, rng), seen.arrival(self.workers))

    def _usual(self, temperatures: str, days: list[int]) -> _Outlook:
        rng = np.random.default_rng((*self.seed, 2))
        setting, plan = self._setting_of(self.setting, temperatures)
        evening = setting.day_of(self.cutoff) + 1
        paths = species_average(setting, evening + self.ahead, self.draws, rng, plan)
        prior = Prior.of(setting.species, setting.past, setting.usual_age)
        shares = prior.seen(rng.standard_normal((self.draws, len(prior))))
        scale = np.exp(ERROR_SPREAD * rng.standard_normal(self.draws))
        counts = _counted(paths[:, evening:], days, shares, scale, rng)
        there = paths[..., 3] >= self.workers
        waits = np.where(there.any(axis=1), there.argmax(axis=1) - float(evening), np.inf)
        late = waits > 0
        if late.sum() < FEWEST:
            return _Outlook(
                counts,
                None,
                f"only {late.sum()} of {self.draws} colonies of the profile hold fewer than "
                f"{self.workers} workers at the cutoff",
            )
        return _Outlook(counts, self._arrival(waits[late]))

    def _line(self, days: list[int]) -> _Outlook:
        rng = np.random.default_rng((*self.seed, 3))
        frame = self.log.frame
        frame = frame[(frame["stage"] == "workers") & frame["kind"].isin(["exact", "rough"])]
        day = ((frame["date"] - self.cutoff) / _ONE_DAY).to_numpy(float)
        line = log_linear_growth(day, frame["low"].to_numpy(float), self.draws, rng)
        if line is None:
            return _Outlook({}, None, "fewer than three counts of workers above 0")
        numbers = line.counts(np.array(days, float), rng)
        counts = {(day, "workers"): numbers[:, place] for place, day in enumerate(days)}
        if np.median(line.slope) <= 0:
            return _Outlook(counts, None, "the counts of workers do not rise")
        # Not before tomorrow: whoever waits for so many has not counted them yet.
        return _Outlook(counts, self._arrival(np.maximum(line.arrivals(self.workers, rng), 1.0)))

    def _arrival(self, waits: Floats) -> Arrival:
        """Arrival from days after the cutoff, infinite for never."""
        dates = np.full(len(waits), np.datetime64("NaT"), dtype="datetime64[D]")
        come = waits <= self.ahead
        dates[come] = np.datetime64(self.cutoff, "D") + np.ceil(waits[come]).astype(int)
        return Arrival(self.workers, dates, self.cutoff, self.ahead)

    def _judged(self, target: Target, outcome: _Outlook | str) -> dict[str, object]:
        """One row of the table, without its keys."""
        row: dict[str, object] = {
            "target": target.name,
            "date": target.date,
            "unit": target.unit,
            "horizon_days": target.ahead,
            "truth_low": target.low,
            "truth": target.truth,
            "truth_high": target.high,
            **dict.fromkeys(("median", "q05", "q25", "q75", "q95", "crps"), np.nan),
            **dict.fromkeys(("covered_50", "covered_90"), None),
            "error_days": np.nan,
            "status": "no truth",
            "reason": target.unknown,
        }
        foreseen = None if isinstance(outcome, str) else self._foreseen(target, outcome)
        if foreseen is not None:
            members, row["median"], row["q05"], row["q25"], row["q75"], row["q95"] = foreseen
        if target.unknown:
            return row
        if isinstance(outcome, str):
            return row | {"status": "failed", "reason": outcome}
        if foreseen is None:
            return row | {"status": "no answer", "reason": outcome.silence}
        _, median, q05, q25, q75, q95 = foreseen
        row["crps"] = float(crps(members, target.truth))
        row["covered_50"] = bool(q25 <= target.high and target.low <= q75)
        row["covered_90"] = bool(q05 <= target.high and target.low <= q95)
        if target.name == "arrival":
            row["error_days"] = max(median - target.high, 0.0) - max(target.low - median, 0.0)
        return row | {"status": "scored"}

    def _foreseen(self, target: Target, outlook: _Outlook) -> tuple | None:
        """Members, median, q05, q25, q75, q95; None where there is no answer."""
        if target.name != "arrival":
            members = outlook.counts.get((int(target.ahead), target.name))
            if members is None:
                return None
            levels = ("q50", "q05", "q25", "q75", "q95")
            return members, *np.quantile(members, [QUANTILES[level] for level in levels])
        arrival = outlook.arrival
        if arrival is None:
            return None
        waits = (arrival.dates - np.datetime64(self.cutoff, "D")).astype(float)
        waits = np.where(np.isnat(arrival.dates), np.inf, waits)

        def after(date: pd.Timestamp) -> float:
            return float(self.ahead) if date is pd.NaT else (date - self.cutoff) / _ONE_DAY

        (q25, q75), (q05, q95) = (map(after, arrival.interval(level)) for level in (0.5, 0.9))
        members = stand_at_horizon(waits, self.ahead)
        return members, after(arrival.median), q05, q25, q75, q95


def _go_on_as_usual(temperature: Temperature, last: pd.Timestamp) -> Temperature:
    """The temperature up to a day, and then the mean day of its last two weeks."""
    return temperature.then(last + _ONE_DAY, temperature.typical_day(last))


def _counted(
    paths: NDArray[np.int64],
    days: list[int],
    shares: Floats,
    scale: Floats,
    rng: np.random.Generator,
) -> dict[tuple[int, str], Floats]:
    """What a keeper would count of true numbers: some overlooked, what is left misjudged.

    Parameters
    ----------
    paths : array of int, shape (draws, days, 4)
    days : list of int
        Which days are counted.
    shares : array, shape (draws, 4)
        Share of each stage that is seen.
    scale : array, shape (draws,)
        Counting error relative to the usual.
    """
    noticed = rng.binomial(paths[:, days], shares[:, None]).astype(float)
    noticed = np.concatenate([noticed, noticed[..., :3].sum(axis=-1, keepdims=True)], axis=-1)
    one = np.ones_like(noticed)
    # A factor for the error, so that none stays none; whole ants bring the rounding by themselves.
    variance = error_variance(noticed, one, one, scale[:, None, None]) - ROUNDING
    log_sd = np.sqrt(np.log1p(variance / np.maximum(noticed, 1.0) ** 2))
    counts = np.rint(noticed * np.exp(log_sd * rng.standard_normal(noticed.shape)))
    return {
        (day, stage): counts[:, place, column]
        for place, day in enumerate(days)
        for column, stage in enumerate((*STAGES, "brood"))
    }
