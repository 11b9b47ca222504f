"""One cutoff of a backtest: what each method foresees there, and how that is judged."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial
from typing import Any

import numpy as np
import pandas as pd

from antgrowth._core.arrays import Floats, Ints
from antgrowth._core.stages import STAGES, WORKERS
from antgrowth._core.stats import QUANTILES, first_passage
from antgrowth.climate.dormancy import dormancy_schedule, extend_plan
from antgrowth.climate.schedules import Until
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import TemperatureGapError
from antgrowth.evaluation.baselines import UsualColonies, log_linear_growth, species_average
from antgrowth.evaluation.observation_noise import observed_counts
from antgrowth.evaluation.scoring import crps, stand_at_horizon
from antgrowth.evaluation.targets import Target
from antgrowth.forecast.arrival import Arrival
from antgrowth.forecast.paths import forecast
from antgrowth.inference.history import ColonyHistory
from antgrowth.inference.laplace import ERROR_SPREAD
from antgrowth.inference.observations import held_at_first
from antgrowth.inference.posterior import Posterior, fit_posterior, founding_day
from antgrowth.inference.prior import Prior
from antgrowth.io.changes import ChangeLog
from antgrowth.io.counts import CountLog
from antgrowth.species.profile import Species

OURS, USUAL, LINE = "antgrowth", "species average", "log-linear"
KNOWN, THEN, UNUSED = "known", "as known then", "not used"

FEWEST = 20
"""A species average rests on at least so many colonies that have not arrived by the cutoff."""

_ONE_DAY = pd.Timedelta("1D")


@dataclass(frozen=True, eq=False)
class Prediction:
    """What one method foresees at a cutoff."""

    # Day after the cutoff and stage to the numbers a keeper would count, shape (draws,)
    counts: dict[tuple[int, str], Floats]
    arrival: Arrival | None
    abstention: str = ""  # why it does not answer, where it does not


@dataclass(frozen=True, eq=False)
class Fold:
    """What was known at a cutoff, and what each method makes of it."""

    log: CountLog  # up to the cutoff
    # temperature, species, queens, changes, hemisphere: as given to the backtest, also of later
    # days.
    temperature: Temperature
    species: Species
    founded: pd.Timestamp | None  # `queen_since`
    queens: int
    changes: ChangeLog | None
    hemisphere: str | None
    cutoff: pd.Timestamp
    ahead: int  # days looked ahead [day]
    workers: int  # the number waited for
    draws: int
    seed: tuple[int, int]  # of the backtest, and of the fold
    usual: UsualColonies  # shared by all folds of the backtest

    @cached_property
    def fit(self) -> Posterior:
        """The fit to what was known."""
        return self.fit_it()

    def fit_it(self) -> Posterior:
        """Fit to what was known."""
        if self.founded is not None:
            founding_day(self.log, self.species, self.founded)
        return fit_posterior(self.log, self.history, self.seed[0])

    @property
    def fitted(self) -> bool:
        """Whether the fit succeeded."""
        return "fit" in vars(self)

    @cached_property
    def history(self) -> ColonyHistory:
        """The history without the fit, which the species average does not need."""
        return ColonyHistory(
            self.species,
            self.temperature,
            self.log.start if self.founded is None else self.founded,
            self.founded is not None,
            self.changes,
            self.queens,
            self.hemisphere,
        )

    def rows(self, targets: Sequence[Target]) -> list[dict[str, object]]:
        """Score all methods on all targets."""
        rows = []
        for method, temperatures, predict in self._methods(targets):
            outcome: Prediction | str
            try:
                outcome = predict()
            except (ValueError, ArithmeticError) as error:  # AntgrowthError is a ValueError
                outcome = f"{type(error).__name__}: {error}"
            for target in targets:
                if method == LINE and target.name not in ("arrival", "workers"):
                    continue  # it does not speak of brood at all, so it does not fail at it
                row = {"cutoff": self.cutoff, "method": method, "temperatures": temperatures}
                rows.append(row | self._score_row(target, outcome))
        return rows

    def _methods(
        self, targets: Sequence[Target]
    ) -> Iterator[tuple[str, str, Callable[[], Prediction]]]:
        days = sorted({int(target.ahead) for target in targets if target.name != "arrival"})
        for method, predict in ((OURS, self._ours), (USUAL, self._usual)):
            then = cache(partial(predict, THEN, days))
            yield method, THEN, then
            # Seeds are the same, so where nothing came differently the predict is, too.
            yield method, KNOWN, then if self._as_expected else partial(predict, KNOWN, days)
        yield LINE, UNUSED, partial(self._line, days)

    def _plan(self, temperatures: str) -> Temperature:
        """The temperatures from day zero to the end of the time looked ahead."""
        last = self.temperature.covers()[1]
        if temperatures == THEN:
            cutoff = np.datetime64(self.cutoff, "D")
            since = np.datetime64(self.history.first_day, "D")
            known = Temperature(Until(self.temperature.source, cutoff))
            schedule = dormancy_schedule(self.species, self.hemisphere, known, since, cutoff)
            return extend_plan(known, self.species, schedule, cutoff, self.ahead).temperature
        if last is None or last >= self.cutoff + self.ahead * _ONE_DAY:
            return self.temperature
        return self.temperature.then(last + _ONE_DAY, self.temperature.typical_day(last))

    def _known(self, history: ColonyHistory, temperatures: str) -> ColonyHistory:
        """The history as far as it was known."""
        if self.changes is None or temperatures == KNOWN:
            return history
        return replace(history, changes=self.changes.until(self.cutoff))

    @cached_property
    def _as_expected(self) -> bool:
        """Whether what came was what anyone would have expected at the cutoff."""
        if self.changes is not None and len(self.changes) > len(self.changes.until(self.cutoff)):
            return False
        tomorrow, days = self.cutoff + _ONE_DAY, self.ahead
        then, known = self._plan(THEN), self._plan(KNOWN)
        try:
            came = known.hours(tomorrow, days)
        except TemperatureGapError:
            return False  # it will fail where failures are counted
        same = np.allclose(came, then.hours(tomorrow, days), rtol=0.0, atol=1e-6)
        return same and np.array_equal(known.resting(tomorrow, days), then.resting(tomorrow, days))

    def _ours(self, temperatures: str, days: list[int]) -> Prediction:
        rng = np.random.default_rng((*self.seed, 1))
        drawn = self.fit.estimate.draw(self.draws, rng)
        wait = int((self.cutoff - self.log.end) / _ONE_DAY)
        now = self.fit.initial_states(self.draws)  # where it stands, whatever is to come
        as_known = replace(self.fit, history=self._known(self.fit.history, temperatures))
        as_known._initial_states[self.draws] = now
        seen = forecast(
            as_known,
            days=wait + self.ahead,
            temperature=self._plan(temperatures),
            draws=self.draws,
            rng=rng,
        )
        best = self.fit.estimate
        scale = best.error_scale * np.exp(best.error_spread * rng.standard_normal(self.draws))
        paths = seen.paths[:, wait:]
        shares = self.fit.model.prior.seen(drawn, paths[..., WORKERS].astype(float))
        return Prediction(_counted(paths, days, shares, scale, rng), seen.arrival(self.workers))

    def _usual(self, temperatures: str, days: list[int]) -> Prediction:
        rng = np.random.default_rng((*self.seed, 2))
        history, plan = self._known(self.history, temperatures), self._plan(temperatures)
        evening = history.day_of(self.cutoff) + 1
        days_in_all = evening + self.ahead
        held = held_at_first(self.log)
        if temperatures == KNOWN:
            paths = self.usual.paths(history, held, days_in_all, plan)
        else:
            paths = species_average(history, held, days_in_all, self.draws, rng, plan)
        prior = Prior.of(history.species, history.founded)
        x = rng.standard_normal((self.draws, len(prior)))
        shares = prior.seen(x, paths[..., WORKERS].astype(float))
        scale = np.exp(ERROR_SPREAD * rng.standard_normal(self.draws))
        counts = _counted(paths[:, evening:], days, shares[:, evening:], scale, rng)
        passage_days = first_passage(paths[..., WORKERS] >= self.workers) - evening
        late = passage_days > 0
        if late.sum() < FEWEST:
            return Prediction(
                counts,
                None,
                f"only {late.sum()} of {self.draws} colonies of the profile hold fewer than "
                f"{self.workers} workers at the cutoff",
            )
        return Prediction(counts, self._arrival(passage_days[late]))

    def _line(self, days: list[int]) -> Prediction:
        rng = np.random.default_rng((*self.seed, 3))
        frame = self.log.frame
        frame = frame[(frame["stage"] == "workers") & frame["kind"].isin(["exact", "rough"])]
        day = ((frame["date"] - self.cutoff) / _ONE_DAY).to_numpy(float)
        line = log_linear_growth(day, frame["low"].to_numpy(float), self.draws, rng)
        if line is None:
            return Prediction({}, None, "fewer than three counts of workers above 0")
        numbers = line.counts(np.array(days, float), rng)
        counts = {(day, "workers"): numbers[:, place] for place, day in enumerate(days)}
        if np.median(line.slope) <= 0:
            return Prediction(counts, None, "the counts of workers do not rise")
        # Not before tomorrow: whoever waits for so many has not counted them yet.
        return Prediction(counts, self._arrival(np.maximum(line.arrivals(self.workers, rng), 1.0)))

    def _arrival(self, passage_days: Floats) -> Arrival:
        """Arrival from days after the cutoff, infinite for never."""
        dates = np.full(len(passage_days), np.datetime64("NaT"), dtype="datetime64[D]")
        come = passage_days <= self.ahead
        dates[come] = np.datetime64(self.cutoff, "D") + np.ceil(passage_days[come]).astype(int)
        return Arrival(self.workers, dates, self.cutoff, self.ahead)

    def _score_row(self, target: Target, outcome: Prediction | str) -> dict[str, object]:
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
        predicted = None if isinstance(outcome, str) else self._quantiles(target, outcome)
        if predicted is not None:
            members, row["median"], row["q05"], row["q25"], row["q75"], row["q95"] = predicted
        if target.unknown:
            return row
        if isinstance(outcome, str):
            return row | {"status": "failed", "reason": outcome}
        if predicted is None:
            return row | {"status": "no answer", "reason": outcome.abstention}
        _, median, q05, q25, q75, q95 = predicted
        row["crps"] = float(crps(members, target.truth))
        row["covered_50"] = bool(q25 <= target.high and target.low <= q75)
        row["covered_90"] = bool(q05 <= target.high and target.low <= q95)
        if target.name == "arrival":
            row["error_days"] = max(median - target.high, 0.0) - max(target.low - median, 0.0)
        return row | {"status": "scored"}

    def _quantiles(self, target: Target, predict: Prediction) -> tuple[Any, ...] | None:
        """Members, median, q05, q25, q75, q95; None where there is no answer."""
        if target.name != "arrival":
            members = predict.counts.get((int(target.ahead), target.name))
            if members is None:
                return None
            levels = ("q50", "q05", "q25", "q75", "q95")
            return members, *np.quantile(members, [QUANTILES[level] for level in levels])
        arrival = predict.arrival
        if arrival is None:
            return None
        passage_days = (arrival.dates - np.datetime64(self.cutoff, "D")).astype(float)
        passage_days = np.where(np.isnat(arrival.dates), np.inf, passage_days)

        def after(date: pd.Timestamp) -> float:
            if pd.isna(date):
                return float(self.ahead)
            return max((date - self.cutoff) / _ONE_DAY, 0.0)

        (q25, q75), (q05, q95) = (map(after, arrival.interval(level)) for level in (0.5, 0.9))
        members = stand_at_horizon(np.maximum(passage_days, 0.0), self.ahead)
        return members, after(arrival.median), q05, q25, q75, q95


def _counted(
    paths: Ints, days: list[int], shares: Floats, scale: Floats, rng: np.random.Generator
) -> dict[tuple[int, str], Floats]:
    """Counts of some days of simulated colonies, by day and stage; see `observed_counts`."""
    counts = observed_counts(paths[:, days], shares[:, days], scale, rng)
    return {
        (day, stage): counts[:, place, column]
        for place, day in enumerate(days)
        for column, stage in enumerate((*STAGES, "brood"))
    }
