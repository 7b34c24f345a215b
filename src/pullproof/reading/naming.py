"""Which channels a header can mean, by its words alone.

A header means a channel when it holds all ideas of one of the channel's phrases and nothing that makes a different
quantity of it: `Target`, `Max`, `Error`, a cylinder, another machine, a rate of change. Words that nobody knows leave
the meaning possible and less sure. Units and values are looked at further up.
"""

import functools
import re
from dataclasses import dataclass, replace

from pullproof.reading.header_words import Header, Word
from pullproof.reading.vocabulary import ChannelWords, plain_text, vocabulary

__all__ = ["Meaning", "meanings"]

SURE, WEAK = 0.9, 0.6
_NEUTRAL = frozenset({"actual", "joining", "bank"})


@dataclass(frozen=True, slots=True)
class Meaning:
    """A channel that a header can mean.

    `score` is 0 to 1. `unknown` are the words that nobody knows. `instance` counts sensors of one kind: 1 is the
    first or the only one.
    """

    channel: str
    score: float
    weak: bool = False
    """Whether the words may also mean something else."""
    unknown: tuple[str, ...] = ()
    instance: int = 1


@functools.lru_cache(maxsize=4096)
def meanings(header: Header) -> tuple[Meaning, ...]:
    """All channels that the words of a header allow, the likeliest first."""
    if canonical := re.fullmatch(r"(knock_retard)_(\d{1,2})", header.text.strip()):
        return (Meaning(f"{canonical[1]}_{int(canonical[2])}", SURE),)
    if re.match(r"compressor_outlet_pressure(?![_a-z0-9])", header.text.strip()):
        return (Meaning("compressor_outlet_pressure", SURE),)
    found = [meaning for name, words in vocabulary().channels.items() if (meaning := _meaning(header, name, words))]
    standard = _by_standard(header)
    if not found and standard and not header.words:
        found = [Meaning(standard, WEAK, weak=True)]
    better = [
        replace(meaning, score=meaning.score + 0.05) if meaning.channel == standard else meaning for meaning in found
    ]
    return tuple(sorted(better, key=lambda meaning: -meaning.score))


def _meaning(header: Header, channel: str, words: ChannelWords) -> Meaning | None:
    options = []
    said = header.ideas
    for phrases, score in ((words.phrases, SURE), (words.weak, WEAK)):
        for phrase in phrases:
            if phrase <= said and _holds(header.words, phrase):
                meaning = _judged(header.words, channel, phrase | words.may, score)
                if meaning is not None:
                    options.append(replace(meaning, weak=score == WEAK))
    return max(options, key=lambda meaning: meaning.score, default=None)


def _holds(words: tuple[Word, ...], phrase: frozenset[str]) -> bool:
    """Every idea of the phrase is said, each by a word of its own."""
    left = list(words)
    for idea in sorted(phrase, key=lambda idea: sum(idea in word.ideas for word in words)):
        said = next((word for word in left if idea in word.ideas), None)
        if said is None:
            return False
        left.remove(said)
    return True


def _judged(words: tuple[Word, ...], channel: str, fitting: frozenset[str], score: float) -> Meaning | None:
    """The meaning with what the remaining words take away from it; None where they make something else of it."""
    unknown: list[str] = []
    instance, cylinder = 1, False
    for word in words:
        if word.ideas & fitting or word.ideas & _NEUTRAL:
            continue
        if "cylinder" in word.ideas and channel in ("knock_retard", "ignition_timing"):
            cylinder = True
        elif word.ideas:
            return None
        elif word.text.isdigit():
            instance = max(instance, int(word.text[:4]))
        elif len(word.text) == 1:
            # Letters count sensors; SAE J1979 calls the first pedal track D.
            instance = max(instance, {"a": 1, "d": 1}.get(word.text, 2))
        else:
            unknown.append(word.text)
    if cylinder and channel == "ignition_timing":
        # The standard defines the advance as that of cylinder 1; any other cylinder is not the engine's.
        return Meaning(channel, score, unknown=tuple(unknown)) if instance == 1 else None
    if cylinder:
        return Meaning(f"{channel}_{instance}", score, unknown=tuple(unknown)) if 1 <= instance <= 16 else None
    score *= 0.7 ** len(unknown) * (0.95 if instance > 1 else 1.0)
    return Meaning(channel, score, unknown=tuple(unknown), instance=instance)


def _by_standard(header: Header) -> str | None:
    """The channel that SAE J1979 describes in just these words, or whose number stands before the name."""
    said = plain_text(re.sub(r"[\[(].*", "", header.text)).strip()
    for parameter in vocabulary().parameters:
        if said == parameter.described or (header.pid == parameter.pid and not parameter.first):
            return parameter.channel
    return None
