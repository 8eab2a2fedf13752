from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.uncertainty import first_fit_chart as c

from handfast.files.project_reader import read_project
from handfast.model.error_source import Changes, ErrorSource, Six, is_compliant
from handfast.uncertainty.edges import edges
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.play import play_jacobian
from handfast.uncertainty.refusal import SourceError
from handfast.uncertainty.sources import sources_of, variances_of

PROJECT = c.first_fit()
SMALL: Six = (1e-4, 1e-4, 1e-4, 1e-3, 1e-3, 1e-3)
GOOD = ErrorSource("one", "holder.nest", SMALL, "shift")


@pytest.mark.parametrize(
    ("source", "place", "found"),
    [
        (replace(GOOD, acts_on="holder.nset"), "acts_on", "'holder.nset'"),
        (replace(GOOD, acts_on="feature.block.boer"), "acts_on", "'feature.block.boer'"),
        (replace(GOOD, sigma=(1e-4, -1e-4, 0, 0, 0, 0)), "sigma of y", "-0.0001"),
        (replace(GOOD, sigma=(1e-4, 0, 0, math.inf, 0, 0)), "sigma of rx", "inf"),
        (replace(GOOD, sigma=(0, 0, math.nan, 0, 0, 0)), "sigma of z", "nan"),
        (replace(GOOD, sigma=(0, 0, 0, 0.0, 5.0, 0)), "sigma of a rotation", "5 rad"),
        (replace(GOOD, acts_on="touch.right"), "sigma", "others"),
        (replace(GOOD, distribution="truncated", truncation=0.0), "truncation", "0"),
        (replace(GOOD, correlation_length=0.2), "correlation_length", "holder.nest"),
        (replace(GOOD, acts_on="arm.left.tip", changes="cycle", correlation_length=1.0), "correlation_length",
         "arm.left.tip"),
    ],
)  # fmt: skip
def test_a_source_that_cannot_be_used_is_refused_with_place_and_reason(
    source: ErrorSource, place: str, found: str
) -> None:
    with pytest.raises(SourceError) as refused:
        sources_of(replace(PROJECT, errors=(source,)))
    assert refused.value.place == f"error source 'one', {place}"
    assert refused.value.found == found


def test_the_nearest_edges_are_named() -> None:
    with pytest.raises(SourceError, match=r"such as holder\.nest"):
        sources_of(replace(PROJECT, errors=(replace(GOOD, acts_on="holder.nset"),)))


def test_two_sources_of_one_name_are_refused() -> None:
    with pytest.raises(SourceError, match="expected one source of each name, found two"):
        sources_of(replace(PROJECT, errors=(GOOD, GOOD)))


def test_every_edge_of_the_project_takes_a_source() -> None:
    names = edges(PROJECT)
    assert {s.acts_on for s in PROJECT.errors} <= set(names)
    touchy = (1e-5, 0.0, 0.0, 0.0, 0.0, 0.0)
    soft = (1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4)  # m/N and rad/(N m): what gives says by how much
    errors = tuple(
        ErrorSource(
            f"of {e}", e, touchy if e.startswith("touch.") else SMALL, "shift",
            compliance=soft if is_compliant(e) else (0.0,) * 6,
        )
        for e in names
    )  # fmt: skip
    assert any(is_compliant(e) for e in names)
    assert set(sources_of(replace(PROJECT, errors=errors)).by_edge) >= set(names)


@pytest.mark.parametrize("cut", [1.0, 2.0, 3.0])
def test_truncation_takes_its_variance_away(cut: float) -> None:
    """Variance of the standard normal cut at +-a: 1 - 2 a phi(a)/(2 Phi(a) - 1) (Johnson, Kotz,
    Balakrishnan, from memory); at 1 sigma 0.2911 (computed), and against draws.
    """
    source = replace(GOOD, distribution="truncated", truncation=cut)
    factor = variances_of(source)[0] / SMALL[0] ** 2
    pdf = math.exp(-cut * cut / 2) / math.sqrt(2 * math.pi)
    assert factor == pytest.approx(1 - 2 * cut * pdf / math.erf(cut / math.sqrt(2)), rel=1e-12)
    draws = np.random.default_rng(1).standard_normal(400_000)
    draws = draws[np.abs(draws) <= cut]
    assert abs(draws.var() - factor) < 4 * factor * math.sqrt(2 / len(draws))
    if cut == 1.0:
        assert factor == pytest.approx(0.2911, abs=5e-5)


def test_a_uniform_source_states_its_sigma_already() -> None:
    np.testing.assert_allclose(variances_of(replace(GOOD, distribution="uniform")), np.array(SMALL) ** 2)


def test_only_what_changes_per_cycle_is_drawn_anew() -> None:
    kinds: tuple[Changes, ...] = ("installation", "shift", "lot", "part", "cycle")
    errors = tuple(replace(GOOD, name=k, changes=k) for k in kinds)
    sources = sources_of(replace(PROJECT, errors=errors))
    first, second = (set(sources.form("holder.nest", e, "nest").jacobians) for e in ("a", "b"))
    assert first & second == {Instance(k) for k in kinds[:-1]}
    assert first ^ second == {Instance("cycle", "a"), Instance("cycle", "b")}


def test_play_leaves_the_shaft_inside_the_clearance_at_both_ends() -> None:
    """Offsets at mouth and end of the bore are what the twist does to points at 0 and 20 mm on the axis."""
    mate = PROJECT.product.mate("pin-in-bore")
    offsets = np.array([3e-6, -4e-6, 0.0, -5e-6, 7e-6, 0.0])
    xi = play_jacobian(mate, PROJECT.product) @ offsets
    at = [xi[:3] + np.cross(xi[3:], [0, 0, z]) for z in (0.0, 0.020)]
    np.testing.assert_allclose(at[0][:2], offsets[:2], atol=1e-15)
    np.testing.assert_allclose(at[1][:2], offsets[3:5], atol=1e-15)


def test_a_gear_tilts_in_its_bore_as_any_shaft_does() -> None:
    """The pump's idler stands 8.5 mm deep in its bore: offsets there and at the mouth, as above."""
    pump, _ = read_project(Path(__file__).parents[2] / "projects" / "dosing-pump")
    assert pump is not None
    offsets = np.array([3e-6, -4e-6, 0.0, -5e-6, 7e-6, 0.0])
    xi = play_jacobian(pump.product.mate("idler-gear-in-mesh"), pump.product) @ offsets
    at = [xi[:3] + np.cross(xi[3:], [0, 0, z]) for z in (0.0, 0.0085)]
    np.testing.assert_allclose(at[0][:2], offsets[:2], atol=1e-15)
    np.testing.assert_allclose(at[1][:2], offsets[3:5], atol=1e-15)


def test_play_is_as_large_as_the_fit_allows() -> None:
    """8 H7/g6: hole 0/+15 um, pin -14/-5 um, each normal with its limits at three sigma; the axis uniform
    in the disc.
    """
    play = next(s for s in sources_of(PROJECT).by_name.values() if s.name == "play in pin-in-bore")
    rng, n = np.random.default_rng(2), 400_000
    radius = (rng.normal(7.5e-6, 2.5e-6, n) - rng.normal(-9.5e-6, 1.5e-6, n)) / 2
    x = radius * np.sqrt(rng.uniform(size=n)) * np.cos(rng.uniform(0, 2 * math.pi, n))
    assert play.sigma[0] == pytest.approx(x.std(), rel=0.01)
