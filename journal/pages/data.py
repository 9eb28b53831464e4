"""Data files that lie beside the modules of this package."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml


@lru_cache(maxsize=8)
def read_data(name: str) -> Any:
    """The content of a YAML file of this package, every scalar as text."""
    loader = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
    return yaml.load(Path(__file__).with_name(name).read_bytes(), loader)
