"""Several fitted colonies as one sharper profile: what they have in common, and how they differ."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy import linalg

from antgrowth._core.arguments import NAME, optional, takes
from antgrowth._core.arrays import Floats
from antgrowth._core.deprecation import Former
from antgrowth._core.summary import Report, Shown, rounded
from antgrowth._core.text import counted
from antgrowth.errors import AntgrowthError
from antgrowth.inference.laplace import tempering_power, whitened_residuals
from antgrowth.inference.posterior import Posterior
from antgrowth.inference.prior import DURATIONS, Prior
from antgrowth.species.parameters import PARAMETERS, SPREAD_FLOORS, Number
from antgrowth.species.profile import Species, load_species, species_from_mapping
from antgrowth.species.toml_writer import as_toml, save_profile

BETWEEN = 0.5
"""Share of a profile's variance, before any colony is seen, by which colonies differ; the rest is
how little is known of their mean (assumed)."""

PSEUDO_COLONIES = 4.0
"""The spread between colonies that a profile tells counts as so many colonies (assumed)."""

MAX_ITER = 300

OWN_COUNTS, STATUS = "own counts", "pooled"


@dataclass(frozen=True, eq=False, repr=False)
class PooledProfile(Shown):
    """A profile made of several fitted colonies; made by `pool`.

    Attributes
    ----------
    species : Species
        The profile: its spreads are what a new colony may differ by.
    before : Species
        The profile that the fits began with.
    colonies : tuple of str
    paths : tuple of str
        Numbers that were pooled.
    mean, standard_error, between : array, shape (paths,)
        On the scale of each number: mean of the colonies, its standard deviation, and the standard
        deviation between colonies.
    """

    species: Species
    before: Species
    colonies: tuple[str, ...]
    paths: tuple[str, ...]
    mean: Floats
    standard_error: Floats
    between: Floats

    doubt = Former("standard_error")

    def frame(self) -> pd.DataFrame:
        """Tell what became of each number.

        Returns
        -------
        DataFrame
            Columns path, unit, before, value, q05, q95 (of a new colony), doubt and between (on the
            number's scale: of the mean, and between colonies), narrowed (share of the profile's
            spread that is gone).
        """
        rows = []
        for k, path in enumerate(self.paths):
            old, new = self.before[path], self.species[path]
            low, high = PARAMETERS[path].interval(new)
            rows.append(
                {
                    "path": path,
                    "unit": new.unit,
                    "before": old.value,
                    "value": new.value,
                    "q05": low,
                    "q95": high,
                    "doubt": self.standard_error[k],
                    "between": self.between[k],
                    "narrowed": max(1.0 - new.spread / old.spread, 0.0),
                }
            )
        return pd.DataFrame(rows)

    def to_toml(self) -> str:
        """Return the text of a profile file; its form is told in ``datasets/species/README.md``."""
        opening = (
            f"{self.species.scientific_name}: the profile {self.before.name}, with what "
            f"{len(self.colonies)} colonies taught of it."
        )
        return as_toml(self.species.to_mapping(), opening)

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the profile to a new TOML file, for `load_species` and ``colony.toml``.

        Raises
        ------
        SpeciesError
            If there is such a file already, or the name does not end in .toml.
        """
        return save_profile(path, self.to_toml())

    def _report(self) -> Report:
        frame = self.frame().sort_values("narrowed", ascending=False, kind="stable")
        rows = []
        for row in frame.to_dict("records"):
            value, low, high = rounded(row["value"], row["q05"], row["q95"])
            rows.append(
                (row["path"], row["unit"], f"{row['before']:.3g}", value, f"{low} to {high}",
                 f"{row['narrowed']:.0%}")
            )  # fmt: skip
        return Report(
            title=f"Profile: {self.species.name} ({self.species.scientific_name})",
            facts=(
                ("pooled", f"{len(self.colonies)} colonies"),
                ("intervals", "of a new colony: what is not known of the mean, and how colonies "
                 "differ"),
            ),
            head=("number", "unit", "before", "now", "90% interval", "narrowed"),
            align="llrrrr",
            rows=tuple(rows),
            closing=(("rest", f"from the profile {self.before.name}"),),
        )  # fmt: skip

    def __repr__(self) -> str:
        return f"PooledProfile({self.species.name!r}, {len(self.colonies)} colonies)"


@takes(name=optional(NAME), source=NAME, citation=optional(NAME))
def pool(
    fits: Sequence[Posterior],
    species: Species | str | None = None,
    *,
    name: str | None = None,
    source: str = OWN_COUNTS,
    citation: str | None = None,
) -> PooledProfile:
    """Make a sharper profile of several fitted colonies, for the next one.

    Parameters
    ----------
    fits : sequence of Fit
        Two or more, fitted from one profile; all founded, or all acquired part-grown.
    species : Species or str, optional
        The profile that they were fitted from, as a check; theirs if not given.
    name : str, optional
        Of the new profile; the old name with "-pooled" if not given.
    source : str
        Where the counts come from: "own counts", or a key for the citation.
    citation : str, optional
        Who, when, what: needed unless the counts are your own or the source is a shipped one.

    Returns
    -------
    PooledProfile

    Raises
    ------
    AntgrowthError
        If there are fewer than two fits, or they were fitted from different profiles.

    Notes
    -----
    Partial pooling: parameters of colonies are normal around a mean, which is normal around the
    profile. What a fit's notes tell is its posterior less its prior, so that the profile counts
    once and not with every colony. Mean and spread between colonies are found by expectation and
    maximisation; with few colonies, both lean on the profile. Thresholds of temperature are left as
    they are: colonies kept alike do not tell them.

    References
    ----------
    Gelman A, Carlin JB, Stern HS, Dunson DB, Vehtari A, Rubin DB (2013) Bayesian Data Analysis,
    3rd edition, chapter 5 (from memory).
    """
    prior = _one_prior(fits, species)
    ant = prior.species
    chosen = [k for k, p in enumerate(prior.parameters) if "*" not in p.path]
    mean, mean_cov, between = _pooled(prior, fits)
    numbers = dict(ant.numbers)
    spread = np.sqrt(np.diag(mean_cov) + between)
    shared = _shared(prior, mean_cov)
    for k in chosen:
        parameter = prior.parameters[k]
        own = spread[k]
        if parameter.path in DURATIONS:
            own = np.sqrt(max(own**2 - shared**2, 0.0))
        value = float(parameter.value(np.array(mean[k])))
        numbers[parameter.path] = _number(parameter.path, ant, value, own, fits, source, between[k])
    numbers["development.shared_spread"] = replace(
        ant["development.shared_spread"],
        value=round(shared, 3),
        note="What several colonies leave open of all durations together.",
    )
    mapping: dict[str, Any] = replace(
        ant, name=name or f"{ant.name}-pooled", numbers=numbers
    ).to_mapping()
    if citation is not None:
        mapping.setdefault("sources", {})[source] = citation
    new = species_from_mapping(mapping, str(mapping.get("name", name or ant.name)), "pool")
    return PooledProfile(
        species=replace(new, name=name or f"{ant.name}-pooled"),
        before=ant,
        colonies=tuple(fit.counts.name for fit in fits),
        paths=tuple(prior.parameters[k].path for k in chosen),
        mean=mean[chosen],
        standard_error=np.sqrt(np.diag(mean_cov))[chosen],
        between=np.sqrt(between)[chosen],
    )


def _one_prior(fits: Sequence[Posterior], species: Species | str | None) -> Prior:
    """The prior of all fits, which must be one."""
    if not (isinstance(fits, list | tuple) and all(isinstance(f, Posterior) for f in fits)):
        raise AntgrowthError("pool: fits must be a list of what ag.fit returned.")
    if len(fits) < 2:
        raise AntgrowthError(
            f"pool: {counted(len(fits), 'fit')} given. Give two or more; a single colony is its "
            "own fit."
        )
    first: Prior = fits[0].model.prior
    wanted = first.species
    if species is not None:
        wanted = species if isinstance(species, Species) else load_species(species)
    for fit in fits:
        prior = fit.model.prior
        if prior.names != first.names:
            raise AntgrowthError(
                f"pool: {fit.counts.name} and {fits[0].counts.name} have not the same parameters: "
                "give colonies that were all founded (queen_since) or all acquired part-grown."
            )
        if dict(prior.species.numbers) != dict(wanted.numbers):
            raise AntgrowthError(
                f"pool: {fit.counts.name} was fitted from another profile than {wanted.name}. Fit "
                "all colonies from one profile, then pool."
            )
    return first


def _pooled(prior: Prior, fits: Sequence[Posterior]) -> tuple[Floats, Floats, Floats]:
    """Mean of the colonies, covariance of that mean, and variance between colonies.

    All on the scales of the parameters.
    """
    centre = np.array([p.centre for p in prior.parameters])
    whole = prior.factor @ prior.factor.T
    own = np.array([p.spread for p in prior.parameters]) ** 2
    durations = [k for k, p in enumerate(prior.parameters) if p.path in DURATIONS]
    own[durations] -= prior.species.value("development.shared_spread") ** 2
    usual = BETWEEN * own
    of_mean = linalg.inv(whole - np.diag(usual))
    precisions, pulled = zip(*(_likelihood(prior, fit, centre) for fit in fits), strict=True)
    mean, between = centre.copy(), usual.copy()
    for _ in range(MAX_ITER):
        spread = np.sqrt(between)
        # In units of the spread between colonies, a colony's own posterior is (1 + B)^-1.
        alone = [linalg.inv(np.eye(len(mean)) + p * np.outer(spread, spread)) for p in precisions]
        covs = [part * np.outer(spread, spread) for part in alone]
        apart = np.array(
            [cov @ (pull - p @ mean) for cov, pull, p in zip(covs, pulled, precisions, strict=True)]
        )
        through = sum((np.eye(len(mean)) - part) / np.outer(spread, spread) for part in alone)
        mean_cov = linalg.inv(of_mean + through)
        mean = mean_cov @ (of_mean @ centre + through @ mean + (apart / between).sum(axis=0))
        pulls = [cov @ p for cov, p in zip(covs, precisions, strict=True)]  # towards its own place
        left = [np.diag(c + w @ mean_cov @ w.T) for c, w in zip(covs, pulls, strict=True)]
        between = PSEUDO_COLONIES * usual + (apart**2 + left).sum(axis=0)
        # Where slopes bend, a few colonies seem to lie anywhere: at most as far as it was told.
        between = np.minimum(between / (PSEUDO_COLONIES + len(fits)), own)
    return mean, mean_cov, between


def _likelihood(prior: Prior, fit: Posterior, centre: Floats) -> tuple[Floats, Floats]:
    """What a colony's notes tell: precision, and precision times place."""
    best = fit.estimate
    slopes, rest = whitened_residuals(
        best.noise_cov, best.sites, best.linearised.slopes, best.linearised.mean
    )
    power = tempering_power(best.dispersion)
    information, pull = power * slopes.T @ slopes, power * slopes.T @ (rest + slopes @ best.x)
    back = linalg.inv(prior.factor)  # from the parameters' scales to whitened coordinates
    precision = back.T @ information @ back
    return precision, back.T @ pull + precision @ centre


def _shared(prior: Prior, mean_cov: Floats) -> float:
    """Log-sd that the means of all durations have in common."""
    at = [k for k, p in enumerate(prior.parameters) if p.path in DURATIONS]
    block = mean_cov[np.ix_(at, at)]
    common = float(block[np.triu_indices(len(at), 1)].mean())
    allowed = PARAMETERS["development.shared_spread"]
    return float(np.clip(np.sqrt(max(common, 0.0)), allowed.low, allowed.high))


def _number(
    path: str,
    ant: Species,
    value: float,
    spread: float,
    fits: Sequence[Posterior],
    source: str,
    between: float,
) -> Number:
    old = ant[path]
    floor = SPREAD_FLOORS[STATUS][PARAMETERS[path].scale]
    note = (
        f"Pooled from {len(fits)} colonies, which differ by "
        f"{np.sqrt(between):.2g} on this number's scale; {old.value:.3g} before ({old.status}: "
        f"{old.source})."
    )
    return Number(
        float(f"{value:.4g}"), round(max(spread, floor), 3), old.unit, source, STATUS, note
    )
