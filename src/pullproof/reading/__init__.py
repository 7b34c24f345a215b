"""From a file to named traces with units, a clock, and every doubt on record."""

from pullproof.reading.log import Column, Log
from pullproof.reading.reader import read_log
from pullproof.reading.updates import new_sample_mask

__all__ = ["Column", "Log", "new_sample_mask", "read_log"]
