"""Write the golden texts anew; look at the diff before committing it."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent.parent))

from tests.golden.pages import PAGES  # noqa: E402

for name, make in PAGES.items():
    (HERE / name).write_text(make(), encoding="utf-8")
