"""The words of `vocabulary.toml`, ready to be looked up."""

import functools
import tomllib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType

__all__ = ["ChannelWords", "Parameter", "Vocabulary", "plain_text", "vocabulary"]


@dataclass(frozen=True, slots=True)
class ChannelWords:
    """How one channel is called, and what a column of it without a unit may be measured in.

    `phrases` and `weak` are sets of ideas; `weak_doubt` is what a weak name leaves open; `usual` is where nearly all
    values of a running car lie, in the canonical unit of the channel.
    """

    phrases: tuple[frozenset[str], ...]
    weak: tuple[frozenset[str], ...]
    may: frozenset[str]
    weak_doubt: str | None
    units: tuple[str, ...]
    usual: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Parameter:
    """One quantity of SAE J1979, service 01.

    `physical` turns its data bytes into the value. [unit]
    """

    pid: str
    description: str
    described: str
    """The description in lower case without accents."""
    channel: str
    first: int
    length: int
    numerator: float
    denominator: float
    offset: float
    unit: str

    def physical(self, raw: float) -> float:
        """Value of a raw number (data bytes as one unsigned number, most significant first). [unit]"""
        return raw * self.numerator / self.denominator + self.offset

    @property
    def largest(self) -> float:
        """The largest value that the bytes can say. [unit]"""
        return self.physical(256**self.length - 1)


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Everything that is known about words."""

    ideas: Mapping[str, frozenset[str]]
    """Word, in lower case without accents, to the ideas that it expresses."""
    channels: Mapping[str, ChannelWords]
    layout: Mapping[str, frozenset[str]]
    """Words above the name, value and unit column of a long layout."""
    parameters: tuple[Parameter, ...]


def plain_text(text: str) -> str:
    """Lower case without accents: what words are compared in.

    >>> plain_text("Prędkość Öl Straße")
    'predkosc ol strasse'
    """
    lowered = text.casefold().replace("ł", "l").replace("ø", "o").replace("đ", "d")
    return "".join(sign for sign in unicodedata.normalize("NFKD", lowered) if not unicodedata.combining(sign))


@functools.cache
def vocabulary() -> Vocabulary:
    """The vocabulary, read once."""
    source = resources.files("pullproof.reading").joinpath("vocabulary.toml").read_text(encoding="utf-8")
    data = tomllib.loads(source)
    ideas: dict[str, set[str]] = {}
    for idea, languages in data["words"].items():
        for words in languages.values():
            for word in words:
                ideas.setdefault(plain_text(word), set()).add(idea)
    channels = {
        name: ChannelWords(
            phrases=tuple(frozenset(phrase.split()) for phrase in entry.get("phrases", ())),
            weak=tuple(frozenset(phrase.split()) for phrase in entry.get("weak", ())),
            may=frozenset(entry.get("may", ())),
            weak_doubt=entry.get("weak_doubt"),
            units=tuple(entry.get("units", ())),
            usual=tuple(entry["usual"]) if "usual" in entry else None,
        )
        for name, entry in data["channels"].items()
    }
    parameters = tuple(
        Parameter(
            pid=entry["pid"],
            description=entry["description"],
            described=plain_text(entry["description"]),
            channel=entry["channel"],
            first=entry.get("first", 0),
            length=entry["bytes"],
            numerator=entry["factor"][0],
            denominator=entry["factor"][1],
            offset=entry["offset"],
            unit=entry["unit"],
        )
        for entry in data["j1979"]
    )
    return Vocabulary(
        ideas=MappingProxyType({word: frozenset(found) for word, found in ideas.items()}),
        channels=MappingProxyType(channels),
        layout=MappingProxyType({role: frozenset(map(plain_text, words)) for role, words in data["layout"].items()}),
        parameters=parameters,
    )
