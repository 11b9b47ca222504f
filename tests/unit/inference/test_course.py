"""The course on which a colony strays from the law: what notes ask for, and whether it is found."""

from __future__ import annotations

import numpy as np
import pytest
from invented_ants import steady
from invented_species import garden_ant

from antgrowth.inference.course import LONGEST_STEP, PART, Course, course_asked, remembered
from antgrowth.inference.laplace import Model, estimate
from antgrowth.inference.likelihood import Observations
from antgrowth.inference.prior import Prior, forcing_of
from antgrowth.model.covariance import Cells
from antgrowth.model.growth_law import DRIFT_DAYS

DAYS, DRIFT = 6, np.array([0.5, 0.4, 0.2])
KEPT = np.exp(-1.0 / DRIFT_DAYS)


def prior_cov() -> np.ndarray:
    """Covariance of straying on all mornings, written down anew: shape (days, 3, days, 3)."""
    apart = np.abs(np.subtract.outer(np.arange(DAYS), np.arange(DAYS)))
    cov = np.zeros((DAYS, 3, DAYS, 3))
    for k in range(3):
        cov[:, k, :, k] = DRIFT[k] ** 2 * KEPT[k] ** apart
    return cov


class TestAsked:
    RNG = np.random.default_rng(4)
    # What straying on a morning itself does to four cells; from a morning on it is remembered.
    DIRECT = RNG.normal(size=(DAYS, 3, 4))
    NOISE, MISSED = np.diag([0.5, 0.2, 1.0, 0.3]), RNG.normal(size=4)

    @property
    def found(self) -> Course:
        effect = self.DIRECT.copy()
        for day in range(DAYS - 2, -1, -1):
            effect[day] += KEPT[:, None] * effect[day + 1]
        return course_asked(DAYS + 2, DRIFT, effect, self.cov, self.MISSED)

    @property
    def slopes(self) -> np.ndarray:
        return self.DIRECT.reshape(-1, 4).T

    @property
    def cov(self) -> np.ndarray:
        return self.slopes @ prior_cov().reshape(3 * DAYS, -1) @ self.slopes.T + self.NOISE

    def test_it_is_the_regression_of_the_course_on_the_notes(self):
        link = prior_cov().reshape(3 * DAYS, -1) @ self.slopes.T
        mean = link @ np.linalg.solve(self.cov, self.MISSED)
        found = remembered(self.found.fresh)
        assert found[:DAYS] == pytest.approx(mean.reshape(DAYS, 3))
        # After the last note it fades.
        assert found[DAYS + 1] == pytest.approx(KEPT**2 * found[DAYS - 1])

    def test_the_mean_sinks_by_half_of_the_variance_that_is_gone(self):
        link = prior_cov().reshape(3 * DAYS, -1) @ self.slopes.T
        gone = np.diag(link @ np.linalg.solve(self.cov, link.T)).reshape(DAYS, 3)
        assert self.found.settled[:DAYS] == pytest.approx(-0.5 * gone)
        assert np.all(gone < DRIFT**2)

    def test_what_it_makes_of_the_cells(self):
        found, effect = self.found, self.RNG.normal(size=(DAYS, 3, 2))
        by_hand = sum(found.fresh[d, k] * effect[d, k] for d in range(DAYS) for k in range(3))
        assert found.makes(effect) == pytest.approx(by_hand)


class TestSteps:
    def test_a_part_of_the_way_from_none(self):
        asked = Course(np.full((4, 3), 0.1), np.zeros((4, 3)))
        nearer, far = asked.approached(None, DRIFT)
        assert far == pytest.approx((remembered(asked.fresh) / DRIFT).max())
        assert nearer.fresh == pytest.approx(min(PART, LONGEST_STEP / far) * asked.fresh)

    def test_no_step_is_long(self):
        asked = Course(np.full((4, 3), 5.0), np.zeros((4, 3)))
        nearer, _ = asked.approached(None, DRIFT)
        assert (np.abs(nearer.strays) / DRIFT).max() == pytest.approx(LONGEST_STEP)

    def test_from_itself_there_is_no_way(self):
        asked = Course(np.full((4, 3), 0.1), np.full((4, 3), -0.02))
        again, far = asked.approached(asked, DRIFT)
        assert far == 0 and again.strays == pytest.approx(asked.strays)


class TestFound:
    """A colony that lays half as much again for a month, counted every other evening."""

    PRIOR = Prior.of(garden_ant())
    WEATHER = forcing_of(garden_ant(), steady(25, 61), np.zeros(61, bool))
    USUAL = np.zeros(len(PRIOR))

    def fit(self, level: float):
        fresh = np.zeros((self.WEATHER.days + 1, 3))
        fresh[10], fresh[11:40, 0] = [level, 0, 0], level * (1 - KEPT[0])
        true = Course(fresh, np.zeros_like(fresh))
        evenings = np.arange(2, 61, 2)
        cells = Cells(np.repeat(evenings, 4), np.tile(np.eye(4, 5), (len(evenings), 1)))
        none = Observations(cells, *np.zeros((2, len(cells))), np.ones(len(cells)))
        model = Model(self.PRIOR, self.WEATHER, none)
        lived = model.along(Course(fresh, true.settled, np.zeros(len(cells))))
        seen = np.rint(lived.expect(self.USUAL[None])[0])
        noted = Model(self.PRIOR, self.WEATHER, Observations(cells, seen, seen, none.rough))
        return estimate(noted), true

    def test_it_is_seen_in_the_course(self):
        found, true = self.fit(0.4)
        early, late = (remembered(found.course.fresh)[when, 0].mean() for when in (
            slice(15, 40), slice(52, 61)))  # fmt: skip
        assert true.strays[15:40, 0].mean() == pytest.approx(0.4)
        # Some of it is taken for a queen who lays more, for life.
        rate = self.PRIOR.values(found.x[None])[0, self.PRIOR.place_of("laying.founding_rate")]
        usual = self.PRIOR.values(self.USUAL[None])[0, self.PRIOR.place_of("laying.founding_rate")]
        assert 0.2 < early + np.log(rate / usual) < 0.65
        assert early > late + 0.1

    def test_the_usual_is_left_as_it_is(self):
        found, _ = self.fit(0.0)
        course = found.course
        strays = np.zeros(1) if course is None else remembered(course.fresh)
        assert np.abs(strays).max() < 0.25
