"""The joint fit to published figures: targets traceable, studies the product's own, numbers recovered."""

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from evidence import emulator, near, posterior, sampler, vectors
from evidence import fit as fitting
from evidence.differing import DIFFERENCES, Differences, chains, deviation, place_of
from evidence.parameters import BEFORE, NAMES, PRIORS, numbers_of, trade_of, values_of
from evidence.posterior import check
from evidence.predict import predict, tables
from evidence.simulate import Size, blocks, either, lonely, run, trials
from evidence.targets import Target, load
from proofs.programmes_published import IPM, TRIALS, USUAL
from proofs.programmes_published import run as product_run
from spread.posterior.dynamics import central_dynamics
from spread.programmes.columns import METHODS, TREATMENTS
from spread.programmes.tables import tables_of
from spread.trade import biology, building_stock, detection, priors, routes, seeing
from spread.trade.arrays import centrals
from spread.trade.joint import PLACE, joint
from spread.trade.registry import LOOKING
from spread.trade.registry import TREATMENTS as TREATMENT_ROWS

ROOT = Path(__file__).parent.parent
TARGETS = {t.key: t for t in load()}
SPRAY = TREATMENTS.index("spray")
SMALL = Size(chronic=3, began=3, outbreak=4, blocks=6, trials=3)


def test_every_target_says_where_it_is_from_and_what_was_read():
    for t in TARGETS.values():
        assert re.search(r"\b(19|20)\d\d\b", t.source), t.key
        assert t.read, t.key
        assert t.infested, t.key
        assert t.building, t.key
        if t.kind == "count" and t.use != "listed":
            assert t.n > 0, t.key
    studies = {t.study for t in TARGETS.values() if t.use == "fitted"}
    assert len(studies) >= 8


def test_what_is_from_memory_or_without_a_reason_is_refused():
    base = {f: getattr(TARGETS["S13"], f) for f in TARGETS["S13"].__dataclass_fields__}
    with pytest.raises(ValueError, match="from memory"):
        Target(**{**base, "known": "M"})
    with pytest.raises(ValueError, match="says why"):
        Target(**{**base, "use": "listed", "why": ""})
    with pytest.raises(ValueError, match="kind"):
        Target(**{**base, "kind": "guess"})


def test_trials_are_those_of_the_published_programmes():
    for name, _, _, weeks, _, gone, units, _ in TRIALS:
        t = TARGETS[name]
        assert t.weeks == weeks, name
        if name not in ("V15 <= 10 bugs",):
            assert round(t.value * t.n) == gone, name
            assert t.n == units, name


def test_likelihoods_against_an_outside_library():
    stats = pytest.importorskip("scipy.stats")
    s13, ever = TARGETS["S13"], TARGETS["wang2010-ever"]
    assert s13.loglik(0.4, 0.0) == pytest.approx(stats.binom.logpmf(3, 9, 0.4))
    assert math.isfinite(s13.loglik(0.0, 0.0))
    assert s13.off(1.0 / 3.0, 0.0) == pytest.approx(0.0)
    assert s13.off(0.5, 0.0) == pytest.approx((1 / 3 - 0.5) / math.sqrt(0.25 / 9))
    assert ever.loglik(0.5, 0.1) == pytest.approx(stats.norm.logpdf(0.453, 0.5, math.hypot(0.1, 0.005)))
    odds = TARGETS["fung2021-neighbour"]
    assert odds.loglik(math.log(3.32), 0.0) > odds.loglik(0.0, 0.0)


CENTRE = {**joint().centre, "between": 1e-9}


def test_every_number_that_is_shipped_is_the_centre_of_the_draws():
    """Rounded as it is written down: two digits, growth three; the mix to per cent."""
    numbers = numbers_of(CENTRE)

    def two(values):
        return [float(f"{x:.2g}") for x in np.atleast_1d(values)]

    assert routes.rates().tolist() == two(numbers.routes)
    assert [routes.BROUGHT_IN.central] == two(numbers.brought_in)
    assert [routes.MIXING.central] == two(numbers.mixing)
    assert float(f"{numbers.growth:.3g}") == biology.GROWTH_PER_DAY.central
    assert centrals(biology.DECLINE_PER_WEEK).tolist() == two(numbers.decline)
    assert biology.shedding()[1:].tolist() == two(numbers.shedding)
    assert detection.report_chance().tolist() == two(numbers.report)
    for key, values in (
        ("brief-visual", numbers.look),
        ("thorough-visual", numbers.thorough),
        ("interceptors", numbers.traps),
        ("interview", numbers.interview),
    ):
        assert [level.central for level in LOOKING[key].sensitivity] == two(values), key
    assert len(numbers.elimination) == 3
    for key, values in numbers.elimination.items():
        assert [level.central for level in TREATMENT_ROWS[key].elimination] == two(values), key
    assert [seeing.RESISTS.central] == two(CENTRE["resists"])
    assert building_stock.level_mix().tolist() == [round(x, 2) for x in joint().mix]


def test_what_is_learned_of_a_building_begins_from_the_draws_and_what_differs_between_buildings():
    """Ranges of the rates: 5 to 95 % of a new building; of routes but walls, wider by what is theirs."""
    rng = np.random.default_rng(1)
    at = {name: np.tile(values, 100) for name, values in joint().values.items()}
    spread = at["between"]
    own, pace = np.exp(spread * rng.standard_normal((2, len(spread))) - 0.5 * spread**2)
    numbers = numbers_of({**CENTRE, "routes": 1.0, "brought_in": 1.0, "mixing": 1.0})
    pace = pace * at["routes"]
    for number, values in (
        (routes.BROUGHT_IN, numbers.brought_in * at["brought_in"] * own),
        (routes.MIXING, numbers.mixing * at["mixing"] * pace),
        (routes.BY_KEY["wall"].rate, numbers.routes[0] * pace),
    ):
        assert [number.low, number.high] == pytest.approx(np.quantile(values, [0.05, 0.95]), rel=0.05)
    wall = routes.BY_KEY["wall"].rate
    for key, row in routes.BY_KEY.items():
        assert row.rate.high / row.rate.low >= wall.high / wall.low, key
    shape, rate = priors.gamma_prior(wall)
    draws = rng.standard_gamma(shape, 20000) / rate
    assert np.quantile(draws, [0.05, 0.95]) == pytest.approx([wall.low, wall.high], rel=0.15)
    for number, name in ((biology.GROWTH_PER_DAY, "growth"), (seeing.RESISTS, "resists")):
        ends = np.quantile(joint().values[name], [0.05, 0.95])
        assert [number.low, number.high] == pytest.approx(ends, rel=0.03), name
    share = rng.beta(*(seeing.RESISTS.central * 10.0, (1 - seeing.RESISTS.central) * 10.0), 20000)
    assert np.quantile(share, [0.05, 0.95]) == pytest.approx(
        [seeing.RESISTS.low, seeing.RESISTS.high], abs=0.03
    ), "the sampler's prior has the width of the draws"


def test_at_the_centre_the_tables_are_the_products_but_for_rounding():
    trade, product = trade_of(CENTRE), tables_of(central_dynamics())
    thorough = METHODS.index("thorough-visual")
    for name in product._fields:
        mine, theirs = np.array(getattr(trade.tables, name)), np.array(getattr(product, name))
        if name in ("found", "likely"):
            mine[thorough], theirs[thorough] = 0.0, 0.0
        np.testing.assert_allclose(mine, theirs, rtol=0.05, atol=0.006, err_msg=name)
    dynamics = central_dynamics()
    np.testing.assert_allclose(
        trade.rates, [dynamics.brought_in, dynamics.mixing, *dynamics.rates], rtol=0.05
    )
    np.testing.assert_allclose(
        trade.rates_of(3, np.random.default_rng(1)), np.tile(trade.rates, (3, 1)), rtol=1e-6
    )


def test_a_run_is_the_products_run():
    """The same tables into both: what the fit simulates is what the package simulates."""
    network, product = lonely(), tables_of(central_dynamics())
    dynamics = central_dynamics()
    levels = np.tile(np.array([0, 1, 2, 3, 4, 0] * 2, np.int8), (8, 1))
    rates = np.tile([dynamics.brought_in, dynamics.mixing, *dynamics.rates], (8, 1))
    for programme in (USUAL, IPM):
        mine = run(network, product, rates, programme, levels, weeks=40, seed=3)
        theirs = product_run(network, central_dynamics(), programme, levels, weeks=40, seed=3).runs[0]
        np.testing.assert_array_equal(mine.infested, theirs.infested)
        np.testing.assert_array_equal(mine.counts, theirs.counts)


def test_each_parameter_moves_what_it_is_named_for():
    base = trade_of(BEFORE)
    assert trade_of({**BEFORE, "growth": 0.02}).tables.growth[0, 1, 2] < base.tables.growth[0, 1, 2]
    heavy = trade_of({**BEFORE, "dying_heavy": 3.0}).tables.growth[0]
    assert heavy[4, 3] == pytest.approx(0.03)
    assert heavy[1, 0] == base.tables.growth[0, 1, 0]
    assert np.all(either(trade_of({**BEFORE, "look": -1.0}).tables)[1:] < either(base.tables)[1:])
    spray = trade_of({**BEFORE, "spray": 1.0}).usual.effect - base.usual.effect
    assert (np.abs(spray).sum(axis=(1, 2)) > 0).sum() == 1
    resists = trade_of({**BEFORE, "resists": 0.3})
    np.testing.assert_allclose(
        resists.tables.effect, 0.7 * resists.usual.effect + 0.3 * resists.stubborn.effect
    )
    for u in (np.zeros(len(NAMES)), np.full(len(NAMES), 3.0), np.full(len(NAMES), -3.0)):
        trade = trade_of(values_of(u))
        for matrix in (*trade.tables.growth, *trade.tables.effect):
            np.testing.assert_allclose(matrix.sum(axis=1), 1.0)
            assert matrix.min() >= -1e-12


def test_studies_answer_every_target_they_are_for_and_repeat_by_seed():
    trade = trade_of(values_of(np.zeros(len(NAMES))))
    got = {**blocks(trade, SMALL, 1, np.random.default_rng(1)), **trials(trade, SMALL, 1)}
    again = {**blocks(trade, SMALL, 1, np.random.default_rng(1)), **trials(trade, SMALL, 1)}
    assert got == again
    wanted = {
        key for key, t in TARGETS.items()
        if t.use != "listed" and (key.startswith(("wang2016", "fung")) or key in {row[0] for row in TRIALS})
    }  # fmt: skip
    assert wanted <= set(got)
    for key in wanted:
        assert math.isfinite(TARGETS[key].loglik(*got[key])), key


def fit_toy(loglik_of, dim, rounds, draws, seed=1):
    """Run the sampler on a likelihood that costs nothing."""
    mixtures = [sampler.first_round(dim, draws)]
    u, loglik = np.zeros((0, dim)), np.zeros(0)
    for k in range(rounds):
        new = mixtures[-1].draw(np.random.default_rng([seed, k]))
        u, loglik = np.concatenate([u, new]), np.concatenate([loglik, loglik_of(new)])
        if k < rounds - 1:
            mixtures.append(sampler.next_round(u, loglik, draws, np.random.default_rng([seed, k, 9])))
    return u, loglik, mixtures


def test_the_sampler_recovers_a_posterior_known_by_hand():
    """Normal prior, four normal readings of u0 + u1 and of u0 - u1: the posterior is conjugate."""
    a, sd = np.array([[1.0, 1.0, 0.0, 0.0], [1.0, -1.0, 0.0, 0.0]]), 0.3
    y = np.array([1.0, -1.6])

    def loglik(u):
        return -0.5 * (((u @ a.T - y) / sd) ** 2).sum(axis=1)

    precision = np.eye(4) + a.T @ a / sd**2
    mean, cov = np.linalg.solve(precision, a.T @ y / sd**2), np.linalg.inv(precision)
    means, covs = [], []
    for seed in range(4):
        u, ll, mixtures = fit_toy(loglik, 4, rounds=6, draws=4000, seed=seed)
        power, w = sampler.hottest(u, ll, mixtures, 50.0)
        assert power == 1.0
        means.append(w @ u)
        covs.append((u - w @ u).T @ ((u - w @ u) * w[:, None]))
    np.testing.assert_allclose(np.mean(means, axis=0), mean, atol=0.1)
    np.testing.assert_allclose(np.mean(covs, axis=0), cov, atol=0.12)


def test_the_power_falls_below_one_where_draws_are_too_few():
    u, ll, mixtures = fit_toy(lambda u: -500.0 * (u**2).sum(axis=1), 6, rounds=1, draws=100)
    power, w = sampler.hottest(u, ll, mixtures, 50.0)
    assert 0.0 < power < 1.0
    assert sampler.effective(w) >= 50.0
    assert sampler.effective(sampler.weights(u, ll, mixtures, 1.13 * power)) < 50.0


def test_known_parameters_are_recovered_from_synthetic_trials():
    """A simulated set of trials with strong sprays: the fit finds the strength it was made with."""
    truth = 1.5
    # No simulator's luck here: the trials' elimination by a first visit, by hand from the matrices.
    place = NAMES.index("spray")

    def shares(u):
        trade = trade_of(values_of(u))
        return np.linalg.matrix_power(trade.usual.effect[SPRAY], 6)[1:4, 0]

    u_true = np.zeros(len(NAMES))
    u_true[place] = truth
    n, k = 400, np.round(400 * shares(u_true))

    def loglik(us):
        full = np.zeros((len(us), len(NAMES)))
        full[:, place] = us[:, 0]
        p = np.clip(np.array([shares(u) for u in full]), 1e-4, 1 - 1e-4)
        return (k * np.log(p) + (n - k) * np.log1p(-p)).sum(axis=1)

    u, ll, mixtures = fit_toy(loglik, 1, rounds=3, draws=60)
    w = sampler.weights(u, ll, mixtures)
    mean = float(w @ u[:, 0])
    sd = float(np.sqrt(w @ (u[:, 0] - mean) ** 2))
    assert abs(mean - truth) < 3 * sd
    assert sd < 0.4


def test_a_stopped_fit_goes_on_as_if_it_had_not_been(tmp_path, monkeypatch):
    def row(u):
        return {"summaries": {}, "loglik": {t.key: -float(np.sum(np.square(u))) for t in TARGETS.values()}}

    def all_of(header, rounds):
        draws = fitting.Draws(header, [])
        for number in range(rounds):
            mixtures = draws.whole(tuple(TARGETS.values()))[2]
            vectors = mixtures[-1].draw(np.random.default_rng([header["seed"], number, 1]))
            for place, u in enumerate(vectors):
                draws.rows.append({"round": number, "place": place, "u": u.tolist(), **row(u)})
        return draws

    header = fitting.header_of(20, "", 1)
    whole = all_of(header, 2)
    file = tmp_path / "draws.jsonl"
    lines = [json.dumps(x) for x in (header, *whole.rows)]
    file.write_text("\n".join(lines)[:-5])  # the last line was cut off
    back = fitting.read(file)
    assert len(back.rows) == len(whole.rows) - 1
    u, _, mixtures, rows = back.whole(tuple(TARGETS.values()))
    assert len(u) == len(rows) == 20
    again = mixtures[-1].draw(np.random.default_rng([1, 1, 1]))
    np.testing.assert_array_equal(again[-1], whole.rows[-1]["u"])
    monkeypatch.setattr(fitting, "code_hash", lambda: "other")
    with pytest.raises(SystemExit, match="other code"):
        fitting.fit(file, hours=1e-9, cores=1, draws=20, say=False)
    file.write_text("no draws\n{}\n")
    with pytest.raises(SystemExit, match="line 1: not a draw"):
        fitting.read(file)


def test_a_prediction_holds_the_luck_of_the_published_sample():
    rng = np.random.default_rng(1)
    s13 = predict(TARGETS["S13"], np.array([0.3, 0.3]), np.zeros(2), rng)
    # By hand: binomial(9, 0.3) has its 5 and 95 % points at 1 and 5; half a unit is added on each side.
    assert (s13.low, s13.high) == pytest.approx((0.5 / 9, 5.5 / 9))
    assert s13.inside
    usual = predict(TARGETS["wang2019-usual"], np.full(2, 0.1), np.full(2, 0.02), rng)
    assert (usual.low, usual.high) == pytest.approx((0.1 - 0.0329, 0.1 + 0.0329), abs=0.003)


def toy(u, luck, rng):
    """Return rows of studies made up by hand: smooth in two parameters, with the luck of few runs."""
    a = 1.0 / (1.0 + np.exp(-(0.4 * u[:, 0] + 0.5 * u[:, 1] + luck * rng.standard_normal(len(u)))))
    b = np.exp(-1.0 + 0.3 * u[:, 0] - 0.6 * u[:, 1] + luck * rng.standard_normal(len(u)))
    mix = {f"mix-{k}": [0.25, 0.0] for k in range(1, 5)}
    return [
        {"summaries": {"S13": [x, 0.0], "wang2019-usual": [y, 0.1], **mix}} for x, y in zip(a, b, strict=True)
    ]


TOY = (TARGETS["S13"], TARGETS["wang2019-usual"])
NONE = Differences(np.zeros((1, 2)), np.array([0]))


def test_the_emulated_posterior_is_that_of_the_likelihood_it_stands_for():
    """The answer is known: the toy's likelihood without luck, by a grid over its two parameters."""
    rng = np.random.default_rng(4)
    u = 1.5 * rng.standard_normal((600, 2))
    found = emulator.fit(u, toy(u, 0.15, rng), TOY)
    keys = [t.key for t in TOY]
    chain = chains(
        lambda x, _: found.loglik(x, keys), ["both"], rng.standard_normal((200, 2)), alike=True, steps=600,
        differ=NONE,
    )  # fmt: skip
    assert chain.effective > 300
    side = np.linspace(-4.0, 4.0, 161)
    grid = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    rows = toy(grid, 0.0, rng)
    true = sum(t.logliks(*np.array([row["summaries"][t.key] for row in rows]).T) for t in TOY)
    w = np.exp(true + sampler.log_prior(grid) - (true + sampler.log_prior(grid)).max())
    w /= w.sum()
    mean = w @ grid
    sd = np.sqrt(w @ (grid - mean) ** 2)
    np.testing.assert_allclose(chain.u.mean(axis=0), mean, atol=0.25 * sd.min())
    np.testing.assert_allclose(chain.u.std(axis=0), sd, rtol=0.15)
    # And the check sees it: simulated where the chain went, the two likelihoods agree; moved, they do not.
    at = chain.u[::20]
    rows = toy(at, 0.0, rng)
    for row in rows:
        row["loglik"] = {t.key: t.loglik(*row["summaries"][t.key]) for t in TOY}
    fine = check(found, {place_of(t): (at, rows) for t in TOY})
    assert fine.agrees, fine
    assert abs(fine.gap) < 0.2
    assert fine.luck < 0.0, "luck makes likely vectors less likely"
    assert "they agree" in str(fine)
    wrong = toy(at + 1.0, 0.0, rng)
    for row in wrong:
        row["loglik"] = {t.key: t.loglik(*row["summaries"][t.key]) for t in TOY}
    off = check(found, {place_of(t): (at, wrong) for t in TOY})
    assert max(abs(z) for z, _ in off.off.values()) > 0.5
    assert "they do NOT agree" in str(off)


def test_vectors_that_an_emulator_did_not_see_are_as_far_off_as_it_says():
    rng = np.random.default_rng(5)
    u = rng.standard_normal((700, 3))
    rows = toy(u, 0.3, rng)
    out = np.arange(700) < 200
    errors = {(e.key, e.place): e for e in emulator.held_out(u, rows, TOY, out)}
    for key in ("S13", "wang2019-usual"):
        assert 0.84 < errors[key, 0].calibrated < 0.95
        assert errors[key, 0].off < 1.25 * errors[key, 0].luck
    far = emulator.held_out(u, toy(3.0 * u, 0.3, rng)[:200] + rows[200:], TOY, out)
    assert min(e.calibrated for e in far if e.key == "S13") < 0.8


READINGS = dict(zip("abcdef", (1.6, -0.9, 0.2, 2.4, -0.4, 0.9), strict=True))


@pytest.mark.parametrize(("stretch", "differ_least"), [(1.0, 0.8), (0.1, 0.0)])
def test_what_differs_between_places_is_learned_as_a_grid_has_it(stretch, differ_least):
    """Normal readings of places about one middle: a random-effects meta-analysis, its integral by a grid."""
    sd, readings = 0.3, {place: stretch * y for place, y in READINGS.items()}
    chain = chains(
        lambda u, place: -0.5 * ((u[:, 0] - readings[place]) / sd) ** 2,
        list(readings),
        np.random.default_rng(1).standard_normal((64, 2)),
        differ=Differences(np.array([[1.0, 0.0]]), np.array([0])),
        steps=1200,
        draws=20000,
    )
    side = np.linspace(-5.0, 5.0, 301)
    middle, t = np.meshgrid(side, side, indexing="ij")
    var = sd**2 + deviation(t) ** 2
    log = sum(-0.5 * (middle - y) ** 2 / var - 0.5 * np.log(var) for y in readings.values())
    w = np.exp(log - 0.5 * middle**2 - 0.5 * t**2)
    w /= w.sum()

    def mean(f):
        return float((w * f).sum())

    sure = math.sqrt(mean(middle**2) - mean(middle) ** 2)
    assert chain.u[:, 0].mean() == pytest.approx(mean(middle), abs=0.1 * sure)
    assert chain.u[:, 0].std() == pytest.approx(sure, rel=0.06)
    assert chain.t[:, 0].mean() == pytest.approx(mean(t), abs=0.08)
    assert chain.t[:, 0].std() == pytest.approx(math.sqrt(mean(t**2) - mean(t) ** 2), rel=0.08)
    assert deviation(chain.t).mean() == pytest.approx(mean(deviation(t)), rel=0.06)
    assert deviation(chain.t).mean() > differ_least
    # A new place is the middle with a new shift; a known one lies where its own reading is.
    new = chain.at("new", np.random.default_rng(2), Differences(np.array([[1.0, 0.0]]), np.array([0])))
    spread = math.sqrt(mean(middle**2 + deviation(t) ** 2) - mean(middle) ** 2)
    assert new[:, 0].std() == pytest.approx(spread, rel=0.08)
    own = chain.at("d", np.random.default_rng(2), Differences(np.array([[1.0, 0.0]]), np.array([0])))
    assert own[:, 0].std() < sd * 1.05
    shrunk = mean((readings["d"] / sd**2 + middle / deviation(t) ** 2) / (1 / sd**2 + 1 / deviation(t) ** 2))
    assert own[:, 0].mean() == pytest.approx(shrunk, abs=0.05)
    # What nobody reads keeps its prior.
    assert chain.u[:, 1].std() == pytest.approx(1.0, abs=0.08)


def test_a_place_shifts_its_treatments_together_and_each_look_by_itself():
    names = [[name for name, x in zip(NAMES, row, strict=True) if x] for row in DIFFERENCES.along]
    assert names == [["spray", "combined", "non_chemical"], ["look"], ["traps"]]
    moved = values_of(0.7 * DIFFERENCES.along[0])
    assert all(moved[name] == pytest.approx(PRIORS[name].middle + 0.7) for name in names[0])
    # Communities have crews of their own, arms of one trial the same.
    assert place_of(TARGETS["wang2018-bayonne-new"]) == place_of(TARGETS["wang2018-bayonne-change"])
    assert len({place_of(t) for t in TARGETS.values() if t.study == "Wang 2018"}) == 3
    assert len({place_of(t) for t in TARGETS.values() if t.study in ("Abbar 2020", "Wang 2012")}) == 2
    # The prior's ends by hand: exp(-1.28) and its factor exp(0.87 * 1.645) to both sides.
    assert deviation(np.array([-1.645, 0.0, 1.645])) == pytest.approx([0.0665, 0.278, 1.163], rel=0.01)


def test_vectors_about_a_posterior_are_its_draws_made_wider():
    draws = near.in_u(np.array(json.loads(PLACE.read_text(encoding="utf-8"))["draws"]))
    values = [values_of(row) for row in draws[:3]]
    told = [{name: joint().values[name][k] for name in NAMES} for k in range(3)]
    for mine, theirs in zip(values, told, strict=True):
        assert mine == pytest.approx(theirs, rel=1e-6)
    got = near.vectors(PLACE, 4000, np.random.default_rng(1))
    narrow, wide = got[::2], got[1::2]
    k = NAMES.index("growth")
    assert narrow[:, k].var() == pytest.approx(1.5 * draws[:, k].var(), rel=0.15)
    assert wide[:, k].var() == pytest.approx(2.5 * draws[:, k].var(), rel=0.15)
    assert np.abs(got).max() <= 3.5
    spray, combined = NAMES.index("spray"), NAMES.index("combined")
    added = np.cov(narrow[:, [spray, combined]].T) - 1.5 * np.cov(draws[:, [spray, combined]].T)
    assert added == pytest.approx(np.array([[1.16, 1.0], [1.0, 1.16]]), abs=0.25)


def test_kept_vectors_are_read_back_and_those_of_other_code_refused(tmp_path, monkeypatch):
    rng = np.random.default_rng(3)
    header = fitting.header_of(20, "", 1)
    u = rng.standard_normal((30, len(NAMES)))
    rows = [{"round": 0, "place": k, "u": u[k].tolist(), **row} for k, row in enumerate(toy(u, 0.1, rng))]
    for row in rows:
        row["loglik"] = {t.key: t.loglik(*row["summaries"][t.key]) for t in TOY}
    place = tmp_path / "vectors.npz"
    vectors.pack(header, rows, place)
    back = fitting.read(place)
    assert {key: back.header[key] for key in header} == header
    for mine, theirs in zip(back.rows, rows, strict=True):
        assert mine["u"] == pytest.approx(theirs["u"], rel=1e-6, abs=1e-6)
        assert mine["loglik"] == pytest.approx(theirs["loglik"], abs=1e-4)
        for key, pair in theirs["summaries"].items():
            assert mine["summaries"][key] == pytest.approx(pair, rel=1e-6)
    monkeypatch.setattr(posterior, "one", lambda u, _: {"summaries": dict(rows[0]["summaries"])})
    posterior.repeats(place)
    other = {**rows[0]["summaries"], "S13": [0.5, 0.0]}
    monkeypatch.setattr(posterior, "one", lambda u, _: {"summaries": other})
    with pytest.raises(SystemExit, match=r"other code: S13 differ"):
        posterior.repeats(place)
    vectors.pack({**header, "targets": "other"}, rows, place)
    vectors.pack(header, rows, tmp_path / "ours.npz")
    with pytest.raises(SystemExit, match="different targets"):
        posterior.known([tmp_path / "ours.npz", place], TOY)


def test_the_vectors_that_are_kept_are_of_the_present_targets():
    """Whether the present code simulates them so, ``evidence.posterior`` asks before it begins."""
    kept = fitting.read(ROOT / "evidence" / "vectors.npz")
    assert kept.header["targets"] == fitting.header_of(20, "", 1)["targets"]
    assert kept.header["names"] == list(NAMES)
    assert len(kept.rows) > 1000
    for t in TARGETS.values():
        if t.use != "listed":
            assert all(math.isfinite(row["loglik"][t.key]) for row in kept.rows), t.key


def test_a_table_takes_each_figure_from_its_own_place_and_study(tmp_path):
    """Studies that were simulated with their own crew, and with a new one where their study was left out."""
    more = tmp_path / "more.jsonl"
    lines, row = [fitting.header_of(20, "", 1)], {"round": 0, "place": 0, "u": [], "loglik": {}}
    shown = [t for t in TARGETS.values() if t.use != "listed"]
    mix = {f"mix-{k}": [0.25, 0.0] for k in range(1, 5)}
    for place in dict.fromkeys(place_of(t) for t in shown):
        for without in dict.fromkeys(["", *(t.study for t in shown if place_of(t) == place)]):
            share = 0.2 if place != "Singh 2013" else 0.3 if without else 0.7
            told = {t.key: [share, 0.05] for t in shown}
            lines += 20 * [{**row, "without": without, "of": place, "summaries": {**told, **mix}}]
    more.write_text("\n".join(json.dumps(line) for line in lines))
    rng = np.random.default_rng(1)
    np.savez(
        more.with_suffix(".npz"), u=rng.standard_normal((50, len(NAMES))), t=rng.standard_normal((50, 2)),
        agrees=True, alike=False, taught=7,
    )  # fmt: skip
    text, pairs = tables(more)
    by_key = {a.target.key: (a, b) for a, b in pairs}
    assert [round(p.middle, 1) for p in by_key["S13"]] == [0.7, 0.3]
    assert [p.inside for p in by_key["S13"]] == [False, True]
    assert by_key["W14"][0].middle == pytest.approx(0.2, abs=0.06)
    assert len(pairs) == len(shown)
    assert "7 vectors teach the emulator; 20 draws" in text[0]
    assert any(line.startswith("| between studies: treatment | 0 | 0.278 (0.0665 to 1.16)") for line in text)


def test_the_draws_that_are_kept_are_those_of_the_present_targets_and_passed_their_check():
    told = json.loads(PLACE.read_text(encoding="utf-8"))
    assert told["targets"] == fitting.header_of(20, "", 1)["targets"]
    assert told["names"] == list(NAMES)
    assert "they agree" in told["check"]
    draws = np.array(told["draws"])
    assert draws.shape == (400, len(NAMES))
    assert np.all(draws[:, NAMES.index("combined")] >= draws[:, NAMES.index("non_chemical")])
    for name, column in zip(NAMES, draws.T, strict=True):
        low, high = np.quantile(column, [0.2, 0.8])
        assert low < told["centre"][name] < high, name
    assert sum(told["mix"]) == pytest.approx(1.0, abs=1e-3)


def test_the_page_names_every_rule_that_the_file_follows():
    page = (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8")
    for word in ("**Fitted**", "**Held out**", "**Listed**", "evidence.fit", "evidence.predict"):
        assert word in page
