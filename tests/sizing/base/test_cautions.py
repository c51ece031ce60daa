"""Cautions are there, each one calm line that defers to local rules where rules exist."""

from sizing.base.cautions import CAUTIONS, GIVES_WAY, SKIN, SMALL_PARTS


def test_each_is_one_line() -> None:
    assert len(CAUTIONS) == 4
    assert all("\n" not in caution and caution.endswith(".") and "!" not in caution for caution in CAUTIONS)


def test_local_rules_come_first() -> None:
    assert all("your local rules" in caution for caution in (SMALL_PARTS, GIVES_WAY, SKIN))
