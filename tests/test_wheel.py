"""The wheel carries what an installed rootgap needs to find."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

ROOT = Path(__file__).parent.parent


def test_the_wheel_carries_the_data(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = tmp_path.glob("*.whl")
    names = set(zipfile.ZipFile(wheel).namelist())
    starters = [path for kind in ("parts", "assemblies") for path in (ROOT / kind).rglob("*") if path.is_file()]
    own = [path for path in (ROOT / "rootgap").rglob("*") if path.suffix in {".py", ".toml", ".json"}]
    wanted = {f"rootgap/{path.relative_to(ROOT)}" for path in starters} | {str(path.relative_to(ROOT)) for path in own}
    assert wanted <= names
    assert not any(name.startswith(("tests/", "out/")) for name in names)
