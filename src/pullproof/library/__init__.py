"""The folder that remembers: cars, changes, test days, logs and decisions; samples and originals beside them.

In reading order: `schema` is what is kept; `opening` opens it; `catalogue` finds and changes it; `files` and
`samples` hold what is too big for a table; `importing` fills it; `readings` gives back what the analyses take;
`checking` and `backup` look after it.
"""

from pullproof.library.opening import Library, default_folder, open_library

__all__ = ["Library", "default_folder", "open_library"]
