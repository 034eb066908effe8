#!/usr/bin/env python3
"""Print the lowest version that pyproject.toml allows of each package the program itself needs, as pip constraints."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
for wanted in (*project["dependencies"], *project["optional-dependencies"]["trace"]):
    print(re.sub(r">=", "==", wanted))
