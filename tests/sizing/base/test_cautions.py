"""Safety notes: one line each, calm, and deferring to local rules where rules exist."""

from sizing.base.cautions import BREAKAWAY, CAUTIONS, METALS, SMALL_PARTS, WIRE_ENDS


def test_each_is_one_line() -> None:
    assert set(CAUTIONS) == {SMALL_PARTS, BREAKAWAY, WIRE_ENDS, METALS}
    assert all("\n" not in caution and caution.endswith(".") and "!" not in caution for caution in CAUTIONS)


def test_local_rules_come_first() -> None:
    assert all("your local rules" in caution for caution in (SMALL_PARTS, BREAKAWAY, METALS))
