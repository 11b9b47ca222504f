"""The simulators are themselves held against closed forms before they judge anything."""

import ast
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from simulators import notes, one_ant, other_laws
from simulators.individuals import EGGS, LARVAE, PUPAE, WORKERS, Loss, recount
from simulators.one_ant import LAYS_LONGER_DAYS, TYPICAL, Weather, simulate, simulate_lives
from statistical.trials import LAW, central_values

import antgrowth as ag

STEADY_25 = np.full((70, 24), 25.0)
DAY_NIGHT = np.tile(np.where(np.arange(24) < 14, 29.0, 18.0), (70, 1))
PLAIN = TYPICAL | {"first_development": 1.0, "first_life": 1.0, "delay_days": 0.0}
# The queen lays steadily, nothing is eaten, and there is a place for all.
UNLIMITED = PLAIN | {
    "rate_per_worker": 0.0, "top_rate": 1e9, "eggs_eaten": 0.0, "places_alone": 1e9,
}  # fmt: skip
# Nothing happens of itself: no eggs, no deaths, no end of any stage.
STILL = UNLIMITED | {
    "founding_rate": 0.0, "pace_cv": 0.0, "egg_days": 1e9, "larva_days": 1e9, "pupa_days": 1e9,
    "sigma_egg": 1.0, "sigma_larva": 1.0, "sigma_pupa": 1.0, "worker_life_days": 1e9,
}  # fmt: skip
LAWS = (simulate, other_laws.care_limited, other_laws.crowded, other_laws.room_limited)


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
    # The formula above has one pace for life.
    p = UNLIMITED | {"worker_life_days": 20.0}
    n = 3000
    counts = simulate(p, STEADY_25, n, rng(), pace_for_life=True)
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


def test_each_stage_has_a_pace_of_its_own():
    p = UNLIMITED | {"founding_rate": 20.0, "sigma_larva": 1.0}
    _, lives = simulate_lives(p, STEADY_25, 30, rng())
    early = (lives.entered[:, EGGS] < 10) & np.isfinite(lives.entered[:, WORKERS])
    stay = np.diff(lives.entered[early], axis=1)
    # sigma < 1 takes no one's time, but the slow die more: 13 d x (1 + cv² log sigma).
    assert stay.mean(axis=0) == pytest.approx([13, 9, 16], rel=0.005)
    assert stay.std(axis=0) / stay.mean(axis=0) == pytest.approx([0.12] * 3, rel=0.05)
    assert np.abs(np.corrcoef(stay.T)[np.triu_indices(3, 1)]).max() < 4 / np.sqrt(early.sum())
    assert np.array_equal(lives.grew[early], lives.entered[early, LARVAE])
    _, lives = simulate_lives(p, STEADY_25, 30, rng(), pace_for_life=True)
    early = (lives.entered[:, EGGS] < 10) & np.isfinite(lives.entered[:, WORKERS])
    assert np.corrcoef(np.diff(lives.entered[early], axis=1).T).min() > 0.9999


@pytest.mark.parametrize("curve", ["briere", "degree_days"])
def test_stages_end_when_the_summed_rate_reaches_the_requirement(curve):
    p = UNLIMITED | {"pace_cv": 0.0, "founding_rate": 1.0}
    _, lives = simulate_lives(p, DAY_NIGHT, 20, rng(), dt=1 / 24, curve=curve)
    minute = np.arange(0, 70, 1 / 1440) + 0.5 / 1440
    t = np.where((minute % 1) * 24 < 14, 29.0, 18.0)
    if curve == "briere":
        rate = t * (t - 10) * np.sqrt(38 - t) / (25 * 15 * np.sqrt(13))
    else:
        rate = (t - 10) / 15
    progress = np.concatenate([[0], np.cumsum(rate)]) / 1440
    hatched = np.flatnonzero(np.isfinite(lives.entered[:, LARVAE]))
    assert hatched.size > 300
    assert progress[-1] > 60
    for i in hatched[::10]:
        laid, hatch = np.rint(lives.entered[i, :2] * 1440).astype(int)
        assert progress[hatch] - progress[laid] == pytest.approx(13, abs=0.01)


def test_losses_follow_progress_and_heat():
    p = UNLIMITED | {"founding_rate": 30.0, "sigma_egg": 0.5, "heat_loss": 0.0}
    _, lives = simulate_lives(p, DAY_NIGHT[:40], 20, rng(), dt=0.5)
    early = lives.entered[:, EGGS] < 15
    assert early.sum() > 5000
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
    p = TYPICAL | {"pace_cv": 0.0, "worker_life_days": 30.0, "life_shape": 50.0, "eggs_eaten": 0.0}
    p |= {"places_alone": 1e9, "founding_rate": 1.0}
    counts, lives = simulate_lives(p, np.full((110, 24), 25.0), 200, rng())
    day = (counts[:, :, WORKERS] > 0).argmax(axis=1)[lives.colony]
    laid, pupated, eclosed = (lives.entered[:, stage] for stage in (EGGS, PUPAE, WORKERS))
    grown = np.isfinite(eclosed)
    with np.errstate(invalid="ignore"):  # those that never eclosed
        youth, pupal, age = eclosed - laid, eclosed - pupated, lives.died - eclosed
    assert eclosed.min() >= 5 + 0.92 * 38
    # All that pupates before there is a worker is quicker throughout.
    first = grown & (pupated < day)
    assert first.sum() > 1000 and np.allclose(youth[first], 0.92 * 38)
    assert np.allclose(pupal[grown & (pupated > day + 1)], 16)
    assert np.median(age[first & (eclosed < 60)]) == pytest.approx(18.0, abs=0.2)
    then = grown & (pupated > day + 1) & (eclosed < 75)
    assert np.median(age[then]) == pytest.approx(30.0, abs=0.3)


def test_ageing_runs_by_its_q10():
    assert one_ant.ageing_clock(np.full((1, 24), 15.0), 2.0).at(1.0) == pytest.approx(0.5)
    assert one_ant.ageing_clock(np.full((1, 24), 35.0), 2.5).at(1.0) == pytest.approx(2.5)


@pytest.mark.parametrize(
    ("workers", "rate"),
    [(0, 80 * (1 - np.exp(-3 / 80))), (30, 80 * (1 - np.exp(-10.5 / 80))), (4000, 80.0)],
)
@pytest.mark.parametrize("brood", [0, 500])
def test_laying_follows_workers_and_warmth_whatever_brood_lies_there(workers, rate, brood):
    n, warm = 300, 28 * 18 * np.sqrt(10) / (25 * 15 * np.sqrt(13))
    p = TYPICAL | {"egg_days": 1e6, "pupa_days": 1e6, "delay_days": 0.5, "sigma_egg": 1.0}
    held = [brood, 0, brood, workers]
    counts = simulate(p, np.full((1, 24), 28.0), n, rng(), held=held, dt=0.5)
    laid = counts[:, 0, EGGS] - brood
    expected = rate * warm / 2
    assert laid.mean() == pytest.approx(expected, abs=4 * np.sqrt(expected / n))
    assert laid.var() == pytest.approx(expected, rel=5 * np.sqrt(2 / n))


def test_places_are_as_many_as_the_law_says():
    p = {name: np.array([value]) for name, value in TYPICAL.items()}
    assert one_ant.places(p, np.array([0])) == 14
    assert one_ant.places(p, np.array([63])) == pytest.approx(14 + 2 * (64**0.9 - 1))


def test_larvae_take_places_at_random_and_a_place_becomes_free_with_each_worker():
    # 14.3 places, far more larvae: all places are taken at once, by 14 or 15 of the 60.
    p = STILL | {"places_alone": 14.3, "pupa_care": 0.5, "larva_days": 10.0, "pupa_days": 20.0}
    counts, lives = simulate_lives(p, STEADY_25, 2000, rng(), held=[60, 60, 0, 0])
    grows = lives.grew == 0
    number = np.bincount(lives.colony[grows], minlength=2000)
    assert set(number) == {14, 15}
    assert number.mean() == pytest.approx(14.3, abs=4 * 0.5 / np.sqrt(2000))
    # Rows are eggs, then larvae, by colony: each of its 60 larvae has the same chance.
    assert not grows[:120_000].any()
    chance = grows[120_000:].reshape(2000, 60).mean(axis=0)
    assert np.all(np.abs(chance - 14.3 / 60) < 4.5 * 0.43 / np.sqrt(2000))
    # Never more than there is room for; with half a place to a pupa, 28.6 of them fill it.
    pupa = (lives.entered[:, PUPAE] <= 15) & (lives.entered[:, WORKERS] > 15)
    grows = (lives.grew <= 15) & (lives.entered[:, PUPAE] > 15)
    load = np.bincount(lives.colony[grows], minlength=2000) + 0.5 * counts[:, 14, PUPAE]
    assert pupa.sum() == counts[:, 14, PUPAE].sum()
    assert load.max() <= 15.3 and load.mean() == pytest.approx(14.3, abs=0.15)
    # No larva but those dies or goes; all in all each is accounted for.
    assert np.all(counts[:, 69].sum(axis=1) == 120)


def test_eggs_are_eaten_by_the_law_and_the_fewer_there_are_the_fewer():
    # dE/dt = -e r L E / (E + 30) has E + 30 log E fall by e r L t.
    p = STILL | {"places_alone": 20.0, "eggs_eaten": 0.5}
    for held in ([4000, 400, 0, 0], [300, 100, 0, 0]):
        counts = simulate(p, STEADY_25[:30], 100, rng(), held=held)
        eggs = counts[:, :, EGGS].mean(axis=0)
        expected = held[0] + 30 * np.log(held[0]) - 0.5 * held[1] * np.arange(1, 31)
        well = np.flatnonzero(eggs > 60)
        assert well.size >= 4
        found = eggs[well] + 30 * np.log(eggs[well])
        # Eggs eaten scatter like Poisson numbers, at most.
        error = np.sqrt(0.5 * held[1] * (well + 1) / 100)
        assert np.all(np.abs(found - expected[well]) < 3.5 * error + 1.5)
        assert np.all(counts[:, :, LARVAE] == held[1])
    cool = np.full((4, 24), 17.0)
    slow = 17 * 7 * np.sqrt(21) / (25 * 15 * np.sqrt(13))
    eaten = 4000 - simulate(p, cool, 40, rng(), held=[4000, 400, 0, 0])[:, -1, EGGS].mean()
    assert eaten == pytest.approx(4 * 0.5 * slow * 400 * 4000 / 4030, rel=0.03)


def test_stages_end_on_time_when_nothing_is_scarce():
    p = UNLIMITED | {"pace_cv": 0.0, "sigma_egg": 1.0, "sigma_larva": 1.0, "sigma_pupa": 1.0}
    _, lives = simulate_lives(p, STEADY_25, 20, rng())
    old = lives.entered[:, EGGS] < 70 - 38
    assert np.allclose(np.diff(lives.entered[old], axis=1), [13, 9, 16])
    assert not (lives.died[old] <= lives.entered[old, WORKERS]).any()


def test_ants_there_at_the_start_have_ages_spread_evenly():
    p = STILL | {"egg_days": 10.0, "larva_days": 10.0, "pupa_days": 10.0}
    p |= {"worker_life_days": 100.0, "life_shape": 2.0}
    counts = simulate(p, STEADY_25[:12], 400, rng(), held=[50, 0, 50, 50])
    gone = np.minimum(np.arange(1, 13) / 10, 1)
    assert 1 - counts[:, :, EGGS].mean(axis=0) / 50 == pytest.approx(gone, abs=0.01)
    # From day 10 on there are pupae that were eggs.
    assert 1 - counts[:, :10, PUPAE].mean(axis=0) / 50 == pytest.approx(gone[:10], abs=0.01)
    # Of age a, exp(-((a + 5)^2 - a^2) / 100^2) live 5 days more; a is up to 50.
    old = np.linspace(0, 50, 5001)
    living = np.exp((old**2 - (old + 5) ** 2) / 100**2).mean()
    only = simulate(p, STEADY_25[:12], 400, rng(), held=[0, 0, 0, 50])
    assert only[:, 4, WORKERS].mean() / 50 == pytest.approx(living, abs=0.005)
    # Larvae: as many grow as find places, the rest wait.
    p = STILL | {"larva_days": 10.0, "places_alone": 8.0, "pupa_care": 1.0}
    counts = simulate(p, STEADY_25[:12], 400, rng(), held=[0, 30, 0, 0])
    assert counts[:, :, PUPAE].mean(axis=0) == pytest.approx(8 * gone, abs=0.2)


# --- the season --------------------------------------------------------------------------------


def test_the_season_ends_for_laying_and_larvae_but_not_for_eggs_and_pupae():
    p = PLAIN | {"season_days": 40.0, "pace_cv": 0.0, "fasting": 1.0}
    p |= {"sigma_egg": 1.0, "sigma_larva": 1.0}
    _, lives = simulate_lives(p, STEADY_25, 50, rng(), season="endogenous", since_spring=10.0)
    end = 30.0
    laid, last = lives.entered[:, EGGS], end + LAYS_LONGER_DAYS
    assert (laid < last).sum() > 1000
    late = laid > last
    # A logistic tail of width 1.5 d holds as much as 1.5 log 2 = 1.04 full days.
    before = (laid > last - 15) & (laid < last - 5)
    assert late.sum() / before.sum() == pytest.approx(0.104, rel=0.25)
    assert not np.any(np.isfinite(lives.grew) & (lives.grew > end))
    pupated = lives.entered[:, PUPAE]
    assert (pupated < end).sum() > 100
    assert not np.any(np.isfinite(pupated) & (pupated > end + 8))
    assert np.any(np.isfinite(lives.entered[:, LARVAE]) & (lives.entered[:, LARVAE] > end + 10))
    eclosed = np.isfinite(lives.entered[:, WORKERS]) & (pupated > end - 5) & (pupated < end)
    pupal = lives.entered[eclosed, WORKERS] - pupated[eclosed]
    assert eclosed.any() and np.allclose(pupal, 16)
    # Larvae that fast eat nothing: all eggs that are left hatch.
    eggs = np.isinf(lives.entered[:, LARVAE]) & (lives.entered[:, EGGS] < 70 - 13)
    assert np.sum(eggs & (lives.died < end)) > 100
    assert not np.any(eggs & (lives.died > end + 15))


def test_a_rest_opens_the_season_again_first_for_larvae_and_later_for_laying():
    hours = np.full((220, 24), 25.0)
    cold, resting = other_laws.winter(hours, 60, 100)
    p = TYPICAL | {"season_days": 50.0, "fasting": 1.0, "rest_larva": 1.0}
    _, lives = simulate_lives(p, cold, 100, rng(), season="endogenous", resting=resting)
    laid, grew, spring = lives.entered[:, EGGS], lives.grew, 101.0
    assert not np.any((laid > 60) & (laid < spring))
    # The gate is half open at 25 days.
    daily = np.histogram(laid - spring, np.arange(0, 46, 5))[0]
    assert daily[0] < 0.02 * daily[7]
    assert daily[4:6].sum() / daily[6:8].sum() == pytest.approx(0.5, abs=0.12)
    # Half open at 10 days: those that wait take their places then.
    woken = grew[np.isfinite(grew) & (grew > 60)]
    assert woken.min() == pytest.approx(spring + 10, abs=0.3)
    again = laid > spring
    assert (laid[again] > spring + 50 + 9).mean() < 0.002  # exp(-9 / 1.5) is the gate's tail
    # A colony that never rests stays shut.
    counts = simulate(TYPICAL, hours, 20, rng(), season="endogenous", since_spring=170.0)
    assert counts[:, 80:, :3].sum(axis=2).max() <= counts[:, 60, LARVAE].max()
    assert np.all(counts[:, 80:, [EGGS, PUPAE]] == 0)


def test_a_season_that_goes_by_warmth_ends_when_ten_days_are_cool():
    # Ten days from day 33 on have a mean below 15 °C for the first time at 3 of 25 + 7 of 10 °C.
    falling = np.vstack([np.full((40, 24), 25.0), np.full((30, 24), 10.0)])
    p = {name: np.array([value]) for name, value in TYPICAL.items()}
    gate = one_ant.Season("exogenous", p, Weather.of(falling, TYPICAL), 0.0)
    assert gate.gates(30.0)[1] == pytest.approx(1.0, abs=1e-5)
    assert gate.gates(47.0)[0] == pytest.approx(0.5)
    assert gate.gates(60.0)[1] < 1e-3
    mild = one_ant.Season("exogenous", p, Weather.of(falling + 6, TYPICAL), 0.0)
    assert mild.gates(69.9)[1] == 1.0
    rising = np.vstack([falling, np.full((30, 24), 25.0)])
    gate = one_ant.Season("exogenous", p, Weather.of(rising, TYPICAL), 0.0)
    assert gate.gates(99.0)[1] < 1e-3  # warmth alone does not open it again
    rested = Weather.of(rising, TYPICAL, resting=np.arange(100) // 10 == 6)
    assert one_ant.Season("exogenous", p, rested, 0.0).gates(99.0)[1] > 0.99


def test_a_rest_takes_its_share_of_each_stage_within_thirty_days():
    cold, resting = np.full((60, 24), 5.0), np.arange(60) >= 10
    p = STILL | {"places_alone": 20.0}
    counts = simulate(p, cold, 400, rng(), held=[50, 50, 50, 50], resting=resting).mean(axis=0)
    assert np.all(counts[9] == 50)
    assert counts[24] == pytest.approx(50 * np.array([0.05, 0.7, 0.05, 1]) ** 0.5, rel=0.03)
    assert counts[39] == pytest.approx([2.5, 35, 2.5, 50], rel=0.05)
    assert np.array_equal(counts[59], counts[39])


def test_the_luck_of_the_nest_has_mean_one_and_a_memory():
    luck = one_ant.Drift((0.5, 0.3, 0.0), 20_000, 0.5, rng())
    first = luck.step()
    for _ in range(30):
        later = luck.step()
    assert first.mean(axis=1) == pytest.approx([1, 1, 1], abs=0.02)
    assert later.mean(axis=1) == pytest.approx([1, 1, 1], abs=0.02)
    assert np.log(later).std(axis=1) == pytest.approx([0.5, 0.3, 0.0], abs=0.01)
    kept = [np.corrcoef(np.log(first[i]), np.log(later[i]))[0, 1] for i in (0, 1)]
    assert kept == pytest.approx([np.exp(-1), np.exp(-0.75)], abs=0.02)
    # Lucky nests lay more, so that brood scatters more than chance alone lets it.
    p = UNLIMITED | {"founding_rate": 20.0}
    calm, wild = (
        simulate(p, STEADY_25[:12], 500, rng(), drift=d)[:, -1, EGGS]
        for d in ((0, 0, 0), one_ant.DRIFT)
    )
    assert wild.var() > 10 * calm.var()
    assert wild.mean() == pytest.approx(calm.mean(), rel=0.08)


def test_weather_may_be_given_as_rates():
    n = np.full(70, 1.0)
    same = Weather(n, n, n, n, n, 0 * n, 25 * n, np.zeros(70, bool))
    once, again = (simulate(TYPICAL, w, 20, rng()) for w in (same, STEADY_25))
    assert np.array_equal(once, again)
    quick = Weather(2 * n, n, n, n, n, 0 * n, 25 * n, np.zeros(70, bool))
    p = UNLIMITED | {"pace_cv": 0.0}
    _, lives = simulate_lives(p, quick, 5, rng())
    old = np.isfinite(lives.entered[:, PUPAE])
    assert old.any() and np.allclose(np.diff(lives.entered[old], axis=1)[:, :2], [6.5, 9])


def test_shorter_steps_change_little():
    hours = np.full((100, 24), 24.0)
    days = [40, 60, 80, 99]
    coarse, fine = (
        simulate(TYPICAL, hours, 1500, rng(), dt=dt)[:, days].mean(axis=0) for dt in (0.25, 1 / 12)
    )
    assert coarse == pytest.approx(fine, rel=0.03, abs=0.2)


# --- all laws ----------------------------------------------------------------------------------


@pytest.mark.parametrize("law", LAWS)
def test_counts_are_whole_never_negative_and_repeatable(law):
    once, again = (law(TYPICAL, DAY_NIGHT, 30, rng(7)) for _ in range(2))
    assert once.shape == (30, 70, 4) and np.issubdtype(once.dtype, np.integer)
    assert np.array_equal(once, again) and once.min() == 0 and once[:, -1, WORKERS].min() > 0
    assert not np.array_equal(once, law(TYPICAL, DAY_NIGHT, 30, rng(8)))


def test_individuals_are_conserved():
    cold, resting = other_laws.winter(np.tile(DAY_NIGHT, (2, 1)), 75, 100)
    harder = TYPICAL | {"season_days": 60.0, "heat_limit_c": 28.0}
    for hours, p, options in (
        (DAY_NIGHT, TYPICAL, {}),
        (cold, harder, {"resting": resting, "season": "endogenous", "drift": one_ant.DRIFT}),
        (cold, harder, {"resting": resting, "season": "exogenous", "held": [9, 9, 9, 9]}),
    ):
        lost = [Loss(30.5, 0.5), Loss(50.0, 0.3, (LARVAE, WORKERS), over_days=9.0)]
        counts, lives = simulate_lives(p, hours, 50, rng(), losses=lost, **options)
        days = len(hours)
        assert np.array_equal(recount(lives, 50, days), counts)
        assert counts[:, -1].sum() == len(lives.died) - (lives.died <= days).sum()
        there = np.isfinite(lives.entered)
        assert np.all(there[:, :-1] | ~there[:, 1:])  # no stage is left out
        for one, next_one in ((EGGS, LARVAE), (LARVAE, PUPAE), (PUPAE, WORKERS)):
            on = there[:, next_one]
            assert np.all(lives.entered[on, next_one] >= lives.entered[on, one])
        last = np.where(there, lives.entered, 0).max(axis=1)
        assert np.all(last <= lives.died) and np.all(lives.died > lives.entered[:, EGGS])
        grew = np.isfinite(lives.grew)
        assert np.all(lives.grew[grew] >= lives.entered[grew, LARVAE])
        pupated = there[:, PUPAE] & (lives.entered[:, PUPAE] > 0)
        assert np.all(lives.grew[pupated] < lives.entered[pupated, PUPAE])


def test_a_loss_takes_its_share_of_the_brood_alone():
    for law in LAWS:
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
    with pytest.raises(ValueError, match="'summer'"):
        simulate(TYPICAL, STEADY_25, 1, rng(), season="summer")
    with pytest.raises(ValueError, match="spread of unknown parameters"):
        other_laws.draw_colony(TYPICAL, {"eggs": 0.1}, rng())


def test_the_other_laws_are_other_laws_but_not_another_species():
    steady = np.full((165, 24), 24.0)
    counts = {law.__name__: law(TYPICAL, steady, 200, rng(), dt=0.25) for law in LAWS}
    arrival = {name: np.median(notes.days_to(c)) for name, c in counts.items()}
    for name in arrival:
        assert arrival[name] == pytest.approx(arrival["simulate"], rel=0.1), name
    # In kind: eggs laid one by one scatter like Poisson numbers; limited room makes them scatter
    # less and clutches more.
    scatter = {n: c[:, 8, EGGS].var() / c[:, 8, EGGS].mean() for n, c in counts.items()}
    assert scatter["simulate"] == pytest.approx(1.0, abs=0.3)
    assert scatter["room_limited"] < 0.9 and scatter["care_limited"] > 2
    # By the calendar the eggs run out in August, while others lay more than ever.
    eggs = {n: c[:, :, EGGS].mean(axis=0) for n, c in counts.items()}
    assert eggs["crowded"][164] < 0.5 * eggs["crowded"].max()
    for name in ("simulate", "care_limited", "room_limited"):
        assert eggs[name][164] > 0.9 * eggs[name].max()


def test_nor_are_they_by_the_numbers_of_the_ant_of_the_study():
    central = central_values(ag.load_species("lasius-niger"), TYPICAL)
    steady = np.full((260, 24), 24.0)
    own = np.median(notes.days_to(simulate(central, steady, 200, rng(), **LAW, dt=0.25)))
    for law in LAWS[1:]:
        other = np.median(notes.days_to(law(central, steady, 200, rng(), dt=0.25)))
        assert other == pytest.approx(own, rel=0.1), law.__name__


def test_the_length_of_day():
    # Greenwich gets 12 h at the equinoxes; 50° N about 16.1 h and 7.9 h at the solstices (sunset
    # angle, refraction left out; common knowledge).
    assert other_laws.day_length(50.0, np.array([80, 264])) == pytest.approx([12, 12], abs=0.15)
    assert other_laws.day_length(50.0, np.array([172, 355])) == pytest.approx([16.2, 7.8], abs=0.15)
    assert other_laws.day_length(0.0, np.arange(365)) == pytest.approx(np.full(365, 12.0))


def test_crowded_colonies_go_by_the_calendar_and_wake_by_warmth():
    hours = np.full((420, 24), 24.0)
    cold, resting = other_laws.winter(hours, 210, 350)
    counts = other_laws.crowded(TYPICAL, cold, 60, rng(), resting=resting).mean(axis=0)
    # The young larvae of late summer stand still over the winter, and pupate before new eggs come.
    assert counts[205, EGGS] < 0.1 and counts[205, PUPAE] < 0.1
    assert counts[205, LARVAE] > 50 and counts[345, LARVAE] == counts[205, LARVAE]
    assert counts[365:376, PUPAE].max() > 10 and counts[351:360, EGGS].max() < 1
    assert counts[419, EGGS] > 50
    # Without the rest they do not begin again within the winter.
    warm = other_laws.crowded(TYPICAL, hours, 60, rng()).mean(axis=0)
    assert warm[180:300, EGGS].max() < 5


def test_larvae_in_a_crowd_grow_slowly_but_grow():
    p = TYPICAL | {"eggs_eaten": 0.0, "sigma_larva": 1.0}
    wait = {}
    for alone in (5.0, 500.0):
        counts = other_laws.crowded(p | {"places_alone": alone}, STEADY_25, 60, rng())
        wait[alone] = counts[:, :, PUPAE].mean(axis=0)[30]
    assert 0.05 * wait[500.0] < wait[5.0] < 0.5 * wait[500.0]


def test_laying_into_limited_room_is_a_pure_death_process_of_the_room():
    # Without deaths or hatching, each of K places is filled at rate q / K: B is binomial.
    p = PLAIN | {"sigma_egg": 1.0, "delay_days": 2.0}
    law = other_laws.RoomLimitedLaw(p, STEADY_25[:12], 3000)
    room = law.room[0]
    counts = other_laws.room_limited(p, STEADY_25[:12], 3000, rng(), dt=1 / 48)
    eggs = counts[:, :, EGGS]
    filled = 1 - np.exp(-3.0 * np.maximum(0, np.arange(1, 11) - 2) / room)
    mean, variance = room * filled, room * filled * (1 - filled)
    assert np.all(eggs[:, :2] == 0)
    assert np.allclose(eggs[:, :10].mean(axis=0), mean, atol=4 * np.sqrt(room / 4 / 3000) + 0.03)
    assert np.allclose(eggs[:, 3:10].var(axis=0), variance[3:], rtol=0.12)
    assert eggs.max() <= room + 1


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
        # E(sigma^f) for a gamma frailty f of mean 1 and variance v.
        v = max(overdispersion**2, 1e-9)
        share = (1 - v * np.log(0.9 * 0.6 * 0.95)) ** (-1 / v)
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
