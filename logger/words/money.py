"""Amounts of money and prices: two decimals and the currency.

Pure text; the arithmetic is logger.batch.cost's.
"""

from logger.words.digits import fixed


def money_text(amount: float, currency: str) -> str:
    """Write an amount: ``"4.50 EUR"``.

    Parameters
    ----------
    amount : float
        How much [currency].
    currency : str
        Code of three letters (ISO 4217).
    """
    return f"{fixed(amount, 2)} {currency}".rstrip()


def price_text(per_kg: float, currency: str) -> str:
    """Write a price [currency per kg]: ``"14.20 EUR/kg"``."""
    return f"{money_text(per_kg, currency)}/kg"
