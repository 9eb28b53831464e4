"""The regions whose rules for labels are known."""

from typing import Final

#: Of another place there are the ingredients, and nothing else.
REGIONS: Final = ("us", "eu", "uk")
