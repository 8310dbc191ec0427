"""Builds that many tests read, made once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

import rootgap

ROOT = Path(__file__).parent.parent

settings.register_profile(
    "small", max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile(
    "sweep", max_examples=1000, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--sweep", action="store_true", help="run property sweeps in full")


def pytest_configure(config: pytest.Config) -> None:
    settings.load_profile("sweep" if config.getoption("--sweep") else "small")


@pytest.fixture(scope="session")
def demo() -> Path:
    """The demo's parameter file."""
    return ROOT / "assemblies" / "sand-rail-four.toml"


@pytest.fixture(scope="session")
def manifold(demo: Path) -> rootgap.Manifold:
    """The demo, loaded."""
    return rootgap.load(demo)


@pytest.fixture
def loaded(tmp_path: Path) -> Callable[[str], rootgap.Manifold]:
    """Load a manifold from the text of a parameter file in a folder of its own."""

    def load(text: str) -> rootgap.Manifold:
        file = tmp_path / "t.toml"
        file.write_text(text, encoding="utf-8")
        return rootgap.load(file)

    return load


@pytest.fixture(scope="session")
def built(manifold: rootgap.Manifold, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a whole build of the demo."""
    return manifold.build(tmp_path_factory.mktemp("built")).folder
