"""Would it have been right? Forecasts from earlier looks, held against what the log shows later.

At each cutoff the log is cut, fitted and forecast as if the later notes did not exist, beside two
simple ways to guess: the species alone, and a straight line through the logarithm of the workers.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from antgrowth._core.arguments import (
    ANTS,
    DAYS_AHEAD,
    FLAG,
    HEMISPHERE,
    MOST_DRAWS,
    QUEENS,
    RNG,
    optional,
    takes,
    within,
)
from antgrowth._core.dates import as_day
from antgrowth._core.deprecation import renamed
from antgrowth._core.progress import each
from antgrowth._core.random import seeded
from antgrowth._core.threads import on_one_thread
from antgrowth.climate.temperature import Temperature
from antgrowth.errors import TemperatureError
from antgrowth.evaluation.baselines import UsualColonies
from antgrowth.evaluation.folds import Fold
from antgrowth.evaluation.score_table import Backtest
from antgrowth.evaluation.targets import Reached, arrival_seen, choose_cutoffs, targets_after
from antgrowth.io.changes import ChangeLog, read_changes
from antgrowth.io.counts import CountLog, read_counts
from antgrowth.species.profile import Species, load_species

BEYOND = 90
"""Days looked ahead beyond the arrival, so that a forecast can be late. [day]"""

FEWEST_DRAWS = 20

_ONE_DAY = pd.Timedelta("1D")


@renamed(temps="temperature")
@takes(
    workers=ANTS, queens=QUEENS, hemisphere=optional(HEMISPHERE),
    days=optional(DAYS_AHEAD), draws=within(FEWEST_DRAWS, MOST_DRAWS), rng=RNG,
    progress=optional(FLAG),
)  # fmt: skip
@on_one_thread
def backtest(
    counts: CountLog | pd.DataFrame | str,
    temperature: Temperature,
    species: Species | str,
    *,
    workers: int = 30,
    queen_since: str | pd.Timestamp | None = None,
    queens: int = 1,
    changes: ChangeLog | pd.DataFrame | str | None = None,
    hemisphere: str | None = None,
    cutoffs: int | Sequence[str | pd.Timestamp] = 6,
    days: int | None = None,
    draws: int = 200,
    rng: int | np.random.Generator | None = None,
    progress: bool | None = None,
) -> Backtest:
    """Forecast from earlier looks of a log and score what came.

    Parameters
    ----------
    counts, temperature, species, queen_since, queens, changes, hemisphere
        As for `fit`.
    workers : int
        The number waited for.
    cutoffs : int or sequence of dates
        In the evening of which days to cut the log. A number: at most so many looks, spread evenly
        from the third date with a count to the last that has something to score after it.
    days : int, optional
        How far to look ahead from each cutoff; later counts are not scored. If not given: to the
        last note, and at least 90 days beyond an arrival that is still to come. [day]
    draws : int
        Simulated colonies of each forecast, at least 20.
    rng : int, numpy.random.Generator or None
        Seed or source of chance.
    progress : bool, optional
        Show a progress bar; if not given, in a notebook and a terminal, once it takes its time.

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
    cutoff and what a forecast takes from there on: the mean day of the last two weeks, a rest that
    is on to its planned end, and such rests as the species needs in their season. Changes after the
    cutoff go with the temperatures: known in the first case only.

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
    >>> import pandas as pd
    >>> invented = pd.DataFrame({
    ...     "date": ["2026-03-10", "2026-03-20", "2026-04-01", "2026-04-20", "2026-05-05"],
    ...     "eggs": [8, 12, "", 9, ""], "workers": ["", "", 0, 3, 6]})
    >>> trial = ag.backtest(invented, ag.constant(25), "lasius-niger", queen_since="2026-03-01",
    ...                  cutoffs=["2026-04-01"], draws=50, rng=1)
    >>> trial
    Backtest('counts', 30 workers, 1 cutoffs, 2026-04-01 to 2026-04-01)
    >>> trial.folds.query("target == 'workers' and method == 'antgrowth'")["truth"].tolist()
    [3.0, 6.0, 3.0, 6.0]
    """
    log = counts if isinstance(counts, CountLog) else read_counts(counts)
    profile = species if isinstance(species, Species) else load_species(species)
    if changes is not None and not isinstance(changes, ChangeLog):
        changes = read_changes(changes)
    founded = None if queen_since is None else pd.Timestamp(as_day(queen_since, "queen_since"))
    _check_covered(temperature, log, founded)
    reached = arrival_seen(log, workers, founded)
    cuts = choose_cutoffs(log, cutoffs, reached, days)
    seed, _ = seeded(rng)
    usual = UsualColonies(int(draws), (seed, 2))
    folds = [
        Fold(
            log=log.until(cut),
            temperature=temperature,
            species=profile,
            founded=founded,
            queens=queens,
            changes=changes,
            hemisphere=hemisphere,
            cutoff=cut,
            ahead=days or _far_enough(log, cut, reached),
            workers=int(workers),
            draws=int(draws),
            seed=(seed, cut.toordinal()),  # the same forecast whichever other cutoffs there are
            usual=usual,
        )
        for cut in cuts
    ]

    def scored(fold: Fold) -> list[dict[str, object]]:
        return fold.rows(targets_after(log, fold.cutoff, fold.ahead, fold.workers, reached))

    rows = [row for found in each(scored, folds, "backtest", progress) for row in found]
    if not any(fold.fitted for fold in folds):
        folds[0].fit_it()  # nothing to report: the keeper needs the error itself
    return Backtest(
        counts=log,
        workers=int(workers),
        reached=reached,
        cutoffs=cuts,
        days=days,
        draws=int(draws),
        seed=seed,
        folds=pd.DataFrame(rows).astype(
            {"date": "datetime64[us]", "covered_50": "boolean", "covered_90": "boolean"}
        ),
    )


def _check_covered(temperature: Temperature, log: CountLog, founded: pd.Timestamp | None) -> None:
    if not isinstance(temperature, Temperature):
        raise TemperatureError(
            f"backtest: temperature is a {type(temperature).__name__}. Give what read_temperature, "
            "constant or day_night return, for example ag.constant(24.0)."
        )
    first = log.start if founded is None else min(founded, log.start)
    temperature.hours(first, int((log.end - first) / _ONE_DAY) + 1)


def _far_enough(log: CountLog, cutoff: pd.Timestamp, reached: Reached | None) -> int:
    """Days from a cutoff to the last note, and beyond an arrival that is still to come."""
    end = log.end
    if reached is not None and reached[1] > cutoff:
        end = max(end, reached[1] + BEYOND * _ONE_DAY)
    return int((end - cutoff) / _ONE_DAY)
