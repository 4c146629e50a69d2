"""Numbers as the language writes them."""


def number(value):
    """A number as the language writes it: no exponent, no trailing zeros."""
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return text or "0"
