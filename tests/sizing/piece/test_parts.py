"""Beads, findings and wire, against published masses and gauges."""

import pytest

from sizing.piece.parts import (
    BeadPart,
    Finding,
    Kind,
    added_mm,
    awg_mm,
    extender_mm,
    finding_links,
)

TABLE_G = 5e-5
SUM_G = 1e-6
SUM_MM = 1e-9


def a_round(size_mm: float, **more: object) -> BeadPart:
    return BeadPart(along_mm=size_mm, across_mm=size_mm, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("size_mm", "mass_g"), [(4, 0.0888), (6, 0.2997), (8, 0.7104), (10, 1.3875), (12, 2.3977)]
)
def test_mass_of_solid_quartz_rounds(size_mm: float, mass_g: float) -> None:
    # pi/6 d^3 at 2.65 g/cm3 (density: Britannica, table of gemstones).
    assert a_round(size_mm, material="quartz").mass_g == pytest.approx(mass_g, abs=TABLE_G)


@pytest.mark.parametrize(("label_mm", "per_momme"), [(5, 19), (6, 12), (7, 7), (8, 5), (9, 3.5), (10, 2.5)])
def test_pearls_per_momme(label_mm: float, per_momme: float) -> None:
    # Trade table: each count implies a diameter in [label, label + 0.5) mm at 2.70 g/cm3; a momme is 3.75 g.
    one_g = 3.75 / per_momme
    smallest, largest = (a_round(size, material="pearl").mass_g for size in (label_mm, label_mm + 0.5))
    assert smallest is not None
    assert largest is not None
    assert smallest <= one_g < largest


def test_a_hole_weighs_nothing() -> None:
    drilled = a_round(8, density=1000.0 / 1000, hole_mm=1.0).mass_g
    # pi/6 8^3 - pi/4 1^2 8 mm3 of water.
    assert drilled == pytest.approx((268.0826 - 6.2832) / 1000, abs=SUM_G)


def test_unknown_materials_have_no_mass() -> None:
    assert a_round(8).mass_g is None
    assert a_round(8, material="driftwood").mass_g is None
    assert a_round(8, material="driftwood", density=0.5).mass_g == pytest.approx(0.5 * 0.2680826, abs=SUM_G)


@pytest.mark.parametrize(
    ("gauge", "diameter_mm"),
    [(18, 1.0237), (20, 0.8118), (22, 0.6438), (24, 0.5106), (26, 0.4049), (28, 0.3211), (30, 0.2546)],
)
def test_wire_gauges(gauge: int, diameter_mm: float) -> None:
    # ASTM B258.
    assert awg_mm(gauge) == pytest.approx(diameter_mm, abs=TABLE_G)


CLASP = Finding(kind=Kind.CLASP, length_mm=12.0, thickness_mm=3.0)
CRIMPS = Finding(kind=Kind.CRIMP, length_mm=2.0, count=2)
COVERS = Finding(kind=Kind.COVER, length_mm=4.0, count=2)
CHAIN = Finding(kind=Kind.EXTENDER, length_mm=50.8, link_mm=4.0)


def length_of(*findings: Finding) -> float:
    return sum(link.along_mm for link in finding_links(findings))


def test_findings_lie_end_to_end() -> None:
    assert length_of(CLASP, CRIMPS) == pytest.approx(16.0, abs=SUM_MM)
    assert [link.across_mm for link in finding_links((CLASP, CRIMPS))] == [3.0, 0.0, 0.0]


def test_a_covered_crimp_adds_nothing_of_its_own() -> None:
    assert length_of(CLASP, CRIMPS, COVERS) == pytest.approx(20.0, abs=SUM_MM)
    assert added_mm((CRIMPS, COVERS), CRIMPS) == 0


def test_an_extender_counts_from_its_first_link_to_its_last() -> None:
    assert length_of(CLASP, CHAIN) == pytest.approx(16.0, abs=SUM_MM)
    assert extender_mm((CLASP, CHAIN)) == pytest.approx(46.8, abs=SUM_MM)
    assert extender_mm((CLASP,)) == 0
