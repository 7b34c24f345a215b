"""The trial ground stands beside the package and is not installed: put the repository root on the path."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
