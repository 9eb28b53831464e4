"""The maker's own words for a card, in one language or in several.

A step of ``then`` and the mend of a failure may be written ``{en: …, es: …}``.
"""

from __future__ import annotations

from typing import Annotated, Any, Final

from msgspec import Struct
from pydantic_core import CoreSchema, core_schema

from journal.errors import Problem
from journal.quantities.number import excerpt
from journal.records.models import fields
from journal.records.models.settings import LANGUAGES
from journal.records.yaml.tree import WrittenTable

# Of pages, so it comes first.
USUAL_LANGUAGE: Final = "en"


class OwnWords(str):
    """A text of the maker's: as a ``str`` it is the text in ``language``, "" where she named none.

    ``others`` are pairs of a further language and the text in it. Texts compare as any ``str``.
    """

    __slots__ = ("language", "others")
    language: str
    others: tuple[tuple[str, str], ...]

    def __new__(
        cls, text: str, language: str = "", others: tuple[tuple[str, str], ...] = ()
    ) -> OwnWords:
        made = super().__new__(cls, text)
        made.language, made.others = language, others
        return made


def text_in(text: str, language: str) -> tuple[str, str | None]:
    """A maker's text in a language, and the language that it is in.

    If it was not given in that language it is the text itself: English, or what was given
    first. A text that says no language has None: it is in that of the settings.
    """
    if not isinstance(text, OwnWords) or not text.language:
        return text, None
    said = dict(text.others).get(language)
    return (str(text), text.language) if said is None else (said, language)


def _read_own_words(value: Any) -> OwnWords:
    """Read a text, or a mapping from languages to texts; a validation error if it is neither."""
    if not isinstance(value, WrittenTable):
        return OwnWords(str(fields.scalar(value)))
    if not value:
        raise fields.validation_error("there is no text", "Write {en: …, es: …}", value)
    unknown = [key for key in value if key not in LANGUAGES]
    if unknown:
        raise fields.validation_errors(
            Problem(
                value.key_at(key),
                f"{excerpt(key)} is no language of cards, which are {fields.one_of(LANGUAGES)}",
                "If it is part of the text, put the text between quotation marks.",
            )
            for key in unknown
        )
    texts = fields.validated_items(
        (key, text, lambda one: str(fields.scalar(one))) for key, text in value.items()
    )
    # English first: figures read its waits, and pages are in it.
    (language, first), *others = sorted(texts, key=lambda entry: entry[0] != USUAL_LANGUAGE)
    return OwnWords(first, language, tuple(others))


class OwnWordsField(Struct, frozen=True):
    """Marks a field that is a text in one language or in several."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(_read_own_words)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        text = fields.form_schema(None)
        by_language = {
            "type": "object",
            "properties": dict.fromkeys(LANGUAGES, text),
            "additionalProperties": False,
            "minProperties": 1,
        }
        return {"anyOf": [text, by_language]}


WrittenWords = Annotated[OwnWords, OwnWordsField()]
