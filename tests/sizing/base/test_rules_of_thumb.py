"""The trade's rules of thumb."""

from sizing.base.loop import Link
from sizing.base.rules_of_thumb import Rules, rules_of_thumb
from sizing.base.target import Target, TargetKind

EIGHT = Link(along_mm=8, across_mm=8)


def test_length_alone_and_three_more() -> None:
    # "Add three beads": common practice, no source.
    target = Target(kind=TargetKind.GIRTH, length_mm=160.0, ease_mm=8.0, findings=(Link(along_mm=24.0),))
    assert rules_of_thumb(target, EIGHT) == Rules(by_length=18, add_three=21)
    assert rules_of_thumb(target, EIGHT, others_mm=16.0, others=1) == Rules(by_length=17, add_three=20)


def test_rules_are_for_girths() -> None:
    assert rules_of_thumb(Target(kind=TargetKind.STRUNG, length_mm=160.0), EIGHT) is None
