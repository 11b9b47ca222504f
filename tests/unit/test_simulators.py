"""The simulators are themselves held against closed forms before they judge anything."""

import ast
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from simulators import notes, one_ant, other_laws
from simulators.individuals import EGGS, LARVAE, PUPAE, WORKERS, Loss, recount
from simulators.one_ant import TYPICAL, simulate, simulate_lives

STEADY_25 = np.full((70, 24), 25.0)
DAY_NIGHT = np.tile(np.where(np.arange(24) < 14, 29.0, 18.0), (70, 1))
PLAIN = TYPICAL | {"first_development": 1.0, "first_life": 1.0, "delay_days": 0.0}
UNLIMITED = PLAIN | {"founding_room": np.inf, "rate_per_worker": 0.0}


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def test_simulators_share_no_code_with_the_package():
    for path in Path(one_ant.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            roots = {name.split(".")[0] for name in names}
            assert "antgrowth" not in roots, path


# --- one_ant against closed forms --------------------------------------------------------------


def expected_counts(day_ends: np.ndarray, p: dict, rate: float) -> np.ndarray:
    """Mean of M/G/infinity counts at 25 °C: rate x integral over age of P(in the stage at it)."""
    quantile = (np.arange(200) + 0.5) / 200
    pace = stats.gamma(1 / p["pace_cv"] ** 2, scale=p["pace_cv"] ** 2).ppf(quantile)[:, None]
    age = np.arange(0, day_ends.max(), 0.01)[None, :] + 0.005
    in_stage, begun, alive = [], np.zeros_like(pace), 1.0
    for stage in ("egg", "larva", "pupa"):
        need, sigma = pace * p[f"{stage}_days"], p[f"sigma_{stage}"]
        inside = (age >= begun) & (age < begun + need)
        in_stage.append(alive * np.where(inside, sigma ** ((age - begun) / need), 0.0))
        begun, alive = begun + need, alive * sigma
    grown = np.maximum(0, age - begun) / p["worker_life_days"]
    in_stage.append(alive * np.where(age >= begun, np.exp(-(grown ** p["life_shape"])), 0.0))
    chance = np.stack([s.mean(axis=0) for s in in_stage], axis=1)
    return rate * np.stack([chance[age[0] < end].sum(axis=0) * 0.01 for end in day_ends])


def test_steady_laying_gives_the_mean_and_variance_of_an_infinite_server_queue():
    p = UNLIMITED | {"worker_life_days": 20.0}
    n = 3000
    counts = simulate(p, STEADY_25, n, rng(), dt=0.25)
    days = np.array([5, 20, 35, 50, 69])
    expected = expected_counts(days + 1, p, rate=3.0)
    error = np.sqrt(expected / n) + 1e-9
    assert np.all(np.abs(counts[:, days].mean(axis=0) - expected) < 4 * error + 0.002 * expected)
    # Such counts are Poisson, and independent of each other.
    well = expected > 1
    ratio = counts[:, days].var(axis=0)[well] / expected[well]
    assert np.all(np.abs(ratio - 1) < 5 * np.sqrt(2 / n))
    correlation = np.corrcoef(counts[:, -1].T)[np.triu_indices(4, 1)]
    assert np.all(np.abs(correlation) < 4 / np.sqrt(n))


def test_laying_into_limited_room_is_a_pure_death_process_of_the_room():
    # Without deaths or hatching, each of K places is filled at rate q / K: B is binomial.
    p = PLAIN | {"sigma_egg": 1.0, "delay_days": 2.0}
    counts = simulate(p, STEADY_25[:12], 3000, rng(), dt=1 / 48)
    eggs = counts[:, :, EGGS]
    filled = 1 - np.exp(-3.0 * np.maximum(0, np.arange(1, 11) - 2) / 20)
    mean, variance = 20 * filled, 20 * filled * (1 - filled)
    assert np.all(eggs[:, :2] == 0)
    assert np.allclose(eggs[:, :10].mean(axis=0), mean, atol=4 * np.sqrt(5 / 3000) + 0.03)
    assert np.allclose(eggs[:, 3:10].var(axis=0), variance[3:], rtol=0.12)
    assert eggs.max() <= 21


@pytest.mark.parametrize("curve", ["briere", "degree_days"])
def test_stages_end_when_the_summed_rate_reaches_the_requirement(curve):
    p = UNLIMITED | {"pace_cv": 0.0, "founding_rate": 1.0}
    _, lives = simulate_lives(p, DAY_NIGHT, 20, rng(), dt=0.5, curve=curve)
    minute = np.arange(0, 70, 1 / 1440) + 0.5 / 1440
    t = np.where((minute % 1) * 24 < 14, 29.0, 18.0)
    if curve == "briere":
        rate = t * (t - 10) * np.sqrt(38 - t) / (25 * 15 * np.sqrt(13))
    else:
        rate = (t - 10) / 15
    progress = np.concatenate([[0], np.cumsum(rate)]) / 1440
    hatched = np.flatnonzero(np.isfinite(lives.entered[:, LARVAE]))
    assert hatched.size > 300
    for i in hatched[::10]:
        laid, hatch = np.rint(lives.entered[i, :2] * 1440).astype(int)
        assert progress[hatch] - progress[laid] == pytest.approx(13, abs=0.01)


def test_losses_follow_progress_and_heat():
    p = UNLIMITED | {"founding_rate": 30.0, "sigma_egg": 0.5, "heat_loss": 0.0}
    _, lives = simulate_lives(p, DAY_NIGHT[:40], 20, rng(), dt=0.5)
    early = lives.entered[:, EGGS] < 15
    reached = np.isfinite(lives.entered[early, LARVAE]).mean()
    assert reached == pytest.approx(0.5, abs=4 * 0.5 / np.sqrt(early.sum()))
    # Above the limit: 35 °C for 12 h a day is a mean excess of 1 °C, so a hazard of heat_loss.
    swing = np.tile(np.where(np.arange(24) < 12, 35.0, 20.0), (10, 1))
    p |= {"heat_limit_c": 33.0, "heat_loss": 0.2, "sigma_egg": 1.0, "egg_days": 1000.0}
    _, lives = simulate_lives(p, swing, 20, rng(), dt=0.5)
    for survived in (1.0, 3.0):
        young = lives.entered[:, EGGS] < 6
        alive = (lives.died - lives.entered[:, EGGS])[young] > survived
        assert alive.mean() == pytest.approx(np.exp(-0.2 * survived), abs=0.03)


def test_first_workers_are_quicker_and_shorter_lived():
    p = TYPICAL | {"pace_cv": 0.0, "worker_life_days": 10.0, "life_shape": 50.0}
    counts, lives = simulate_lives(p, STEADY_25, 100, rng())
    first_worker = counts[:, :, WORKERS].argmax(axis=1)
    founding = lives.entered[:, EGGS] < 20
    assert first_worker.min() >= 5 + 0.92 * 43 - 1
    youth = lives.entered[founding, WORKERS] - lives.entered[founding, EGGS]
    assert np.allclose(youth[np.isfinite(youth)], 0.92 * 43)
    done = founding & np.isfinite(lives.entered[:, WORKERS]) & np.isfinite(lives.died)
    age = lives.died[done] - lives.entered[done, WORKERS]
    assert np.median(age) == pytest.approx(6.0, abs=0.2)


def test_ageing_runs_by_its_q10():
    assert one_ant.ageing_clock(np.full((1, 24), 15.0), 2.0).at(1.0) == pytest.approx(0.5)
    assert one_ant.ageing_clock(np.full((1, 24), 35.0), 2.5).at(1.0) == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("brood", "workers", "rate"),
    [
        (0, 0, 3.0),
        (15, 0, 3.0 * (1 - 15 / 20)),
        (25, 0, 0.0),
        (22, 30, (3 + 0.25 * 30) * (1 - 22 / 110)),
        (610, 400, 80 * (1 - 610 / 1220)),
    ],
)
def test_laying_follows_brood_and_workers(brood, workers, rate):
    n, warm = 20_000, 28 * 18 * np.sqrt(10) / (25 * 15 * np.sqrt(13))
    counts = np.tile([brood - 2 * (brood // 3), brood // 3, brood // 3, workers], (n, 1))
    law = one_ant.OneAntLaw(TYPICAL, np.full((9, 24), 28.0), n, "briere")
    colony, laid = law.lay(7.0, 7.5, counts, rng())
    expected = rate * warm / 2
    assert colony.size / n == pytest.approx(expected, abs=4 * np.sqrt(expected / n))
    assert np.all((laid >= 7.0) & (laid <= 7.5))


# --- both laws ---------------------------------------------------------------------------------


@pytest.mark.parametrize("law", [simulate, other_laws.care_limited])
def test_counts_are_whole_never_negative_and_repeatable(law):
    once, again = (law(TYPICAL, DAY_NIGHT, 30, rng(7)) for _ in range(2))
    assert once.shape == (30, 70, 4) and np.issubdtype(once.dtype, np.integer)
    assert np.array_equal(once, again) and once.min() == 0 and once[:, -1, WORKERS].min() > 0
    assert not np.array_equal(once, law(TYPICAL, DAY_NIGHT, 30, rng(8)))


def test_individuals_are_conserved():
    counts, lives = simulate_lives(TYPICAL, DAY_NIGHT, 50, rng(), losses=[Loss(30.5, 0.5)])
    assert np.array_equal(recount(lives, 50, 70), counts)
    assert counts[:, -1].sum() == len(lives.died) - (lives.died <= 70).sum()
    assert np.all(lives.entered[:, 1:] >= lives.entered[:, :-1])
    assert np.all(lives.died > lives.entered[:, EGGS])


def test_a_loss_takes_its_share_of_the_brood_alone():
    for law in (simulate, other_laws.care_limited):
        whole, struck, emptied = (
            law(TYPICAL, STEADY_25[:60], 150, rng(), dt=0.5, losses=[Loss(59.99, fraction)])[:, 59]
            for fraction in (0.0, 0.6, 1.0)
        )
        ratio = struck.sum(axis=0) / whole.sum(axis=0)
        assert ratio == pytest.approx([0.4, 0.4, 0.4, 1.0], abs=0.06)
        assert emptied[:, :3].mean() < 0.2 and emptied[:, WORKERS].mean() > 5


def test_unknown_parameters_curves_and_steps_are_refused():
    with pytest.raises(ValueError, match="missing: .*pace_cv.* unknown: .*pase_cv"):
        wrong = {k: v for k, v in TYPICAL.items() if k != "pace_cv"} | {"pase_cv": 1}
        simulate(wrong, STEADY_25, 1, rng())
    with pytest.raises(ValueError, match="'sine'"):
        simulate(TYPICAL, STEADY_25, 1, rng(), curve="sine")
    with pytest.raises(ValueError, match="whole number of steps"):
        simulate(TYPICAL, STEADY_25, 1, rng(), dt=0.3)
    with pytest.raises(ValueError, match="spread of unknown parameters"):
        other_laws.draw_colony(TYPICAL, {"eggs": 0.1}, rng())


def test_the_other_law_is_another_law_but_not_another_species():
    steady = np.full((130, 24), 24.0)
    ours = simulate(TYPICAL, steady, 200, rng(), dt=0.25)
    other = other_laws.care_limited(TYPICAL, steady, 200, rng(), dt=0.25)
    brood = [c[:, :, :3].sum(axis=2).mean(axis=0) for c in (ours, other)]
    assert brood[1][:25].max() == pytest.approx(brood[0][:25].max(), rel=0.15)
    assert brood[1][-1] == pytest.approx(brood[0][-1], rel=0.3)
    arrival = [np.median(notes.days_to(c)) for c in (ours, other)]
    assert arrival[1] == pytest.approx(arrival[0], rel=0.15)
    # In kind: limited room makes our eggs scatter less than Poisson numbers, clutches make hers
    # scatter more; and her second clutch comes before there are workers.
    scatter = [c[:, 8, EGGS].var() / c[:, 8, EGGS].mean() for c in (ours, other)]
    assert scatter[0] < 0.9 and scatter[1] > 1.5
    second = [c[:, 40, EGGS].mean() / c[:, 20, EGGS].mean() for c in (ours, other)]
    assert second[1] > 2 * second[0]


def test_eggs_of_a_day_share_their_luck_when_overdispersed():
    long, n = np.full((120, 24), 25.0), 400
    colony = np.repeat(np.arange(n), 50)
    ratio = []
    for overdispersion in (0.0, 0.6):
        law = other_laws.CareLimitedLaw(
            TYPICAL, long, n, overdispersion, np.zeros(120, bool), rng()
        )
        times, _ = law.live(colony, np.full(colony.size, 0.3), np.zeros(colony.size), rng())
        grown = np.isfinite(times[:, 2]).reshape(n, 50).sum(axis=1)
        share = 0.85 * 0.9 * 0.95
        assert grown.mean() / 50 == pytest.approx(share, abs=0.03)
        ratio.append(grown.var() / (50 * share * (1 - share)))
    assert ratio[0] == pytest.approx(1.0, abs=0.3) and ratio[1] > 2


def test_overdispersion_winter_and_drawn_colonies():
    calm = other_laws.care_limited(TYPICAL, STEADY_25, 400, rng(), dt=0.5)
    wild = other_laws.care_limited(TYPICAL, STEADY_25, 400, rng(), dt=0.5, overdispersion=0.6)
    assert wild[:, 60, WORKERS].var() > 1.3 * calm[:, 60, WORKERS].var()

    cold, resting = other_laws.winter(STEADY_25, 45, 60)
    assert resting.sum() == 16 and cold[50, 3] == 8.0 and cold[61, 3] == 25.0
    counts = other_laws.care_limited(TYPICAL, cold, 200, rng(), resting=resting).sum(axis=0)
    assert np.all(np.diff(counts[45:60, LARVAE]) == 0)
    for stage in (EGGS, PUPAE):
        assert counts[60, stage] == pytest.approx(0.2 * counts[44, stage], rel=0.15)

    central = TYPICAL | {"sigma_egg": 0.9}
    drawn = other_laws.draw_colonies(central, {"all_days": 0.2, "sigma_egg": 0.5}, 4000, rng())
    assert np.allclose(drawn["egg_days"] / 13, drawn["pupa_days"] / 16)
    assert np.log(drawn["egg_days"]).std() == pytest.approx(0.2, rel=0.05)
    assert np.median(drawn["sigma_egg"]) == pytest.approx(0.9, abs=0.005)
    assert np.max(drawn["sigma_egg"]) < 1
    one = other_laws.draw_colony(central, other_laws.TYPICAL_SPREAD, rng())
    assert set(one) == set(TYPICAL) and all(isinstance(v, float) for v in one.values())
    assert simulate(drawn, STEADY_25[:10], 4000, rng()).shape == (4000, 10, 4)
