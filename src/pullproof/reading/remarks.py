"""What there is to say of a log as a whole, once its columns have been given out."""

from collections.abc import Sequence

from pullproof.reading.agreement import moves_as_one
from pullproof.reading.candidates import Candidate, Looked
from pullproof.reading.cross_checks import canonical_samples

__all__ = ["notes_on"]


def notes_on(taken: Sequence[Candidate], looked: Sequence[Looked]) -> list[str]:
    """Notes: what is missing, what is implausible, what was taken for granted.

    Parameters
    ----------
    taken : sequence
        The candidates that were chosen.
    looked : sequence
        All columns, in the order of the file.
    """
    found = {candidate.channel: canonical_samples(candidate, looked) for candidate in taken}
    notes = []
    if "engine_speed" not in found:
        notes.append("No engine speed was recognised: pulls cannot be found in this log.")
    if sentence := moves_as_one(found):
        notes.append(sentence[0].upper() + sentence[1:])
    wild = [candidate.channel for candidate in taken if any("implausible" in doubt for doubt in candidate.doubts)]
    if len(wild) >= 3 and len(wild) >= 0.3 * len(taken):
        notes.append(
            f"{len(wild)} of {len(taken)} channels hold implausible values ({', '.join(wild)}): no real driving."
        )
    referred = [candidate for candidate in taken if candidate.gauge_kpa is not None]
    if referred and "ambient_pressure" not in found:
        names = " and ".join(candidate.channel for candidate in referred)
        notes.append(
            f"Gauge pressure without an ambient pressure in the log ({names}): 101.325 kPa was added, "
            "so boost is as logged and absolute pressure is off by what the air differed from that."
        )
    return notes
