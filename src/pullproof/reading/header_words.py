"""A header text taken apart: the words in it, the ideas that they express, and the unit.

`Ladelufttemperatur [Â°C]`, `speed_mph`, `0D - Vehicle Speed` and `A/F Sens 1 Ratio (AFR)` all end as a few ideas and a
unit, so that no rule further up has to know how a logger writes.
"""

import functools
import re
from dataclasses import dataclass

from pullproof.reading.vocabulary import plain_text, vocabulary
from pullproof.units import Unit, parse_unit, repair_text

__all__ = ["Header", "Word", "understand"]


@dataclass(frozen=True, slots=True)
class Word:
    """A word and the ideas that it can express; none where it is not known."""

    text: str
    ideas: frozenset[str]


@dataclass(frozen=True, slots=True)
class Header:
    """What a header says.

    `unit` is None where no unit is named. `unit_is_certain` is False where it was only the last word of the header,
    which may mean something else. `pid` is the SAE J1979 number that stands before the name.
    """

    text: str
    words: tuple[Word, ...]
    unit: Unit | None
    unit_is_certain: bool
    pid: str | None = None

    @property
    def ideas(self) -> frozenset[str]:
        """All ideas of all words."""
        return frozenset(idea for word in self.words for idea in word.ideas)


ALSO_A_NAME = ("tpm",)
"""Spellings of a unit that are also short for something else: turns a minute, and tyre pressure monitor. Without
brackets and beside no word of turning they name no unit."""

_BRACKETS = re.compile(r"[(\[{<]([^)\]}>]*)(?:[)\]}>]|$)")
_PID = re.compile(r"^\s*(?:01\s?|0x|pid\s*)?([0-9A-Fa-f]{2})\s*(?:[-:]\s+|$)")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_PARTS = re.compile(r"[a-z]+|\d+")


@functools.lru_cache(maxsize=4096)
def understand(text: str, unit_row: str = "") -> Header:
    """Take a header apart.

    Parameters
    ----------
    text : str
        The header as it stands in the file.
    unit_row : str
        What stands below it in a row of units, if there is one.
    """
    plain = repair_text(text)
    pid = None
    if stated := _PID.match(plain):
        pid, plain = stated[1].upper(), plain[stated.end() :]
    unit = parse_unit(unit_row)
    for bracket in _BRACKETS.finditer(plain):
        inside = parse_unit(bracket[1]) if bracket[1].strip() else None
        if inside is not None:
            unit = unit or inside
            plain = plain[: bracket.start()] + " " + plain[bracket.end() :]
            break
    words = _words(plain)
    if unit is not None:
        return Header(text, words, unit, unit_is_certain=True, pid=pid)
    unit, spelled, words = _last_word_unit(plain, words)
    return Header(text, words, unit, "/" in spelled or len(spelled) > 2, pid)


def _last_word_unit(plain: str, words: tuple[Word, ...]) -> tuple[Unit | None, str, tuple[Word, ...]]:
    """The unit at the end of a header without brackets (`speed_mph`, `Boost PSI`, `Load %`, `RPM`), and other words."""
    parts = re.split(r"[\s_,;:]+|(?<=\s)[-/](?=\s)", plain.strip())
    for length in (2, 1):
        tail = " ".join(parts[-length:]).strip("-/. ")
        unit = parse_unit(tail) if len(parts) >= length else None
        if unit is None or unit.dimension in ("number", "count"):
            continue
        tail_words = _words(tail)
        if tail.casefold() in ALSO_A_NAME and not any("revolutions" in word.ideas for word in words):
            continue
        rest = words[: len(words) - len(tail_words)]
        # A unit that is also a word for the channel (rpm, lambda) goes on being one.
        spoken = tail_words and all(word.ideas for word in tail_words)
        return unit, tail, words if spoken or not rest else rest
    return None, "", words


def _words(plain: str) -> tuple[Word, ...]:
    spaced = _CAMEL.sub(" ", plain.replace("A/F", "AFR").replace("a/f", "afr").replace("λ", "lambda"))
    found: list[Word] = []
    known = vocabulary().ideas
    for chunk in re.split(r"[^a-z0-9]+", plain_text(spaced)):
        if chunk in known:
            found.append(Word(chunk, known[chunk]))
            continue
        for token in _PARTS.findall(chunk):
            found.extend(_taken_apart(token))
    return tuple(found)


@functools.lru_cache(maxsize=4096)
def _taken_apart(token: str) -> tuple[Word, ...]:
    """A word as it is, or a compound (`motordrehzahl`, `enginespeed`) as its parts where all of them are known."""
    known = vocabulary().ideas
    if token in known or len(token) < 6 or token.isdigit():
        return (Word(token, known.get(token, frozenset())),)
    parts = _segments(token)
    if parts is None:
        return (Word(token, frozenset()),)
    return tuple(Word(part, known[part]) for part in parts)


def _segments(token: str) -> tuple[str, ...] | None:
    """The fewest known words of three letters or more that make up the token; German links (s, n, en) may join them."""
    known = vocabulary().ideas
    best: dict[int, tuple[str, ...]] = {0: ()}
    for end in range(3, len(token) + 1):
        for start in range(end - 2):
            if start not in best or token[start:end] not in known:
                continue
            option = (*best[start], token[start:end])
            for link in ("", "s", "n", "en"):
                stop = end + len(link)
                links = token.startswith(link, end) and (not link or stop < len(token))
                if links and (stop not in best or len(option) < len(best[stop])):
                    best[stop] = option
    return best.get(len(token))
