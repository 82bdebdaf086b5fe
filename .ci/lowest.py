"""The lowest versions of the runtime dependencies that pyproject.toml allows, for pip."""

import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
# what another system alone needs has no lowest version
print(*(one.replace(">=", "==") for one in project["dependencies"] if ";" not in one))
