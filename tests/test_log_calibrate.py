"""The fit by itself, on models cheap enough to fit many times."""

import math

import numpy as np
import pytest

from annulus.errors import InputError
from annulus.logs.calibrate import fit, foretell, one_sided
from annulus.logs.next_probe import Probe, rank_probes, with_offset
from annulus.logs.priors import Prior, of_error, of_offset, of_range

TIMES = np.linspace(0.0, 4.0, 25)  # [h]


def warming(values):
    """A tank that nears a warm end: two things are seen, their product at first alone."""
    rate, end = values["rate"], values["end"]
    return end * (1.0 - np.exp(-rate * TIMES)) + values.get("offset", 0.0)


def priors(*free):
    return [
        of_range("rate", 0.1, 1.0, "", "", "rate" in free),
        of_range("end", 20.0, 80.0, "", "", "end" in free),
        of_offset("offset", 0.3, "", ""),
    ]


def test_linear_model_has_the_posterior_of_the_textbook():
    """y = a + b t with normal priors: posterior covariance (J^T J + 1)^-1, a closed form."""
    rng = np.random.default_rng(1)
    data = 1.0 + 2.0 * TIMES + rng.normal(0, 0.5, TIMES.size)
    prior = [Prior("a", -5, 5, "offset", "", "", True), Prior("b", -5, 5, "offset", "", "", True)]
    fitted = fit(lambda v: v["a"] + v["b"] * TIMES, data, np.full(TIMES.size, 0.5), prior)
    scale = 5 / 1.6449
    design = np.stack([np.ones(TIMES.size), TIMES], axis=1)
    precision = design.T @ design / 0.25 + np.eye(2) / scale**2
    expected = np.linalg.solve(precision, design.T @ data / 0.25)
    assert [fitted.values["a"], fitted.values["b"]] == pytest.approx(expected, rel=1e-6)
    width = np.sqrt(np.diag(np.linalg.inv(precision))) * max(fitted.misfit, 1.0)
    bars = [0.5 * (one.high - one.low) / 1.6449 for one in fitted.estimates()]
    assert bars == pytest.approx(width, rel=0.02)  # the prior is not widened with the data


def test_intervals_cover_the_truth_at_their_level():
    rng = np.random.default_rng(7)
    held = total = 0
    for _ in range(60):
        drawn = priors("rate", "end")
        truth = {prior.name: prior.value(rng.normal()) for prior in drawn}
        data = warming(truth) + rng.normal(0, 1.0, TIMES.size)
        for one in fit(warming, data, np.full(TIMES.size, 1.0), drawn).estimates():
            if one.prior.is_free and one.is_determined:
                held += one.low <= truth[one.prior.name] <= one.high
                total += 1
    assert total > 80
    assert 0.8 <= held / total <= 0.98


def test_two_parameters_that_act_as_one_product_are_named_and_not_reported():
    early = TIMES / 100.0  # so early that only rate times end shows

    def predict(values):
        return values["end"] * (1.0 - np.exp(-values["rate"] * early))

    truth = {"rate": 0.3, "end": 50.0}
    alike = [of_range("rate", 0.1, 1.0, "", "", True), of_range("end", 15.0, 150.0, "", "", True)]
    fitted = fit(predict, predict(truth), np.full(TIMES.size, 0.02), alike)
    assert not any(one.is_determined for one in fitted.estimates())
    (blend,) = fitted.blends()
    assert set(blend.shares) == {"rate", "end"}
    assert np.prod(list(blend.shares.values())) < 0  # one up, the other down
    assert fitted.correlation()[0, 1] < -0.9


def test_parameter_without_effect_is_not_reported():
    unseen = [*priors("rate", "end"), of_range("colour", 1.0, 3.0, "", "", True)]
    fitted = fit(warming, warming({"rate": 0.5, "end": 40.0}), np.full(TIMES.size, 0.2), unseen)
    by_name = {one.prior.name: one for one in fitted.estimates()}
    assert by_name["colour"].value is None
    assert by_name["colour"].width == pytest.approx(1.0, abs=1e-6)
    assert by_name["rate"].is_determined
    assert [list(blend.shares) for blend in fitted.blends()] == [["colour"]]


def test_data_that_scatter_more_than_their_errors_widen_the_intervals():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 1.0, TIMES.size)
    widths = []
    for size in (0.2, 2.0):
        data = warming({"rate": 0.5, "end": 40.0}) + size * noise
        fitted = fit(warming, data, np.full(TIMES.size, 0.2), priors("rate", "end"))
        widths.append(fitted.estimates()[1].width)
    assert widths[1] > 4 * widths[0]


@pytest.mark.parametrize(("middle", "expected"), [(9.0, 9.0), (3.0, 5.0)])
def test_reading_that_is_the_least_its_truth_was_pulls_only_from_below(middle, expected):
    """One reading of 5 "or more": a value thought to be 9 +- 1 stays, one thought to be 3 +- 1 comes up to it."""
    prior = [Prior("a", middle - 1.6449, middle + 1.6449, "offset", "", "", True)]
    fitted = fit(lambda v: np.array([v["a"]]), np.array([5.0]), np.array([0.01]), prior, is_least=np.array([True]))
    assert fitted.values["a"] == pytest.approx(expected, abs=0.03)
    (one,) = fitted.estimates()
    assert one.is_determined == (middle < 5.0)


def test_square_of_a_one_sided_residual_is_twice_the_logarithm_of_its_chance():
    # chances of the normal distribution: one half at 0, 0.8413 at 1
    assert one_sided(np.array([0.0, 1.0])) ** 2 == pytest.approx([2 * math.log(2), -2 * math.log(0.841345)], rel=1e-4)
    assert one_sided(np.array([8.0]))[0] == pytest.approx(0.0, abs=1e-6)
    assert one_sided(np.array([-30.0]))[0] == pytest.approx(-30.0, rel=0.01)


def test_forecast_of_a_power_has_the_interval_of_its_parameter():
    fitted = fit(warming, warming({"rate": 0.5, "end": 40.0}), np.full(TIMES.size, 0.2), priors("rate", "end"))
    (rate, _, _) = fitted.estimates()
    told = foretell(fitted, lambda values: values["rate"] ** -2)
    assert told.value == pytest.approx(fitted.values["rate"] ** -2)
    assert math.log(told.high / told.low) == pytest.approx(2 * math.log(rate.high / rate.low), rel=1e-6)


def test_probe_that_sees_what_the_forecast_needs_is_ranked_first():
    fitted = fit(warming, warming({"rate": 0.5, "end": 40.0}), np.full(TIMES.size, 0.2), priors("rate", "end"))
    told = foretell(fitted, lambda values: values["end"])
    names = [prior.name for prior in fitted.priors]
    rows = {name: np.eye(3)[[n]] for n, name in enumerate(names)}
    probes = [Probe(name, rows[name], with_offset(0.01, 0.0, 1)) for name in names]
    ranked = rank_probes(fitted, told, [*probes, Probe("nothing", np.zeros((1, 3)), with_offset(1.0, 0.0, 1))])
    assert ranked[0].name == "end"
    assert ranked[-1].name == "nothing"
    assert ranked[-1].narrowing == pytest.approx(0.0, abs=1e-12)
    assert ranked[-1].share == pytest.approx(told.share, rel=1e-6)


def test_promised_narrowing_is_what_the_measurement_then_brings():
    """The promise made before, against a fit that has the further reading."""
    truth = {"rate": 0.5, "end": 40.0, "offset": 0.0}
    data, errors = warming(truth), np.full(TIMES.size, 0.2)
    fitted = fit(warming, data, errors, priors("rate", "end"))
    told = foretell(fitted, lambda values: values["end"])
    late = 10.0

    def reading(values):
        return values["end"] * (1.0 - np.exp(-values["rate"] * late)) + values.get("offset", 0.0)

    slopes = []
    for n in range(3):
        step = np.zeros(3)
        step[n] = 0.01
        ends = [
            reading({p.name: p.value(c) for p, c in zip(fitted.priors, fitted.coordinates + s, strict=True)})
            for s in (step, -step)
        ]
        slopes.append((ends[0] - ends[1]) / 0.02)
    (promise,) = rank_probes(fitted, told, [Probe("later", np.array([slopes]), with_offset(0.2, 0.0, 1))])
    both = fit(
        lambda values: np.append(warming(values), reading(values)),
        np.append(data, reading(truth)),
        np.append(errors, 0.2),
        priors("rate", "end"),
    )
    after = foretell(both, lambda values: values["end"])
    assert promise.share == pytest.approx(after.share, rel=0.05)
    assert promise.narrowing > 0.1


@pytest.mark.parametrize(
    "prior", [of_range("x", 0.2, 5.0, "", ""), of_range("x", 0.0, 2.0, "", ""), of_offset("x", 3.0, "", "")]
)
def test_nine_of_ten_draws_of_a_prior_lie_in_its_range(prior):
    assert prior.coordinate(prior.value(0.7)) == pytest.approx(0.7)
    if prior.shape != "even":
        assert prior.value(-1.6449) == pytest.approx(prior.low)
        assert prior.value(1.6449) == pytest.approx(prior.high)
    else:
        assert prior.low <= prior.value(-5.0) < prior.value(5.0) <= prior.high


def test_error_of_ten_per_cent_is_a_ratio_about_one():
    prior = of_error("x", 0.1, "", "")
    assert prior.value(0.0) == pytest.approx(1.0)
    assert prior.value(1.0) == pytest.approx(math.exp(0.1), rel=1e-4)


def test_nothing_free_is_refused():
    with pytest.raises(InputError, match="--free"):
        fit(warming, np.zeros(25), np.ones(25), priors())
