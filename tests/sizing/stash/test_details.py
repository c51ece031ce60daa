"""Prices as a maker types them."""

from decimal import Decimal

import pytest

from sizing.base.errors import StashError
from sizing.stash.details import read_price


@pytest.mark.parametrize(
    ("typed", "amount", "currency"),
    [
        ("3,20 EUR", "3.20", "EUR"),
        ("3,5", "3.5", ""),
        ("USD 1250", "1250", "USD"),
        ("0.125 EUR", "0.125", "EUR"),
        ("Fr. 4", "4", "Fr."),
    ],
)
def test_a_price_has_a_currency_or_none(typed: str, amount: str, currency: str) -> None:
    assert read_price(typed) == (Decimal(amount), currency)


@pytest.mark.parametrize(
    "typed", ["1,250 USD", "1,250.00", "1.250,00", "\u0663 EUR", "12 \u0663", "-3", "USD -3", ",50", "EUR"]
)
def test_what_could_mean_another_price_is_refused(typed: str) -> None:
    with pytest.raises(StashError, match=r"is no price: write it like 12\.50"):
        read_price(typed)
