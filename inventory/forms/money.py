"""Amounts typed as people write them in the shop's currency: `1,200`, `$1,200.00`, `1200`."""

from decimal import Decimal
from typing import Any

from babel.numbers import NumberFormatError, get_currency_symbol, parse_decimal
from django import forms
from django.conf import settings


class MoneyField(forms.DecimalField):
    """An amount of shop currency to the cent, not below nothing; cleaned to Decimal or None."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_digits", 12)
        kwargs.setdefault("decimal_places", 2)
        kwargs.setdefault("min_value", 0)
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={"inputmode": "decimal", "autocomplete": "off", "class": "number"}
            ),
        )
        messages = {
            "min_value": "An amount cannot be below nothing.",
            "max_decimal_places": "Write the amount to the cent.",
            "max_digits": "That is more than the books can hold.",
            "max_whole_digits": "That is more than the books can hold.",
        }
        super().__init__(error_messages=messages, **kwargs)

    def to_python(self, value: Any) -> Any:
        text = str(value or "").strip()
        if not text or isinstance(value, Decimal):
            return super().to_python(value)
        symbol = get_currency_symbol(settings.CURRENCY, locale=settings.MONEY_LOCALE)
        bare = "".join(text.replace(symbol, "").replace(settings.CURRENCY, "").split())
        try:
            amount = parse_decimal(bare, locale=settings.MONEY_LOCALE, strict=True)
        except NumberFormatError as problem:
            raise forms.ValidationError(
                f"“{text}” is not an amount: try 1200 or 1200.50."
            ) from problem
        return super().to_python(amount)
