import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_data_flows_one_way() -> None:
    """The import contracts of pyproject.toml hold: no floor knows what stands above it."""
    result = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stdout + result.stderr
